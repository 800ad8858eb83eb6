"""Choke joints: coupling against overlap integrals, balance of power, limits, known cases."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import j1, jn_zeros, jnp_zeros, jvp

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_gaps import gap_field
from solver.closed_forms.choke_lines import plane_line_reflection
from solver.closed_forms.choke_openings import guide_impedance, rectangular_opening
from solver.closed_forms.choke_resonances import trapped_resonances
from solver.closed_forms.chokes import (
    choke_leakage,
    flange_reflection,
    joint_reflection,
    leakage_in_range,
)
from solver.closed_forms.estimates import estimates_for
from solver.closed_forms.source import validity_of
from solver.errors import BelowCutoffError
from tests.references.gap_field import closed_gap_work

C = 299792458.0
WR90 = standard_guide("WR-90")
TM01 = RotatingJoint(CircularGuide(26e-3), 0.5e-3, 40e-3, 20e-3, 22e-3, 7.5e-3)
TE11 = RotatingJoint(CircularGuide(22e-3), 0.5e-3, 40e-3, 18e-3, 20e-3, 8.5e-3, mode="TE11")
FLANGE = ChokeFlange(WR90, 0.2e-3, 25e-3, 14e-3, 16e-3, 8.2e-3)
BAND = np.array([9.3e9, 10e9, 10.7e9])


@pytest.mark.parametrize("kind", ["TM01", "TE11"])
def test_round_coupling_from_overlap_integrals(kind):
    """Sheet eta h on the wall: z = h (INT J^2 R dphi) eta/(4 P), with P from the mode's field."""
    radius, f = 13e-3, 10e9
    k = 2 * math.pi * f / C
    guide = CircularGuide(2 * radius)
    joint = RotatingJoint(guide, 0.5e-3, 40e-3, mode=kind)
    if kind == "TM01":
        p = jn_zeros(0, 1)[0] / radius
        beta = math.sqrt(k**2 - p**2)
        # H_phi = J1(pr); E_r = (beta/k) eta H_phi
        power = 0.5 * beta / k * 2 * math.pi * quad(lambda r: j1(p * r) ** 2 * r, 0, radius)[0]
        wall = 2 * math.pi * radius * j1(p * radius) ** 2
    else:
        p = jnp_zeros(1, 1)[0] / radius
        beta = math.sqrt(k**2 - p**2)
        # H_r = J1'(pr) sin phi, H_phi = J1/(pr) cos phi; E_t = (k/beta) eta H_t
        density = quad(lambda r: (jvp(1, p * r) ** 2 + (j1(p * r) / (p * r)) ** 2) * r, 0, radius)[
            0
        ]
        power = 0.5 * k / beta * math.pi * density
        wall = math.pi * radius * (j1(p * radius) / (p * radius)) ** 2
    assert guide_impedance(joint, f) == pytest.approx(4 * power / wall, rel=1e-8)


def test_rectangular_coupling_from_overlap_integrals():
    """H_x = cos(pi x/a) on both broad walls; E_y = Z_TE H_x."""
    a, b = WR90.broad_width, WR90.narrow_height
    k = 2 * math.pi * 10e9 / C
    beta = math.sqrt(k**2 - (math.pi / a) ** 2)
    power, wall = 0.5 * k / beta * a * b / 2, 2 * a / 2
    assert guide_impedance(FLANGE, 10e9) == pytest.approx(4 * power / wall, rel=1e-12)


@pytest.mark.parametrize("joint", [TM01, TE11])
def test_leaked_power_is_what_the_series_load_takes(joint):
    """1 - |S11|^2 - |1 - S11|^2 of a series load; the mouth's part has no loss to first order."""
    for part in (joint, replace(joint, groove_depth=0.0)):
        s11 = joint_reflection(part, BAND)
        leaked = choke_leakage(part, BAND)
        mouth = np.abs(s11) * 5e-3
        assert np.all(np.abs(1 - np.abs(s11) ** 2 - np.abs(1 - s11) ** 2 - leaked) < mouth)
        assert np.all(leaked > 0)


def test_gap_field_carries_its_flux_inward():
    """Im(conj(E) r dE/dr) at the inner edge by the state itself, where round-off allows it."""
    for joint, order in ((TM01, 0), (TE11, 1), (FLANGE, 3)):
        field = gap_field(joint, order, 2 * math.pi * BAND / C)
        direct = (np.conj(field.field) * field.slope).imag
        size = np.abs(field.field * field.slope)
        assert_allclose(direct, field.flux, atol=1e-12 * np.max(size))
        assert np.all(field.flux < 0)


