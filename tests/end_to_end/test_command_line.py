"""The command as other programs and people meet it."""

import csv
import io
import json
import math
import re
import signal
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

import geometries
import solver
from geometries.shapes.guides import standard_guide
from solver.commands.command_line import commands, main
from solver.searches.gradual import GradualResult
from solver.studies.band import Band
from solver.studies.limits import Limit

ROOT = Path(__file__).parents[2]
STUDY = """
title = "riser [bold]head[/bold]"
guide = "WR-90"
component = {{ kind = "bend", plane = "E", angle_deg = 37.0, mean_radius_mm = 45.0 }}
band = {{ from_ghz = 8.2, to_ghz = 12.4, points = 21 }}
limit = {{ vswr = {vswr} }}
accuracy = {{ s_error = {s_error} }}
"""


def write_study(folder, vswr=1.05, s_error=1e-4):
    path = folder / "riser.toml"
    path.write_text(STUDY.format(vswr=vswr, s_error=s_error), encoding="utf-8")
    return str(path)


def process(*arguments, **options):
    return subprocess.run(
        [sys.executable, "-m", "solver", *arguments],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
        **options,
    )


def test_version_says_where_both_packages_came_from(capsys):
    assert main(["--version"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("guideproof ")
    assert str(Path(solver.__file__).parent) in out
    assert Path(solver.__file__).parents[1] == Path(geometries.__file__).parents[1]


def test_help_names_the_exit_codes(capsys):
    assert main(["--help"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "2 the input cannot be used" in text
    assert main([]) == 0


@pytest.mark.parametrize("verb", sorted(commands.commands))
def test_the_help_of_each_verb_has_a_worked_line(verb, capsys):
    assert main([verb, "--help"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert re.search(rf"Examples?: guideproof {verb} \S", text)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["frobnicate"], "frobnicate"),
        (["assess"], "STUDY"),
        (["assess", "a.toml", "--colour"], "--colour"),
        (["guides", "WR-91"], "nearest"),
        (["modes", "--guide", "WR-91"], "nearest"),
        (["modes", "--guide", "5x9"], "the broad side comes first"),
        (["modes", "--guide", "WR-90", "--up-to-ghz", "1e5"], "at most"),
        (["gradual", "--guide", "WR-90", "--to-ghz", "12"], "--from-ghz"),
        (["gradual", "--guide", "WR-90", "--from-ghz", "8", "--to-ghz", "12"], "no limit"),
        (["gradual", "--guide", "WR-90", "--from-ghz", "x", "--to-ghz", "12"], "not a number"),
        (["gradual", "--guide", "WR-90", "--from-ghz", "nan", "--to-ghz", "12"], "above 0"),
        (["gradual", "--guide", "WR-90", "--from-ghz", "9", "--to-ghz", "8", "--vswr", "2"], "9"),
        (
            ["gradual", "--guide", "WR-90", "--from-ghz", "5", "--to-ghz", "8", "--vswr", "2"],
            "6.55",
        ),
        (["gradual", "--guide", "WR-90", "--from-ghz", "8", "--to-ghz", "9", "--vswr", "1"], "1"),
        (["gradual", "--plane", "X"], "X"),
        (["gradual", "--guide", "22,86x10,16"], "22.86x10.16"),
        (["gradual", "--guide", "WR-90", "--from-ghz", "8,2"], "decimal point: 8.2"),
        (
            ["gradual", "--guide", "0.9x0.4", "--from-ghz", "8", "--to-ghz", "9", "--vswr", "2"],
            "read as millimetres",
        ),
        (
            [
                "gradual",
                "--guide",
                "WR-90",
                "--from-ghz",
                "8",
                "--to-ghz",
                "9",
                "--vswr",
                "2",
                "--angle-deg",
                "200",
            ],
            "from 1 to 180 degrees",
        ),
        (["gradual", "--guide", "WR-90", "--permittivity", "4"], "--permittivity: a bend has none"),
        (["gradual", "--guide", "WR-90", "--kind", "twist", "--plane", "E"], "a twist has none"),
        (["gradual", "--guide", "WR-90", "--kind", "horn"], "--aperture-width-mm"),
        (["assess", "a.toml", "--end", "short"], "goes with --measured"),
        (["gradual", "--guide", "27", "--from-ghz", "8", "--to-ghz", "9", "--vswr", "2"], "WR-90"),
    ],
)
def test_unusable_options_give_one_line_and_exit_2(arguments, word, capsys):
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert word in err


def test_catalogue_and_modes(capsys):
    assert main(["guides", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["guides"]
    assert len(listed) > 25
    assert main(["guides", "R100"]) == 0
    # EIA RS-261-B: 0.900 in by 0.400 in, 8.2 to 12.4 GHz; c/2a is 6.557 GHz.
    out = capsys.readouterr().out
    assert "22.86 mm by 10.16 mm" in out
    assert "6.55714 GHz" in out
    assert main(["guides"]) == 0
    assert "WR-284" in capsys.readouterr().out
    assert main(["guides", "22.86x10.16"]) == 0
    assert "WG16" in capsys.readouterr().out
    assert main(["guides", "0.8x0.3in"]) == 0
    out = capsys.readouterr().out
    # c/2a of a guide 0.8 in wide
    assert "0.8 in by 0.3 in" in out
    assert "7.37678 GHz" in out
    assert main(["guides", "27", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["guides"][0]["diameter_mm"] == 27.0
    assert main(["modes", "--guide", "WR-90", "--up-to-ghz", "15", "--json"]) == 0
    modes = json.loads(capsys.readouterr().out)["modes"]
    assert [mode["mode"] for mode in modes] == ["TE10", "TE20", "TE01"]
    assert modes[1]["cutoff_hz"] == pytest.approx(299792458 / 0.02286, rel=1e-12)
    assert main(["modes", "--guide", "27.0"]) == 0
    assert "TM01" in capsys.readouterr().out


@pytest.mark.slow
@pytest.mark.parametrize(("vswr", "code", "outcome"), [(1.05, 0, "meets"), (1.0001, 1, "exceeds")])
def test_json_stands_alone_and_the_exit_code_follows(tmp_path, vswr, code, outcome):
    run = process("assess", write_study(tmp_path, vswr), "--json")
    assert run.returncode == code
    # A slow machine may see progress, but on standard error only.
    assert all(line.startswith("guideproof: ") for line in run.stderr.splitlines())
    result = json.loads(run.stdout)
    assert result["verdict"]["outcome"] == outcome
    assert result["port_modes"] == [{"port": port, "mode": "TE10"} for port in (1, 2)]
    s = np.array(result["s_re"]) + 1j * np.array(result["s_im"])
    assert s.shape == (21, 2, 2)
    np.testing.assert_allclose(s, s.transpose(0, 2, 1), atol=2e-4)
    assert max(result["s_error"]) <= 1e-4


@pytest.mark.slow
def test_all_result_files_are_written_and_listed(tmp_path, capsys):
    folder = tmp_path / "out"
    assert main(["assess", write_study(tmp_path), "-o", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "MEETS THE LIMIT" in out
    assert "riser [bold]head[/bold]" in out
    names = {path.name for path in folder.iterdir()}
    figures = {"part.svg", "vswr.svg", "reflection.svg", "transmission.svg"}
    files = {"result.json", "scattering.s2p", "field.vtu", "report.html", "table.csv"}
    assert names == files | figures
    assert all(name in out for name in names)


@pytest.mark.slow
def test_reference_values_as_a_table(tmp_path, capsys):
    path = write_study(tmp_path)
    assert main(["reference", path]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert len(rows) == 21
    first = {name: float(value) for name, value in rows[0].items()}
    s11 = complex(first["s11_re"], first["s11_im"])
    assert abs(s11) == pytest.approx(first["s11_abs"], rel=1e-9)
    straight = 2 * math.pi * math.sqrt((8.2e9 / 299792458) ** 2 - (1 / 0.04572) ** 2)
    assert first["phase_constant_straight_rad_per_m"] == pytest.approx(straight, rel=1e-9)
    curved = first["phase_constant_curved_exact_rad_per_m"]
    assert curved == pytest.approx(first["phase_constant_curved_order_r2_rad_per_m"], rel=1e-4)
    assert curved != pytest.approx(straight, rel=1e-6)
    assert main(["reference", path, "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["columns"]["s_error"]) == 21


def fake_module(monkeypatch, name, **functions):
    module = ModuleType(name)
    for key, function in functions.items():
        setattr(module, key, function)
    monkeypatch.setitem(sys.modules, name, module)


def raising(error):
    def fail(*_, **__):
        raise error

    return fail


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (RuntimeError("odd\nthing"), 70, "a fault in guideproof"),
        (KeyboardInterrupt(), 130, "interrupted"),
        (MemoryError(), 2, "more memory"),
        (BrokenPipeError(), 141, None),
    ],
)
def test_no_failure_shows_a_traceback(tmp_path, monkeypatch, capfd, error, code, words):
    if code == 141:
        monkeypatch.setattr("os.dup2", lambda *_: None)
    fake_module(monkeypatch, "solver.judgement.assess_part", assessed=raising(error))
    assert main(["assess", write_study(tmp_path), "-o", str(tmp_path / "out")]) == code
    out, err = capfd.readouterr()
    assert out == ""
    # After an interrupt, a line break parts the terminal's own ^C from the message.
    assert len(err.strip().splitlines()) == (1 if words else 0)
    assert words is None or words in err
    assert not (tmp_path / "out").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT for other processes")
def test_an_interrupt_ends_it_with_one_line(tmp_path):
    path = write_study(tmp_path)
    # Stands for a long computation, in a process of its own that can be interrupted.
    code = """
import sys, time, types
from solver.commands.command_line import commands, main
module = types.ModuleType("solver.judgement.assess_part")
module.assessed = lambda *_, **__: (print("busy", flush=True), time.sleep(60))
sys.modules["solver.judgement.assess_part"] = module
sys.exit(main(sys.argv[1:]))
"""
    run = subprocess.Popen(
        [sys.executable, "-c", code, "assess", path, "-o", str(tmp_path / "out")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert run.stdout.readline() == "busy\n"
    run.send_signal(signal.SIGINT)
    _, err = run.communicate(timeout=20)
    assert run.returncode == 130
    assert err.strip().count("\n") == 0
    assert "guideproof: interrupted; nothing was written of riser.toml; a verdict" in err
    assert not (tmp_path / "out").exists()


def made_up_search(smallest=0.041):
    sizes = np.linspace(0.01, 0.08, 8)
    return GradualResult(
        kind="bend",
        guide=standard_guide("WR-90"),
        plane="E",
        angle=math.pi / 2,
        band=Band(8.2e9, 12.4e9),
        limit=Limit(vswr=1.05),
        smallest=smallest,
        first_met=0.021,
        uncertainty=None if smallest is None else 5e-5,
        first_met_uncertainty=2e-5,
        sizes=sizes,
        worst_s11=0.001 / sizes,
        worst_s11_error=np.full(8, 1e-6),
        estimated_s11=0.0011 / sizes,
        rules=(),
        reasons=("made up",),
    )


@pytest.mark.parametrize(("smallest", "code"), [(0.041, 0), (None, 3)])
def test_gradual_prints_and_writes_what_was_found(tmp_path, monkeypatch, capsys, smallest, code):
    seen = {}

    def search(*arguments, **options):
        seen["arguments"], seen["options"] = arguments, options
        return made_up_search(smallest)

    monkeypatch.setattr("solver.searches.gradual.gradual", search)
    options = ["gradual", "--guide", "WR-90", "--from-ghz", "8.2", "--to-ghz", "12.4"]
    options += ["--vswr", "1.05"]
    folder = tmp_path / "out"
    assert main([*options, "--json", "-o", str(folder)]) == code
    result = json.loads(capsys.readouterr().out)
    assert result["smallest_mm"] == (None if smallest is None else 41.0)
    assert result["uncertainty_mm"] == (None if smallest is None else 0.05)
    assert result["first_met_mm"] == 21.0
    assert result["worst_s11"][0] == [10.0, pytest.approx(0.1)]
    assert json.loads((folder / "result.json").read_text()) == result
    html = (folder / "report.html").read_text()
    assert "Never look into an open guide" in html
    assert "http://" not in html
    assert "guideproof gradual --guide WR-90" in html
    assert main(options) == code
    out = capsys.readouterr().out
    assert ("41 mm" if smallest else "No mean radius was found") in out
    part, band, limit = seen["arguments"]
    assert (part.kind, part.guide, part.plane) == ("bend", standard_guide("WR-90"), "E")
    assert part.angle == pytest.approx(math.pi / 2)
    assert (band.start, band.stop, limit) == (8.2e9, 12.4e9, Limit(vswr=1.05))


def test_gradual_reads_a_study_and_options_count_more(tmp_path, monkeypatch, capsys):
    seen = []

    def search(*arguments, **options):
        seen.append((*arguments, options["s_error"]))
        return made_up_search()

    monkeypatch.setattr("solver.searches.gradual.gradual", search)
    path = write_study(tmp_path)
    assert main(["gradual", path]) == 0
    assert main(["gradual", path, "--vswr", "1.1", "--to-ghz", "11", "--s-error", "1e-3"]) == 0
    (part, band, limit, s_error), (same, narrower, looser, coarser) = seen
    assert math.degrees(part.angle) == pytest.approx(37.0)
    assert (band.start, band.stop, band.points, limit) == (8.2e9, 12.4e9, 21, Limit(vswr=1.05))
    assert (same, looser, s_error, coarser) == (part, Limit(vswr=1.1), 1e-4, 1e-3)
    assert (narrower.start, narrower.stop, narrower.points) == (8.2e9, 11e9, 21)
    capsys.readouterr()
    assert main(["gradual", path, "--plane", "H"]) == 2
    assert "the study says what part it is" in capsys.readouterr().err
    corner = ROOT / "geometries" / "studies" / "corner_cut.toml"
    assert main(["gradual", str(corner)]) == 2
    assert "only bends, twists, tapers, loads and horns" in capsys.readouterr().err


def test_start_up_loads_no_heavy_library():
    heavy = {"matplotlib", "gmsh", "skrf", "jinja2", "meshio", "rich", "skfem", "scipy.optimize"}
    loaded = "import sys, solver.commands.command_line, solver.studies.study"
    code = f"{loaded}; print({heavy} & set(sys.modules))"
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, check=False, capture_output=True, text=True
    )
    assert run.stdout.strip() == "set()"


def test_a_closed_pipe_is_no_fault():
    run = subprocess.run(
        f"{sys.executable} -m solver guides --json | head -c 1",
        shell=True,
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert run.stdout == "{"
    assert run.stderr == ""
