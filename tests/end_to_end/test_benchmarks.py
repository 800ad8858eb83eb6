"""Each benchmark runs on a small setting, away from its results, and both its sides agree."""

import importlib
import json
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

FOLDER = Path(__file__).parents[2] / "benchmarks"

pytestmark = pytest.mark.slow


@pytest.fixture
def run(monkeypatch, tmp_path):
    """Run a benchmark's main; give its file and its figures."""
    monkeypatch.syspath_prepend(str(FOLDER))
    before = sorted((FOLDER / "results").iterdir())

    def run(name, **setting):
        module = importlib.import_module(name)
        path = module.main(**setting, folder=tmp_path / "results")
        assert path.parent == tmp_path / "results"
        entry = json.loads(path.read_text())
        assert entry["benchmark"] == name
        assert entry["versions"]["numpy"]
        return path, entry["figures"]

    yield run
    assert sorted((FOLDER / "results").iterdir()) == before


def test_band_in_a_plane(run):
    _, figures = run("speed_plane_band", points=5, runs=1)
    for plane in "EH":
        # SciPy's solver at each frequency is the independent side
        assert figures[plane]["largest_difference_of_s"] < 1e-8
        assert figures[plane]["ratio"] > 0
    assert figures["assess_process_s"] > 0


def test_horns(run):
    name = "conical, TM01, 2 wavelengths"
    _, figures = run("speed_horns", names=(name,), points=3)
    assert figures[name]["error"] <= figures[name]["wanted_error"]
    assert figures[name]["power_that_is_missing"] < 1e-9


def test_cost_of_the_whole_band(run):
    name = "H bend that traps TE20"
    _, figures = run("cost_whole_band", points=21, runs=1, names=(name,))
    assert figures[name]["resonances"] == 1
    assert figures[name]["frequencies"] > 21
    assert figures[name]["ratio"] > 1


def test_bars_and_errors(run):
    name = "E bend, in its plane"
    _, figures = run("bar_over_error", names=(name,), most=2, points=3)
    assert figures[name]["least"] > 1
    assert all(row["doubt"] < row["bar"] for row in figures[name]["rows"])


def test_commands(run):
    name = "assess, E bend"
    _, figures = run("speed_commands", names=(name,), runs=1)
    assert figures[name]["elapsed_s"] > 0
    assert figures[name]["met"] == (figures[name]["elapsed_s"] < figures[name]["wanted_s"])


def test_maps(run):
    one_size = {"gaps": (0.2, 0.3), "depths": (8.2, 8.2)}
    _, figures = run("speed_maps", **one_size, points=5, s_error=1e-2, answered=2, alone=1)
    # two answers for one joint differ by no more than both bars
    assert figures["apart_in_bars"] < 1
    assert figures["ratio"] > 1


def test_parts_in_space(run):
    pytest.importorskip("ngsolve")
    name = "E-plane bend"
    setting = {"points": 3, "subset": 2, "names": (name,), "threads": (1,), "runs": 1, "most": 1}
    _, figures = run("speed_space_parts", **setting)
    assert figures[name]["reference_bar"] < 1e-7
    [row] = figures[name]["runs"]
    # the plane solver is the reference of them all
    sides = ("ours_with_bar", "ours_once", "ngsolve", "ngsolve_sweep", "ngsolve_sweep_with_bar")
    for side in sides:
        assert row[side]["error"] < 1e-4
    assert row["ours_with_bar"]["error"] < row["ours_with_bar"]["bar"] < 1e-4
    # each factorisation of NGSolve's is repeated at every point
    other = row["ngsolve"]
    whole = other["set_up_process_s"] + 3 * other["each_process_s"]
    assert row["ratio_once"] == pytest.approx(whole / row["ours_once"]["process_s"])
    # a sweep has as many factorisations on both sides, and less to do than point by point
    swept = row["ngsolve_sweep"]
    assert swept["factorisations"] == row["ours_once"]["factorisations"]
    assert swept["process_s"] == swept["set_up_process_s"] + swept["sweep_process_s"]
    assert row["sweep_ratio_once"] == swept["process_s"] / row["ours_once"]["process_s"]
    assert row["ngsolve_sweep_with_bar"]["bar"] < 1e-4


