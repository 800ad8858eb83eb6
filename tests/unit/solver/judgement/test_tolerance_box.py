"""The worst of a box of tolerances, on a made-up part whose S11 is a formula."""

import math
from dataclasses import replace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.judgement import sensitivities, tolerance_box
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.tolerances import Tolerance
from solver.waves.scattering import PortMode, ScatteringMatrix

PART = Bend(standard_guide("WR-90"), "E", math.radians(90.0), 0.03)
BOTH = (
    Tolerance("mean_radius", "mm", 0.5e-3),
    Tolerance("angle", "deg", math.radians(2.0)),
)
#: Reflection that allows |S11| of 0.1.
TENTH = Limit(return_loss_db=20.0)


def solved(formula, frequency, bar=0.0):
    """A `solved_at` for S11 = formula(frequency [GHz], radius off in mm, angle off in deg)."""

    def solved_at(part, band, at, **_):
        n = len(at)
        off = (part.mean_radius - 0.03) * 1e3, math.degrees(part.angle) - 90.0
        s = np.asarray(formula(at / 1e9, *off) + np.zeros(n), dtype=complex)[:, None, None]
        modes = (PortMode(1, "TE10", 6.5e9),)
        return ScatteringMatrix(at, modes, s, np.full(n, bar), np.zeros(n), np.zeros(n))

    return solved_at, solved_at(PART, None, np.asarray(frequency) * 1e9)


@pytest.fixture
def box_of(monkeypatch):
    def box_of(formula, frequency, tolerances=BOTH, limit=TENTH, bar=0.0):
        solve, nominal = solved(formula, frequency, bar)
        monkeypatch.setattr(sensitivities, "solved_at", solve)
        monkeypatch.setattr(tolerance_box, "solved_at", solve)
        band = Band.at(nominal.frequency)
        return tolerance_box.tolerance_box(PART, tolerances, band, nominal, limit, s_error=1e-4)

    return box_of


def straight(f, radius, angle):
    """0.05 at most, and as much again at the corner (+0.5 mm, -2 deg) at 10 GHz."""
    return 0.05 * np.exp(-((f - 10) ** 2)) * (1 + radius - 0.25 * angle)


def test_the_worst_of_a_linear_part_is_at_its_corner(box_of):
    found = box_of(straight, [9.0, 9.5, 10.0, 10.5, 11.0])
    assert found.worst == pytest.approx(0.1, rel=1e-9)
    assert found.at_hz == pytest.approx(10e9)
    assert found.corner == {
        "mean_radius_mm": pytest.approx(0.5),
        "angle_deg": pytest.approx(-2.0),
    }
    assert found.checked == pytest.approx(0.1, rel=1e-9)
    assert found.allowed == pytest.approx(0.1) and found.outcome == "undecided"


@pytest.mark.parametrize(
    ("factor", "outcome"), [(0.5, "meets"), (1.6, "exceeds"), (None, "no limit")]
)
def test_outcome_of_a_box(box_of, factor, outcome):
    found = box_of(
        lambda *at: (factor or 1.0) * straight(*at),
        np.linspace(9, 11, 21),
        limit=TENTH if factor else Limit(leakage_db=-40.0),
    )
    assert found.outcome == outcome
    assert (found.share is None) == (factor is None)


@pytest.mark.parametrize("seed", range(4))
def test_nothing_in_the_box_is_worse_than_the_bar_says(box_of, seed):
    """Parts that bend: dimensions alone and together, beside a dense look at the whole box."""
    rng = np.random.default_rng([seed, 5519])
    turns = rng.uniform(0.5, 2.0, 3)
    c = 0.02 * (rng.normal(size=(5, 3)) + 1j * rng.normal(size=(5, 3)))

    def formula(f, radius, angle):
        a, b, x, y, z = c @ np.exp(1j * np.outer(turns, f))
        return a + b * radius + x * angle / 2 + 0.3 * radius * (y * radius + z * angle)

    found = box_of(formula, np.linspace(8.2, 12.4, 41))
    fine = np.linspace(8.2, 12.4, 401)
    worst = max(
        np.abs(formula(fine, radius, angle)).max()
        for radius in np.linspace(-0.5, 0.5, 9)
        for angle in np.linspace(-2, 2, 9)
    )
    assert worst <= found.worst + found.error
    assert found.error < 0.5 * found.worst


def test_a_peak_between_uneven_points_is_in_the_bar(box_of):
    # the second difference over these three points is zero
    points = 10 + 0.1 * np.array([0.0, 1 + math.sqrt(2), 2 + math.sqrt(2)])

    def formula(f, radius, angle):
        return 0.05 - (f - 10.12) ** 2 + 0.01 * radius + 0 * angle

    found = box_of(formula, points)
    assert found.worst + found.error >= 0.05 + 0.005


def test_a_corner_that_is_worst_between_the_points_counts_too(box_of):
    """At +0.5 mm the curve is flat, at -0.5 mm it is lower at the points and higher between."""

    def formula(f, radius, angle):
        curved = 0.095 - 0.51 * (f - 10.1) ** 2
        return 0.5 * (0.09 + curved) + radius * (0.09 - curved) + 0 * angle

    found = box_of(formula, [9.8, 10.0, 10.2, 10.4], limit=Limit(return_loss_db=20.5))
    assert found.corner["mean_radius_mm"] == pytest.approx(0.5)
    assert found.worst == pytest.approx(0.09)
    assert 0.095 <= found.worst + found.error < 0.097
    # 20.5 dB are 0.0944: some parts of the sample may fail between the points
    assert found.outcome == "undecided" and found.share[1] < 1.0


def test_bars_of_the_parts_are_in_the_bar(box_of):
    without = box_of(straight, [9.5, 10.0, 10.5])
    found = box_of(straight, [9.5, 10.0, 10.5], bar=1e-5)
    # that of the part itself, and those of four solutions for each derivative
    assert found.error >= without.error + 1e-5


def test_share_of_parts_that_meet_the_limit(box_of):
    """|x + j y| <= r in the square of +-1: a quarter of pi r^2."""
    found = box_of(lambda f, radius, angle: 0.125 * (2 * radius + 0.5j * angle), [10.0])
    for share in found.share:
        assert share == pytest.approx(math.pi * 0.8**2 / 4, abs=4e-3)
    off = box_of(lambda f, radius, angle: 0.125 * (2 * radius + 0.5j * angle), [10.0], bar=2e-3)
    assert off.share[1] < found.share[0] < off.share[2]


def test_a_very_dense_band_is_thinned_and_keeps_its_worst(box_of):
    band = np.linspace(9, 11, 1201)
    found = box_of(straight, band)
    assert len(found.frequency) <= 501
    assert found.worst == pytest.approx(0.1, rel=1e-9)


def test_a_box_says_nothing_of_leakage():
    assert tolerance_box._allowed(Limit(leakage_db=-30.0)) is None
    both = replace(TENTH, vswr=1.1)
    # the tighter of the two: (1.1 - 1)/(1.1 + 1) below 0.1
    assert tolerance_box._allowed(both) == pytest.approx(0.1 / 2.1)
