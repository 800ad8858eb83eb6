"""Measured parts of a run."""

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.errors import StudyError
from solver.runs.measured_parts import measured
from solver.runs.near_parts import can_join
from solver.runs.run_parts import run
from solver.studies.band import Band
from solver.studies.run_chain import MeasuredPart, RunPart

GUIDE = standard_guide("WR-90")


def window(frequency):
    """A thin window before half a metre of line: an invented two-port."""
    turn = np.exp(-1j * 2.2e-9 * 2 * np.pi * (frequency - 8e9) / 2)
    s11 = 0.06 * np.sin(frequency / 3e8) * turn
    s21 = np.sqrt(0.98 - np.abs(s11) ** 2) * turn
    return np.array([[s11, s21], [s21, s11]]).transpose(2, 0, 1)


def written(folder, start, stop, count, s=window):
    import skrf

    frequency = np.linspace(start, stop, count)
    network = skrf.Network(f=frequency, f_unit="Hz", s=s(frequency), z0=50.0, name="window")
    network.write_touchstone("window", dir=str(folder))
    return MeasuredPart(GUIDE, folder / "window.s2p")


@pytest.mark.parametrize("count", [41, 101, 401])
def test_between_the_frequencies_the_bar_holds(count, tmp_path):
    part = measured(written(tmp_path, 8e9, 12.5e9, count), Band(8.2e9, 12.4e9, 5))
    frequency = np.linspace(8.2e9, 12.4e9, 1777)
    s, error, _ = part.at(frequency)
    off = np.abs(s - window(frequency)).reshape(len(frequency), -1).max(axis=1)
    assert (off <= error + 1e-9).all()
    assert error.max() < 30 * off.max() + 1e-6


def test_none_is_joined_with_a_neighbour_by_more_than_its_mode(tmp_path):
    window, bend = MeasuredPart(GUIDE, tmp_path / "window.s2p"), Bend(GUIDE, "E", 1.0, 0.03)
    assert can_join([bend, bend])
    assert not can_join([bend, window])
    assert not can_join([window, bend])


def test_a_run_takes_one_right_behind_a_bend(tmp_path):
    window = written(tmp_path, 8e9, 12.5e9, 101)
    parts = [RunPart(Bend(GUIDE, "E", 1.0, 0.03)), RunPart(window)]
    result = run(parts, Band(9e9, 9.2e9, 3), s_error=1e-3)
    assert [line.kind for line in result.parts] == ["bend", "measured"]
    # the window's own reflection is 0.06 at most, the bend's under 0.03: they can only add
    assert abs(result.whole.s11).max() < 0.06 + 0.03


def test_outside_its_range_nothing_is_known(tmp_path):
    part = written(tmp_path, 8.5e9, 12.5e9, 101)
    with pytest.raises(StudyError, match=r"measured from 8\.5 to 12\.5 GHz; the band"):
        measured(part, Band(8.2e9, 12.4e9, 5))


def test_an_active_part_is_refused(tmp_path):
    part = written(tmp_path, 8e9, 12.5e9, 101, lambda f: 1.3 * window(f))
    with pytest.raises(StudyError, match=r"gives back 1\.6"):
        measured(part, Band(8.2e9, 12.4e9, 5))


def test_rubbish_is_refused(tmp_path):
    path = tmp_path / "rubbish.s2p"
    path.write_text("no numbers here\n")
    with pytest.raises(StudyError, match=r"rubbish\.s2p"):
        measured(MeasuredPart(GUIDE, path), Band(8.2e9, 12.4e9, 5))