def test_a_sweep_of_ngsolve_is_its_answer_at_each_point(monkeypatch):
    pytest.importorskip("ngsolve")
    monkeypatch.syspath_prepend(str(FOLDER))
    speed, parts, sweep = (
        importlib.import_module(name)
        for name in ("speed_space_parts", "ngsolve_parts", "ngsolve_sweep")
    )
    part, frequency = speed.PARTS["twist"], np.linspace(8.2e9, 12.4e9, 5)
    problem = speed.space_problem(part, frequency, 1e-4)
    choice = speed.Discretisation((1, 1, 1, 3), 3)
    swept = sweep.solve_band(part, problem, choice, 3)
    points = parts.solve_points(part, problem, np.arange(5), choice)
    np.testing.assert_allclose(
        parts.dominant(problem, swept.s), parts.dominant(problem, points.s), atol=1e-8
    )


def unknowns(nx, ny, nz, p):
    """Unknowns off the walls on nx by ny by nz cells: each component has p lines a cell along
    itself, and p a cell and one more across, less the two on walls; the ends are open."""
    x, y, z = p * nx, p * ny, p * nz
    return x * (y - 1) * (z + 1) + (x - 1) * y * (z + 1) + (x - 1) * (y - 1) * z


def test_size_and_growth(run):
    setting = {"points": 3, "order": 2, "fineness": (2.0, 4.0), "names": ("bend",), "runs": 1}
    path, figures = run("size_and_growth", **setting)
    small, large = figures["bend"]["sizes"]
    assert small["unknowns"] == unknowns(2, 1, small["cells"] // 2, 2)
    assert large["unknowns"] == unknowns(4, 2, large["cells"] // 8, 2)
    assert 0 < small["memory_gb"] < 1
    assert set(figures["bend"]["exponent"]) == {"process_s", "memory_gb"}
    assert ElementTree.parse(path.with_suffix(".svg")).getroot().tag.endswith("svg")


def test_exponent_is_that_of_a_power(monkeypatch):
    monkeypatch.syspath_prepend(str(FOLDER))
    growth = importlib.import_module("size_and_growth").growth
    rows = [{"unknowns": n, "seconds": 1e-6 * n**1.5} for n in (500, 30_000, 60_000, 200_000)]
    rows[0]["seconds"] = 1.0  # small sizes do not count
    assert growth(rows, "seconds") == pytest.approx(1.5)


def test_assembly(run):
    _, figures = run("speed_assembly", size=1, highest=1, runs=1)
    assert {name.split(",")[0] for name in figures} == {
        "bend in its plane",
        "corner in its plane",
        "straight tetrahedra",
        "bent tetrahedra",
        "hexahedra of a twist",
    }
    for row in figures.values():
        assert row["largest_difference"] < 1e-12
        assert row["ratio"] == row["scikit_fem_s"] / row["ours_s"]


def test_worker_pools(run):
    _, figures = run("worker_pools", points=2, runs=1, names=("worker_pool",))
    row = figures["worker_pool"]
    # seven of eight points outlive the one that kills its process, which is not tried again
    assert row["killed"] | {"seconds": 0} == {
        "back": 7,
        "lost": 1,
        "tries": 1,
        "seconds": 0,
        "fault": "",
    }
    assert row["interrupt"]["ended"]
    assert row["interrupt"]["orphans"] == 0
    assert 0 < row["worker_gb"] < 1


def test_rows_of_convolutions(run):
    setting = {"counts": (2,), "largest_whole": 2, "s_error": 2e-2, "assessed": 2, "points": 5}
    _, figures = run("speed_flexible_rows", **setting)
    assert figures["2"]["largest_difference_of_s"] < 1e-4
    assert figures["2"]["ratio"] > 0


def test_runs_of_many_parts(run):
    _, figures = run("speed_runs", count=3, points=5)
    assert figures["kept_s"] < figures["fresh_s"]
    assert figures["fresh_bar"] == figures["kept_bar"] < 1e-4


def test_studies_at_scale(run):
    pytest.importorskip("distributed")
    _, figures = run("speed_studies", size=3, small=3, points=20, many=40)
    assert figures["chart"]["bends"] == 9 and figures["chart"]["seconds"] > 0
    one, two = (figures["small_chart"][name]["seconds"] for name in ("one", "two"))
    assert figures["efficiency"] == one / (2 * two)
    assert figures["dask"]["points"] == 40
    assert 0 < figures["own_pool_each_s"] < 1 and 0 < figures["dask"]["each_s"] < 1
    assert figures["dask"]["grown_gb"] < 0.5
