"""Runs as points of a grid: which parts are solved, where they are kept."""

from pathlib import Path

import numpy as np
import pytest

from solver.errors import StudyError
from solver.runs import part_task, run_curves
from solver.runs import solve_parts as solving
from solver.runs.part_store import PartStore
from solver.runs.run_curves import RunCurves, computing, solve_all_parts
from solver.runs.run_parts import run
from solver.searches.part_curves import curves_of
from solver.studies.run_study import run_of

PATH = Path("run.toml")


def _study(radius=20.0, length=50.0):
    bend = {"kind": "bend", "plane": "E", "angle_deg": 40.0, "mean_radius_mm": radius}
    return run_of(
        {
            "guide": "WR-90",
            "band": {"from_ghz": 9.0, "to_ghz": 9.5, "points": 3},
            "accuracy": {"s_error": 1e-3},
            "end": {"vswr": 1.1},
            "part": [bend, {"kind": "straight", "length_mm": length}, bend],
        },
        PATH,
    )


@pytest.fixture
def solved(monkeypatch):
    """Mean radii of the parts that are solved; one of 25 mm cannot be."""
    radii = []

    def compute(task, report=None):
        radii.append(round(1e3 * task.component.mean_radius, 6))
        if radii[-1] == 25.0:
            raise StudyError("no such bend")
        return part_task.compute_part(task, report)

    monkeypatch.setattr(run_curves, "compute_part", compute)
    monkeypatch.setattr(solving, "compute_part", compute)
    run_curves._own_store.cache_clear()
    yield radii
    run_curves._own_store.cache_clear()


def test_a_process_without_a_folder_solves_a_part_once(solved):
    first, second = (RunCurves(None)(_study(length=length)) for length in (50.0, 60.0))
    assert solved == [20.0]
    assert np.abs(first.s21 - second.s21).max() > 0.1


def test_curves_are_what_the_transmitter_sees(solved):
    study = _study()
    curves = RunCurves(None)(study)
    whole = run(study.parts, study.band, end_vswr=1.1, s_error=1e-3)
    assert np.abs(curves.s11 - whole.listed.s11).max() < 1e-9
    # of any phase, so a size: that of the run, and what comes back from its end
    assert np.abs(curves.s11).min() > 0.03
    assert curves.whole.frequency.size >= curves.frequency.size
    assert curves.reached


def test_parts_that_runs_share_are_kept_and_one_that_fails_is_left(solved, tmp_path):
    studies = [_study(), _study(length=60.0), _study(radius=25.0)]
    told = []
    solve_all_parts(studies, folder=tmp_path, progress=lambda text, share: told.append(text))
    assert solved == [20.0, 25.0] and told[-1] == "2 of 2 different parts"
    RunCurves(tmp_path)(studies[1])
    assert solved == [20.0, 25.0]
    with pytest.raises(StudyError, match="no such bend"):
        RunCurves(tmp_path)(studies[2])


def test_memory_gives_up_the_oldest_part(monkeypatch):
    monkeypatch.setattr(run_curves, "_MOST_IN_MEMORY", 2)
    store = run_curves._Memory()
    for name in "abc":
        store.add(name, name)
    assert [store.get(name) for name in "abc"] == [None, "b", "c"]


def test_parts_alone_are_computed_as_before_and_runs_where_they_find_their_parts(tmp_path):
    with computing({"component": {}}, None) as how:
        assert how == {"compute": curves_of}
    with computing({"part": []}, None, engine=True) as how:
        assert how == {"compute": RunCurves(None)}
    with computing({"part": []}, tmp_path) as how:
        assert how["compute"] == RunCurves(tmp_path)
    with computing({"part": []}, None) as how:
        place = how["compute"].folder
        assert place.is_dir() and not PartStore(place).kept_text
    assert not place.exists()
