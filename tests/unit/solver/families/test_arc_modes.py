"""Bends by modes of the curved guide, against other modes of it and against elements."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.families import arc_modes
from solver.families.arc_modes import has_arc_modes, worst_by_modes
from solver.families.arc_parts import solved_arc
from solver.searches.point_store import PointStore
from solver.searches.sized_parts import KnownSizes
from solver.studies.band import Band
from solver.waves.guide_modes import cutoff_frequency
from tests.references.curved_guide_modes import bend_scattering

GUIDE = standard_guide("WR-90")
ENDS = (8.2e9, 12.4e9)


def bend(plane, degrees, inner, guide=GUIDE):
    """A bend whose inner radius is so many of its widths."""
    width = guide.narrow_height if plane == "E" else guide.broad_width
    return Bend(guide, plane, math.radians(degrees), (0.5 + inner) * width)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize(("degrees", "inner"), [(90.0, 0.25), (30.0, 1.5), (180.0, 3.0)])
def test_scattering_is_that_of_polynomials_across_the_guide(plane, degrees, inner):
    part, frequency = bend(plane, degrees, inner), np.array([8.2e9, 9.3e9, 12.4e9])
    solved = solved_arc(part, frequency, 1e-6)
    for s, error, f in zip(solved.s, solved.error, frequency, strict=True):
        expected = bend_scattering(
            plane, part.width_in_plane, GUIDE.broad_width, part.mean_radius, part.angle, f
        )
        # the reference falls as a high power of its 80 polynomials
        assert np.abs(s[:, 0] - expected).max() <= error + 3e-7
        assert error <= 1e-6
        assert np.array_equal(s, s.T)


@pytest.mark.parametrize(
    ("plane", "degrees", "inner", "name"),
    [
        ("E", 90.0, 0.02, "WR-90"),
        ("H", 90.0, 0.05, "WR-90"),
        ("H", 5.0, 0.6, "WR-90"),
        ("E", 180.0, 0.6, "WR-28"),
        ("H", 180.0, 1.6, "WR-28"),
    ],
)
def test_worst_reflection_is_within_its_bar_of_the_elements(plane, degrees, inner, name):
    guide = standard_guide(name)
    cutoff = cutoff_frequency(guide)
    # eight frequencies: the worst lies between them
    band = Band(1.2 * cutoff, 1.9 * cutoff, 8)
    part = bend(plane, degrees, inner, guide)
    worst, bar = worst_by_modes(part, (band.start, band.stop), 1e-6)
    solved, other = KnownSizes(band, None, PointStore(None)).worst(part, 1e-6)
    # a search between points leaves 1e-6 of the height of a peak
    assert abs(worst - solved) <= bar + other + 2e-6 * solved
    assert bar <= 1e-6


def test_the_bar_holds_where_elements_of_low_degree_fail(monkeypatch):
    part = bend("H", 90.0, 0.05)
    exact, close = worst_by_modes(part, ENDS, 1e-7)
    assert close < 1e-7
    for degrees in ((1, 3), (2, 4), (3, 5)):
        monkeypatch.setattr(arc_modes, "_DEGREES", degrees)
        worst, bar = worst_by_modes(part, ENDS, 1e-7)
        assert close < abs(worst - exact) + close <= bar


def test_resonances_are_counted_without_a_sweep():
    part = bend("H", 180.0, 20.0)
    frequency = np.linspace(*ENDS, 2000)
    arc = arc_modes._Arc(part, frequency, 7)
    # every half reflects -1 where it resonates with the dominant mode shut out
    for reflected, counted in zip(arc.reflected, arc.resonances, strict=True):
        phase = np.unwrap(np.angle(-reflected)) / (2 * np.pi)
        away = np.abs(phase - np.round(phase)) > 1e-3
        seen = np.floor(phase[0]) - np.floor(phase)
        assert seen[-1] > 10
        assert np.array_equal(seen[away], (counted - counted[0])[away])


def test_what_the_frequencies_do_not_show_is_no_answer(monkeypatch):
    part = bend("H", 180.0, 20.0)
    assert worst_by_modes(part, ENDS, 1e-6)[1] < 1e-5
    # far too few frequencies for so long a bend, and an accuracy that takes them
    monkeypatch.setattr(arc_modes, "_LEAST_NODES", -140)
    assert worst_by_modes(part, ENDS, 1e9) == (1.0, 1.0)


def test_only_arcs_under_the_next_mode_have_them():
    assert has_arc_modes(bend("E", 90.0, 1.0), ENDS)
    smooth = Bend(GUIDE, "E", math.pi / 2, 20e-3, profile="smooth", onset=0.3)
    assert not has_arc_modes(smooth, ENDS)
    # TE20 is cut off at c/a = 13.1 GHz, LSE11 at 16.2 GHz
    assert not has_arc_modes(bend("H", 90.0, 1.0), (8.2e9, 13.0e9))
    assert has_arc_modes(bend("E", 90.0, 1.0), (8.2e9, 15.0e9))
    assert not has_arc_modes(bend("E", 90.0, 1.0), (8.2e9, 8.2e9))