def test_two_grooves_leak_less_than_one():
    second = {
        "second_groove_inner_radius": 29e-3,
        "second_groove_outer_radius": 31e-3,
        "second_groove_depth": 7.5e-3,
    }
    both = choke_leakage(replace(TM01, **second), BAND)
    assert np.all(both < 0.1 * choke_leakage(TM01, BAND))


def test_closed_rim_leaks_nothing_and_gasket_of_air_changes_nothing():
    closed = replace(FLANGE, rim="closed")
    assert np.all(choke_leakage(closed, BAND) == 0)
    s11 = flange_reflection(closed, BAND)
    assert_allclose(np.abs(s11) ** 2 + np.abs(1 - s11) ** 2, 1, atol=2e-3 * np.abs(s11).max())
    air = replace(FLANGE, gasket_permittivity=1 + 1e-12, gasket_inner_radius=17e-3)
    assert_allclose(flange_reflection(air, BAND), flange_reflection(FLANGE, BAND), rtol=1e-8)
    filled = replace(air, gasket_permittivity=4.0)
    assert np.all(np.abs(choke_leakage(filled, BAND) / choke_leakage(FLANGE, BAND) - 1) > 0.1)


@pytest.mark.parametrize("rim", [18e-3, 25e-3])
def test_rectangular_edge_against_finite_elements(rim):
    """A gap closed at the rim, without groove: work of the wall current, by another library.

    The field is singular at the corners of the opening, which four orders reach to 7 %.
    """
    part = ChokeFlange(WR90, 0.1e-3, rim, rim="closed")
    k = 2 * math.pi * BAND / C
    a, b = WR90.broad_width, WR90.narrow_height
    s11 = rectangular_opening(part, k, BAND).s11
    for i, f in enumerate(BAND):
        beta = math.sqrt(k[i] ** 2 - (math.pi / a) ** 2)
        z = -1j * beta * part.gap / (a * b) * closed_gap_work(a, b, rim, k[i])
        assert abs(s11[i] - z / (1 + z)) < 0.07 * abs(z), f


def test_no_resonance_that_moves_with_the_number_of_orders():
    """Near 9.4 GHz the opening is shorted, and E changes its sign along the edge.

    The field in space falls without a peak from 8.2 to 10.4 GHz.
    """
    assert np.all(np.diff(trapped_resonances(FLANGE, 1, 14e9)) > 5e9)
    f = np.linspace(9.2e9, 9.7e9, 101)
    sums = [(1, 3), (1, 3, 5), (1, 3, 5, 7), (1, 3, 5, 7, 9)]
    opened = [rectangular_opening(FLANGE, 2 * math.pi * f / C, f, orders=o) for o in sums]
    leaked = 10 * np.log10([each.leaked for each in opened])
    assert np.ptp(leaked, axis=0).max() < 0.5
    assert np.all(np.diff(leaked, axis=1) < 0)


def test_leakage_is_out_of_range_in_a_null_and_near_a_resonance():
    f = np.array([8.6e9, 9.45e9, 10.6e9, 11.4e9, 12.4e9])
    assert leakage_in_range(FLANGE, f).tolist() == [True, True, False, True, False]
    assert not leakage_in_range(replace(FLANGE, gap=1.5e-3), f).any()
    form = estimates_for(FLANGE, f)[0]
    assert form.within_validity
    assert form.leakage_in_range.tolist() == leakage_in_range(FLANGE, f).tolist()
    assert "12 %" in form.leakage_note


def test_thin_gap_reflects_in_proportion():
    for joint, form in ((TM01, joint_reflection), (FLANGE, flange_reflection)):
        one, half = (
            np.abs(form(replace(joint, gap=gap, groove_depth=0.0), BAND)) for gap in (2e-5, 1e-5)
        )
        assert_allclose(one / half, 2, rtol=0.03)


@pytest.mark.parametrize("joint", [TM01, TE11, FLANGE])
def test_estimates_scale_with_the_joint(joint):
    """Twice the joint at half the frequency."""
    lengths = {
        name: 2 * getattr(joint, name)
        for name in (
            "gap",
            "rim_radius",
            "groove_inner_radius",
            "groove_outer_radius",
            "groove_depth",
        )
    }
    guide = (
        RectangularGuide(2 * WR90.broad_width, 2 * WR90.narrow_height)
        if joint is FLANGE
        else CircularGuide(2 * joint.guide.diameter)
    )
    double = replace(joint, guide=guide, **lengths)
    for small, large in zip(
        estimates_for(joint, BAND), estimates_for(double, BAND / 2), strict=True
    ):
        assert_allclose(large.s11_abs, small.s11_abs, rtol=1e-8)
        assert small.name == large.name
    assert_allclose(choke_leakage(double, BAND / 2), choke_leakage(joint, BAND), rtol=1e-8)


