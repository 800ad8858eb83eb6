"""What ``assess`` and ``run`` add on request: a measurement, tolerances, what cools a load."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from solver.commands.options import Amount
from solver.commands.printing import run_record

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from geometries.shapes.part import Guide
    from solver.judgement.assessment import Assessment
    from solver.measured.touchstone_file import Measurement
    from solver.progress import Progress
    from solver.reports.run_record import RunRecord
    from solver.studies.band import Band
    from solver.studies.study import Study
    from solver.waves.scattering import ScatteringMatrix

_OPTIONS = (
    click.option(
        "--measured",
        "file",
        type=click.Path(path_type=Path),
        metavar="FILE.s2p",
        help="Touchstone file of the measured part, to judge beside the computed one.",
    ),
    click.option(
        "--planes",
        type=click.Choice(["fitted", "given"]),
        help="Whether the measured reference planes may lie elsewhere than the study's; by default "
        "fitted.",
    ),
    click.option(
        "--uncertainty",
        type=Amount(0, 1),
        help="Of every measured S-parameter, noise included; by default the file's noise.",
    ),
    click.option(
        "--end",
        type=click.Choice(["matched", "short"]),
        help="What port 2 ended in when a part with two ports was measured at one; by default "
        "matched.",
    ),
)


def measured_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that go with a measurement to a command."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@dataclass
class Supplements:
    """What is added to an answer, in each form that a command gives.

    Parameters
    ----------
    result : dict
        More keys of the JSON result.
    texts : list of str
        More paragraphs on the terminal.
    files : dict of str to callable
        Gives the content of more files of the folder, by name.
    """

    result: dict[str, Any] = field(default_factory=dict)
    texts: list[str] = field(default_factory=list)
    files: dict[str, Callable[[], str]] = field(default_factory=dict)

    def contents(self) -> dict[str, bytes]:
        """Return the content of the files."""
        return {name: text().encode("utf-8") for name, text in self.files.items()}


@dataclass(frozen=True)
class MeasuredRequest:
    """What the options about a measurement ask for.

    Parameters
    ----------
    file : Path or None
    planes, uncertainty, end
        As those of `solver.measured.comparison.compare`; None where nothing is said.

    Raises
    ------
    UsageError
        For any of these without a file.
    """

    file: Path | None
    planes: Any = None
    uncertainty: float | None = None
    end: Any = None

    def __post_init__(self) -> None:
        for name in ("planes", "uncertainty", "end"):
            if self.file is None and getattr(self, name) is not None:
                raise click.UsageError(f"--{name}: goes with --measured FILE; add it")

    def read(self, band: Band, guides: Sequence[Guide]) -> Measurement | None:
        """Return the measured points within a band, before anything is computed.

        Parameters
        ----------
        band : Band
        guides : sequence of RectangularGuide or CircularGuide
            At each port of the part, or of the run.

        Raises
        ------
        StudyError
        """
        if self.file is None:
            return None
        from solver.measured.file_ports import check_ports
        from solver.measured.touchstone_file import read_touchstone

        found = read_touchstone(self.file).within(band.start, band.stop)
        check_ports(guides, found)
        return found


def frequencies_of(measurement: Measurement | None) -> NDArray[np.float64] | None:
    """Return the frequencies at which the part has to be known besides."""
    return None if measurement is None else measurement.frequency


def supplements_of(
    study: Study,
    assessment: Assessment,
    measurement: Measurement | None,
    request: MeasuredRequest,
    *,
    in_space: bool = False,
    progress: Progress | None = None,
) -> Supplements:
    """Return everything that was asked for beside the assessment.

    Raises
    ------
    StudyError
    """
    added = Supplements()
    if measurement is not None and assessment.further is not None:
        length, version = assessment.component.axis_length, assessment.provenance.version
        computed, title = assessment.further, assessment.title
        heading = (title, version, run_record(study.path))
        add_measurement(added, computed, length, heading, measurement, request)
    if study.tolerances:
        _add_tolerances(added, study, assessment, in_space, progress)
    if study.cooling is not None:
        from solver.supplements.cooling_answer import cooling_result_of, cooling_text

        added.result |= cooling_result_of(assessment, study.cooling)
        added.texts.append(cooling_text(assessment, study.cooling))
    return added


def _add_tolerances(
    added: Supplements,
    study: Study,
    assessment: Assessment,
    in_space: bool,
    progress: Progress | None,
) -> None:
    from threadpoolctl import threadpool_limits

    from solver.judgement.tolerance_box import tolerance_box
    from solver.supplements.tolerance_answer import tolerance_result_of, tolerance_text

    with threadpool_limits(1, user_api="blas"):
        box = tolerance_box(
            study.component,
            study.tolerances,
            study.band,
            assessment.over_band,
            study.limit,
            s_error=study.s_error,
            walls=study.walls,
            in_space=in_space,
            progress=progress,
        )
    added.result |= tolerance_result_of(box)
    added.texts.append(tolerance_text(box))

    def page() -> str:
        from solver.output.wording import part_text
        from solver.supplements.tolerance_page import tolerance_html

        version = assessment.provenance.version
        part, record = part_text(study.component), run_record(study.path)
        return tolerance_html(box, assessment.title, part, version, record)

    added.files["tolerances.html"] = page


def add_measurement(
    added: Supplements,
    computed: ScatteringMatrix,
    axis_length: float,
    heading: tuple[str, str, RunRecord],
    measurement: Measurement,
    request: MeasuredRequest,
) -> None:
    """Add what a measurement says of a part, or of a run.

    Parameters
    ----------
    added : Supplements
    computed : ScatteringMatrix
        At the measured frequencies.
    axis_length : float
        [m]
    heading : (str, str, RunRecord)
        Title, version, and how it came about, for the page.
    measurement : Measurement
    request : MeasuredRequest

    Raises
    ------
    StudyError
    """
    from solver.measured.comparison import compare
    from solver.supplements.measurement_answer import measurement_result_of, measurement_text

    compared = compare(
        computed,
        measurement,
        axis_length=axis_length,
        planes=request.planes or "fitted",
        uncertainty=request.uncertainty,
        end=request.end or "matched",
    )

    def page() -> str:
        from solver.supplements.measurement_page import measurement_html

        return measurement_html(compared, *heading)

    added.result["measurement"] = measurement_result_of(compared)
    added.texts.append(measurement_text(compared))
    added.files["measurement.html"] = page
