"""Modes at the port of a load: Maxwell's equations by differences, quadrature, counting."""

import numpy as np
import pytest

from geometries.shapes.guides import RectangularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.load_modes import FilledPlaneModes, filled_modes

A, B = 22.86e-3, 10.16e-3
GUIDE = RectangularGuide(A, B)
STEP = 1e-7


def modes(plane, half, count=4):
    return FilledPlaneModes(GUIDE, plane, half, count)


def slope(field, t):
    return (field(t + STEP) - field(t - STEP)) / (2 * STEP)


@pytest.mark.parametrize("half", [False, True])
def test_names_and_cutoffs(half):
    in_h = [(mode.name, mode.cutoff) for mode in modes("H", half, 3).port_modes(1)]
    # fc = c m / 2a
    orders = (1, 3, 5) if half else (1, 2, 3)
    assert in_h == [
        (f"TE{m}0", pytest.approx(m * SPEED_OF_LIGHT / (2 * A), rel=1e-14)) for m in orders
    ]
    in_e = [(mode.name, mode.cutoff) for mode in modes("E", half, 3).port_modes(1)]
    orders = (2, 4) if half else (1, 2)
    both = [(kind, n) for n in orders for kind in ("TE", "TM")]
    assert in_e == [
        (f"{kind}1{n}", pytest.approx(SPEED_OF_LIGHT / 2 * np.hypot(1 / A, n / B), rel=1e-14))
        for kind, n in [("TE", 0), *both]
    ]


@pytest.mark.parametrize("half", [False, True])
def test_modes_are_orthonormal_over_the_port(half):
    node, weight = np.polynomial.legendre.leggauss(40)
    for plane, size in (("H", A), ("E", B)):
        width = size / 2 if half else size
        t, w = width * (node + 1) / 2, weight * width / 2
        found = modes(plane, half)
        assert found.width == pytest.approx(width)
        # a half with a magnetic wall is counted from the middle, where that wall is
        fields = found.functions(None, t)[None] if plane == "H" else found.vectors(None, t)
        gram = np.einsum("cmt,cnt,t->mn", fields, fields, w)
        np.testing.assert_allclose(gram, np.eye(len(found.transverse)), atol=1e-12)


def test_the_middle_of_a_half_is_a_magnetic_wall_in_h_and_an_electric_one_in_e():
    def upright(t):
        return modes("H", True).functions(None, t)

    np.testing.assert_allclose(upright(np.array([A / 2])), 0.0, atol=1e-12)
    np.testing.assert_allclose(slope(upright, np.array([0.0])), 0.0, atol=1e-3)
    along = modes("E", True).vectors(None, np.array([0.0, B / 2]))[0]
    np.testing.assert_allclose(along, 0.0, atol=1e-12)


def test_te1n_have_no_charge_and_tm1n_no_curl_in_the_cross_section():
    """E = (cos(pi x/a) u, sin(pi x/a) e) across the guide."""
    found, t = modes("E", False), np.linspace(0.1, 0.9, 7) * B
    u, e = found.vectors(None, t)
    du, de = slope(lambda t: found.vectors(None, t), t)
    electric = np.array([kind == "TE" for kind, _ in found.listed])
    scale = np.abs(u).max() * np.pi / B
    divergence, curl = de - np.pi / A * u, np.pi / A * e - du
    np.testing.assert_allclose(divergence[electric] / scale, 0.0, atol=1e-6)
    np.testing.assert_allclose(curl[~electric] / scale, 0.0, atol=1e-6)
    assert np.abs(curl[electric]).max() > 0.1 * scale < 10 * np.abs(divergence[~electric]).max()
    assert (e[0] > 0).all()


def test_admittances_are_those_of_te_and_tm():
    found = modes("E", False, 2)
    k = np.array([2 * np.pi * 20e9 / SPEED_OF_LIGHT])
    te10 = np.sqrt(k**2 - (np.pi / A) ** 2)
    beta = np.sqrt(k**2 - (np.pi / A) ** 2 - (np.pi / B) ** 2)
    expected = np.concatenate([te10, beta, k**2 / beta])
    np.testing.assert_allclose(found.admittances(k**2)[0], expected, rtol=1e-13)
    # at the cutoff of TM11 a number still, however large
    cut = np.array([found.transverse[2] ** 2 + found.across**2])
    assert np.isfinite(found.admittances(cut)).all()


def test_modes_that_symmetry_keeps_apart():
    # WR-90 at 16.5 GHz: TE20 at 13.1, TE01 at 14.8, TE11 and TM11 at 16.2 GHz
    assert modes("H", True).kept_apart(16.5e9) == ("TE20", "TE01", "TE11", "TM11")
    assert modes("H", False).kept_apart(14e9) == ()
    assert modes("E", False).kept_apart(16.5e9) == ("TE20", "TE01")


@pytest.mark.parametrize(("plane", "half"), [("H", False), ("H", True), ("E", False), ("E", True)])
def test_no_more_modes_than_needed(plane, half):
    highest, feed, leftover = 12.4e9, 8e-3, 1e-8
    found = filled_modes(GUIDE, plane, half, highest, feed, leftover)
    k = np.array([(2 * np.pi * highest / SPEED_OF_LIGHT) ** 2])
    more = FilledPlaneModes(GUIDE, plane, half, found.count + 1).phase_constants(k)[0]
    returned = np.exp(2 * more.imag * feed)
    kept = len(found.transverse)
    assert (returned[kept:] < leftover).all() and returned[kept - 1] >= leftover
