"""The command ``guideproof``.

Exit codes: 0 the limit is met, or none was set; 1 it is exceeded; 2 the input cannot be used, with
one line on standard error; 3 undecided; 70 a fault of this program; 130 interrupted.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geometries.errors import GeometryError
from solver.commands.assess_study import assess_study
from solver.commands.assess_supplements import MeasuredRequest, measured_options
from solver.commands.audit_command import audit
from solver.commands.chart_command import chart
from solver.commands.explore_command import explore, seek
from solver.commands.gradual_command import gradual
from solver.commands.guides_command import guides
from solver.commands.options import FOLDER, GUIDE, HOWEVER_LONG, JSON, RULES, Amount
from solver.commands.printing import (
    INTERRUPTED,
    exit_code,
    print_json,
    print_paths,
    print_table,
    run_record,
    speak_lengths,
    write_folder,
)
from solver.commands.reference_command import reference
from solver.commands.run_command import run
from solver.commands.study_command import study
from solver.errors import GuideproofError

if TYPE_CHECKING:
    from geometries.shapes.guides import CircularGuide, RectangularGuide

UNUSABLE, FAULT, PIPE_CLOSED = 2, 70, 141


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; no failure shows a traceback.

    Parameters
    ----------
    arguments : sequence of str, optional
        By default those of the process.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        given = list(sys.argv[1:] if arguments is None else arguments)
        code = commands.main(given, prog_name="guideproof", standalone_mode=False, obj=given)
        sys.stdout.flush()
        return code if isinstance(code, int) else 0
    except click.ClickException as error:
        return _complain(error.format_message(), UNUSABLE)
    except (GuideproofError, GeometryError) as error:
        return _complain(str(error), UNUSABLE)
    except MemoryError:
        return _complain("the part needs more memory than there is; ask for less", UNUSABLE)
    except (KeyboardInterrupt, click.Abort) as error:
        # click turns the one into the other; what was kept is told by the first.
        kept = str(error.__cause__ or error) or "nothing was written"
        return _complain(f"interrupted; {kept}", INTERRUPTED)
    except BrokenPipeError:
        # The reader of standard output has gone; keep Python from complaining at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED
    except Exception as error:
        # The last resort of the whole program: whatever it is, the user gets one line.
        if os.environ.get("GUIDEPROOF_DEBUG"):
            raise
        text = f"a fault in guideproof, please report it: {type(error).__name__}: {error}"
        return _complain(f"{text} (GUIDEPROOF_DEBUG=1 shows where)", FAULT)


def _complain(text: str, code: int) -> int:
    from solver.studies.messages import one_line

    click.echo(f"guideproof: {one_line(' '.join(text.split()))}", err=True)
    return code


def _print_version(context: click.Context, option: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        import solver
        from solver.version import installed_version

        click.echo(f"guideproof {installed_version()} from {Path(solver.__file__).parent}")
        context.exit()


@click.group(invoke_without_command=True)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_version,
    help="Show the version and where it was loaded from.",
)
@click.pass_context
def commands(context: click.Context) -> None:
    """Check a hollow waveguide part against its limits, with an error bar.

    Exit codes: 0 the limit is met, or none was set; 1 it is exceeded; 2 the input cannot be used;
    3 undecided.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


