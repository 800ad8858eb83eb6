"""Bends whose curvature rises smoothly: against fields in the metal, arcs, and their own limits."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from geometries.shapes.twists import Twist
from solver.closed_forms.bends import bend_reflection, bend_reflection_envelope
from solver.closed_forms.smooth_bends import smooth_bend_envelope, smooth_bend_reflection
from solver.judgement.sensitivities import solved_at
from solver.parts.plane_solver import solve_in_plane
from solver.studies.band import Band
from tests.references.bent_field import bend_field, raised_cosine_curvature
from tests.references.curved_guide_modes import bend_scattering

WR90 = standard_guide("WR-90")
X_BAND = np.array([8.2e9, 10e9, 12.4e9])


def smooth(plane, degrees, radius, onset):
    return Bend(WR90, plane, math.radians(degrees), radius, "smooth", onset)


def dominant(found):
    """S (n, 2, 2) of the dominant mode."""
    pick = np.array([0, found.problem.modes.count])
    return found.s[:, pick[:, None], pick]


def reference(bend, frequency, **finer):
    onset = bend.onset
    return bend_field(
        bend.plane,
        bend.width_in_plane,
        bend.guide.broad_width,
        bend.arc_length,
        raised_cosine_curvature(bend.arc_length, bend.angle, onset),
        [0, onset, 1 - onset, 1] if onset < 0.5 else [0, 0.5, 1],
        frequency,
        **finer,
    )


@pytest.mark.parametrize(("plane", "radius"), [("E", 20e-3), ("H", 38e-3)])
def test_the_reference_gives_an_arc_as_modes_of_the_curved_guide_do(plane, radius):
    arc = Bend(WR90, plane, 1.2, radius)
    s = bend_field(
        plane, arc.width_in_plane, WR90.broad_width, arc.arc_length, lambda _: 1 / radius, [0, 1],
        X_BAND[1:2],
    )  # fmt: skip
    exact = bend_scattering(plane, arc.width_in_plane, WR90.broad_width, radius, 1.2, X_BAND[1])
    assert np.abs(s[0, :, 0] - exact).max() < 1e-8


@pytest.mark.parametrize(
    ("plane", "degrees", "radius", "onset"), [("E", 70, 20e-3, 0.3), ("H", 55, 40e-3, 0.5)]
)
def test_true_error_is_under_the_bar(plane, degrees, radius, onset):
    bend = smooth(plane, degrees, radius, onset)
    found = solve_in_plane(bend, X_BAND, 1e-6)
    assert found.reached
    away = np.abs(dominant(found) - reference(bend, X_BAND)).max(axis=(1, 2))
    # 1e-9 for the reference itself, by its change with finer cells
    assert np.all(away < found.error + 1e-9)
    assert np.abs(found.s[:, 0, 0]).max() > 1e-3


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_true_error_is_under_the_bar_for_random_profiles(seed):
    rng = np.random.default_rng(seed)
    plane, onset = "EH"[seed % 2], rng.choice([0.05, rng.uniform(0.05, 0.5)])
    half = Bend(WR90, plane, 1.0, 1.0).width_in_plane / 2
    bend = smooth(plane, rng.uniform(5, 180), rng.uniform(1.5, 4) * half / (1 - onset), onset)
    found = solve_in_plane(bend, X_BAND[:2], 1e-5)
    coarse = reference(bend, X_BAND[:2], cells=7)
    fine = reference(bend, X_BAND[:2], cells=9, degree=9)
    doubt = np.abs(fine - coarse).max()
    assert doubt < 2e-7
    assert np.all(np.abs(dominant(found) - fine).max(axis=(1, 2)) < found.error + doubt)


def test_both_ends_are_alike_and_no_power_is_lost():
    found = solve_in_plane(smooth("E", 90, 22e-3, 0.25), X_BAND, 1e-6)
    s = dominant(found)
    assert np.abs(s[:, 0, 0] - s[:, 1, 1]).max() < 2 * found.error.max()
    assert np.abs(s[:, 0, 1] - s[:, 1, 0]).max() < 1e-10
    assert np.abs(np.linalg.norm(s[:, :, 0], axis=1) - 1).max() < 1e-9


@pytest.mark.parametrize("plane", ["E", "H"])
def test_a_short_onset_tends_to_the_arc(plane):
    """The difference is of the first order in the onset: half the onset, half the difference."""
    arc = dominant(solve_in_plane(Bend(WR90, plane, 1.0, 35e-3), X_BAND, 1e-7))[:, 0, 0]
    away = [
        np.abs(dominant(solve_in_plane(smooth(plane, math.degrees(1.0), 35e-3, o), X_BAND, 1e-7))
               [:, 0, 0] - arc).max()
        for o in (0.1, 0.05)
    ]  # fmt: skip
    assert away[0] / away[1] == pytest.approx(2.0, rel=0.25)


@pytest.mark.parametrize(("plane", "radius"), [("E", 24e-3), ("H", 60e-3)])
@pytest.mark.parametrize("onset", [0.1, 0.5])
def test_the_closed_form_holds_as_it_claims(plane, radius, onset):
    bend = smooth(plane, 75, radius, onset)
    found = dominant(solve_in_plane(bend, X_BAND, 1e-6))[:, 0, 0]
    arc = Bend(WR90, plane, bend.angle, bend.smallest_radius)
    most = bend_reflection_envelope(arc, X_BAND)
    assert np.all(np.abs(smooth_bend_reflection(bend, X_BAND) - found) < 0.05 * most)


@pytest.mark.parametrize(("plane", "radius"), [("E", 30e-3), ("H", 60e-3)])
def test_the_closed_form_of_a_short_onset_is_that_of_an_arc(plane, radius):
    """An onset of a few degrees of phase is a step, in its middle: the ends of a shorter arc."""
    bend = smooth(plane, 60, radius, 0.05)
    arc = Bend(WR90, plane, bend.angle, bend.smallest_radius)
    most = bend_reflection_envelope(arc, X_BAND)
    near = np.abs(smooth_bend_reflection(bend, X_BAND))
    assert np.abs(near - np.abs(bend_reflection(arc, X_BAND))).max() < 0.03 * most.max()
    assert smooth_bend_envelope(bend, X_BAND) == pytest.approx(most, rel=0.05)


@pytest.mark.parametrize(("plane", "radius"), [("E", 90e-3), ("H", 90e-3)])
def test_a_smooth_onset_reflects_less_than_an_arc_of_the_same_length(plane, radius):
    """Common practice, no source. It takes an onset longer than half a guide wavelength.

    Then the contributions along the onset cancel; in a shorter part the tighter middle of the
    smooth bend costs more than the onset gains.
    """
    worst = [
        np.abs(dominant(solve_in_plane(bend, np.linspace(*X_BAND[::2], 9), 1e-6))[:, 0, 0]).max()
        for bend in (Bend(WR90, plane, math.pi / 2, radius), smooth(plane, 90, radius, 0.4))
    ]
    assert worst[1] < 0.5 * worst[0]


@pytest.mark.slow
@pytest.mark.parametrize(("plane", "radius", "onset"), [("E", 20e-3, 0.35), ("H", 40e-3, 0.5)])
def test_in_space_a_smooth_bend_is_the_same(plane, radius, onset):
    bend, f = smooth(plane, 60, radius, onset), np.array([10e9])
    flat = dominant(solve_in_plane(bend, f, 1e-7))[0, :, 0]
    band = Band(9.9e9, 10e9, 2)
    solid = solved_at(bend, band, f, s_error=1e-4, in_space=True)
    assert abs(solid.s11[0] - flat[0]) < solid.error[0] + 1e-7
    assert abs(solid.s21[0] - flat[1]) < solid.error[0] + 1e-7


@pytest.mark.slow
def test_a_twist_of_the_longest_onset_is_the_raised_cosine_one():
    f, band = np.array([10e9]), Band(9.9e9, 10e9, 2)
    found = [
        solved_at(Twist(WR90, math.radians(45), 40e-3, *profile), band, f, s_error=1e-4)
        for profile in (("smooth", 0.5), ("raised-cosine",), ("smooth", 0.2))
    ]
    first, second, other = (np.array([s.s11[0], s.s21[0]]) for s in found)
    assert np.abs(first - second).max() < found[0].error[0] + found[1].error[0]
    assert np.abs(first - other).max() > 10 * found[0].error[0]