@pytest.mark.parametrize(
    ("joint", "cutoff"), [(TM01, 2.404826), (TE11, 1.841184), (FLANGE, math.pi / 2)]
)
def test_estimates_hold_from_cutoff_upward(joint, cutoff):
    half = WR90.broad_width / 2 if joint is FLANGE else joint.guide.radius
    edge = cutoff * C / (2 * math.pi * half)
    found = estimates_for(joint, [1.001 * edge, 1.5 * edge])
    assert len(found) == 2
    for each in found:
        assert each.s11_abs.shape == (2,)
        assert np.all((each.s11_abs >= 0) & (each.s11_abs < 1.01))
    assert found[0].leaked_power.shape == (2,) and found[1].leaked_power is None
    with pytest.raises(BelowCutoffError, match="does not exceed the cutoff"):
        estimates_for(joint, [0.99 * edge, 1.5 * edge])


def test_validity_knows_wide_gaps_and_higher_modes():
    holds = validity_of(joint_reflection).holds
    assert holds(TM01, BAND)
    assert not holds(replace(TM01, gap=1.5e-3), BAND)
    assert not holds(replace(TM01, groove_outer_radius=25e-3), BAND)
    assert not holds(TM01, [20.2e9])
    assert not validity_of(plane_line_reflection).holds(replace(FLANGE, rim="closed"), BAND)
    overlapping = replace(
        TM01,
        second_groove_inner_radius=21e-3,
        second_groove_outer_radius=24e-3,
        second_groove_depth=7e-3,
    )
    assert not holds(overlapping, BAND)
    assert np.all(np.isfinite(joint_reflection(overlapping, BAND)))


def test_plane_lines_at_a_quarter_wave_are_a_short():
    """Both sections a quarter wave: z = Z1^2/(infinite) = 0; no groove: the matched line alone."""
    quarter = C / 10e9 / 4
    perfect = replace(
        TM01,
        groove_inner_radius=13e-3 + quarter - 1e-3,
        groove_outer_radius=13e-3 + quarter + 1e-3,
        groove_depth=quarter,
    )
    assert abs(plane_line_reflection(perfect, 10e9)) < 1e-12
    z = 0.5e-3 / float(guide_impedance(TM01, 10e9))
    bare = replace(TM01, groove_depth=0.0)
    assert plane_line_reflection(bare, 10e9) == pytest.approx(z / (1 + z))


@pytest.mark.parametrize("order", [0, 1, 2])
def test_trapped_resonances_of_a_far_ring_are_those_of_plane_lines(order):
    """A thin gap and groove at 100 times the size of the sections; cos(m phi) hardly matters."""
    radius = 1.0
    joint = RotatingJoint(
        CircularGuide(2 * radius),
        0.02e-3,
        radius + 12e-3,
        radius + 7e-3,
        radius + 9e-3,
        7.5e-3,
    )
    found = trapped_resonances(joint, order, 20.5e9)

    def misfit(k):
        return np.tan(7e-3 * k) * np.tan(7.5e-3 * k) - 0.01

    brackets = (2 * math.pi * 0.5e9 / C, 2 * math.pi * 3e9 / C), (400.0, 428.0)
    expected = [brentq(misfit, *bracket) * C / (2 * math.pi) for bracket in brackets]
    # The tee makes the gap longer by some 2.4 gaps.
    assert_allclose(found, expected, rtol=0.01)


def test_trapped_resonances_rise_with_the_order():
    lowest = [trapped_resonances(TM01, order, 12e9)[0] for order in (0, 1, 2)]
    assert lowest == sorted(lowest)
    assert trapped_resonances(replace(TM01, groove_depth=0.0), 0, 12e9).size == 0
    with pytest.raises(ValueError, match="order 3"):
        trapped_resonances(TM01, 3, 12e9)


def test_trapped_resonance_of_a_flange_shows_in_its_reflection():
    """A nearly sealed flange: |S11| rises where TE10's class resonates, and nowhere near else."""
    sealed = replace(FLANGE, rim_radius=16.0001e-3, rim="closed")
    resonance = trapped_resonances(sealed, 1, 8e9)
    assert len(resonance) == 1
    big = ChokeFlange(
        RectangularGuide(3 * 22.86e-3, 10.16e-3), 0.2e-3, 45e-3, 36e-3, 38e-3, 20e-3, rim="closed"
    )
    big = replace(big, rim_radius=38.0001e-3)
    (first,) = [f for f in trapped_resonances(big, 1, 5.5e9) if f > 2.3e9]
    near = np.abs(flange_reflection(big, first * np.array([0.9, 0.9999, 1.0, 1.0001, 1.05])))
    assert near[2] > 0.9 and near[0] < 0.3 and near[4] < 0.3