@commands.command()
@click.argument(
    "studies", metavar="STUDY...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@FOLDER
@click.option(
    "--in-space", is_flag=True, help="Solve in three dimensions even where a plane is exact."
)
@HOWEVER_LONG
@click.option(
    "--shape",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Also write the inside of the part, .stl or .step, in mm.",
)
@measured_options
@RULES
@JSON
def assess(
    studies: tuple[Path, ...],
    folder: Path | None,
    in_space: bool,
    however_long: bool,
    shape: Path | None,
    every_rule: bool,
    as_json: bool,
    **measured: Any,
) -> int:
    """Judge the part that a STUDY file describes.

    Several studies give one table, and the exit code of the worst: 2 before 1 before 3 before 0.
    An interrupt ends with what is finished, and exit code 130.

    Example: guideproof assess riser.toml -o riser
    """
    from solver.output.output_folder import check_folder
    from solver.progress import ProgressLine

    if folder is not None:
        check_folder(folder)
    if shape is not None:
        from solver.exchange.shape_files import check_shape_path, save_shape

        check_shape_path(shape)
    request = MeasuredRequest(**measured)
    if len(studies) > 1:
        if shape is not None:
            raise click.UsageError("--shape: goes with one study; give one")
        from solver.commands.assess_many import assess_many

        return assess_many(studies, folder, in_space, however_long, request, as_json, every_rule)
    speak_lengths(studies[0])
    with ProgressLine(keeps=True) as progress:
        assessment, added = assess_study(
            studies[0],
            progress,
            in_space=in_space,
            however_long=however_long,
            request=request,
            pictured=folder is not None,
        )
    paths: Sequence[Path] = ()
    if folder is not None:
        from solver.reports.report import result_files

        files = result_files(assessment, added.result, run_record(studies[0]))
        paths = write_folder(folder, files | added.contents())
    if shape is not None:
        paths = (*paths, save_shape(assessment.component, shape))
    if as_json:
        from solver.output.result_json import result_of

        print_json(result_of(assessment) | added.result)
    else:
        from solver.output.screen import assessment_text

        click.echo("\n\n".join([assessment_text(assessment, every_rule), *added.texts]))
        print_paths(paths)
    return exit_code(assessment.verdict.exit_code, progress)


commands.add_command(gradual)
commands.add_command(explore)
commands.add_command(seek)
commands.add_command(reference)
commands.add_command(audit)
commands.add_command(chart)
commands.add_command(guides)
commands.add_command(study)
commands.add_command(run)


@commands.command()
@click.argument("study_or_guide", required=False)
@click.option("--guide", type=GUIDE, help="Size, 22.86x10.16 or 27.0 in mm.")
@click.option("--up-to-ghz", type=Amount(0), help="By default three times the first cutoff.")
@click.option("--count", type=click.IntRange(1, 40), help="Of resonances; by default 6.")
@FOLDER
@JSON
def modes(
    study_or_guide: str | None,
    guide: RectangularGuide | CircularGuide | None,
    up_to_ghz: float | None,
    count: int | None,
    folder: Path | None,
    as_json: bool,
) -> int:
    """List the modes of a guide, or the resonances of a study's part.

    Of a guide (a size such as WR-90, 22.86x10.16 or 27.0 in mm): its modes and their cutoff
    frequencies. Of a STUDY file (NAME.toml): the resonances about the middle of its band when
    electric walls close the part at its reference planes, and their Q if it has [walls].

    Examples: guideproof modes WR-90; or guideproof modes riser.toml --count 4
    """
    from solver.commands.modes_answer import cutoffs_answer, resonances_answer
    from solver.output.output_folder import check_folder
    from solver.progress import ProgressLine

    if folder is not None:
        check_folder(folder)
    if (study_or_guide is None) == (guide is None):
        raise click.UsageError("give either a study file or a guide, as WR-90")
    if study_or_guide is not None:
        path = Path(study_or_guide)
        if path.suffix.lower() == ".toml" or path.exists():
            if up_to_ghz is not None:
                raise click.UsageError("--up-to-ghz goes with a guide, not with a study")
            speak_lengths(path)
            with ProgressLine(keeps=True) as progress:
                answer = resonances_answer(path, count or 6, progress)
            print_table(answer, "modes", folder, as_json, path)
            return exit_code(0, progress)
        guide = GUIDE.convert(study_or_guide, None, None)
    if count is not None:
        raise click.UsageError("--count goes with a study, not with a guide")
    assert guide is not None
    speak_lengths()
    print_table(cutoffs_answer(guide, up_to_ghz), "modes", folder, as_json)
    return 0
