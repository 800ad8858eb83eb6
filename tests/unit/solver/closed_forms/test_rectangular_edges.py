"""The edge of a rectangular opening: its length, its currents, and Green's theorem along it."""

import numpy as np
import pytest

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import RectangularGuide
from solver.closed_forms.choke_gaps import gap_field, gap_field_at
from solver.closed_forms.rectangular_edges import edge_equations, edge_of_opening, joined

A, B = 22.86e-3, 10.16e-3
EDGE = edge_of_opening(A, B)
OPEN = ChokeFlange(RectangularGuide(A, B), 0.2e-3, 25e-3)
CHOKED = ChokeFlange(RectangularGuide(A, B), 0.2e-3, 25e-3, 14e-3, 16e-3, 8.2e-3)
K = np.array([170.0, 209.0, 250.0])


def test_the_edge_is_as_long_as_the_opening_is_round():
    assert EDGE.weight.sum() == pytest.approx(2 * (A + B), rel=1e-14)
    # TE10's current along the guide, cos(pi x/a) on the two broad walls alone
    assert EDGE.weight @ EDGE.current == pytest.approx(4 * A / np.pi, rel=1e-12)
    x, y = EDGE.radius * np.cos(EDGE.angle), EDGE.radius * np.sin(EDGE.angle)
    np.testing.assert_allclose(np.where(EDGE.broad, y / B, x / A), 0.5, rtol=1e-12)


@pytest.mark.parametrize(("order", "odd"), [(1, True), (3, True), (2, False), (4, False)])
def test_harmonic_fields_have_no_flux(order, odd):
    """r^m sin(m phi) and r^m cos(m phi) are harmonic; their squares' gradient is known too."""
    r = EDGE.radius[None] / A
    field, slope = r**order, order * r**order
    along, across = EDGE.along_and_across(order, odd, field, slope)
    x, y = r * np.cos(EDGE.angle), r * np.sin(EDGE.angle)
    z = (x + 1j * y) ** order
    np.testing.assert_allclose(along, z.imag if odd else z.real, atol=1e-13)
    change = order * (x + 1j * y) ** (order - 1)
    by_x, by_y = (change.imag, change.real) if odd else (change.real, -change.imag)
    np.testing.assert_allclose(across * A, np.where(EDGE.broad, by_y, by_x), atol=1e-12)
    if not odd:
        assert abs(across[0] @ EDGE.weight) < 1e-12


@pytest.mark.parametrize("joint", [OPEN, CHOKED])
def test_power_through_the_edge_is_the_flux_of_the_field(joint):
    """CLOSED INT Im(conj(psi) d psi/dn) dl is the same on every closed line: pi times the flux."""
    found = edge_equations(joint, (1, 3), K)
    for i, order in enumerate((1, 3)):
        inside = gap_field(joint, order, K)
        field, slope = gap_field_at(joint, order, K, inside, EDGE.radius)
        scale = np.abs(field).max(axis=1, keepdims=True)
        psi, normal = EDGE.along_and_across(order, True, field / scale, slope / scale)
        power = np.imag(psi.conj() * normal) @ EDGE.weight
        np.testing.assert_allclose(power, np.pi * found.flux[:, i], rtol=1e-5)
        assert (found.flux[:, i] < 0).all()


def test_a_sealed_gap_lets_nothing_out():
    assert not edge_equations(CHOKED, (1,), K, sealed=True).flux.any()


def test_drive_of_one_order_is_the_integral_of_te10s_current():
    found = edge_equations(OPEN, (1, 3), K)
    x = np.linspace(-A / 2, A / 2, 4001)
    angle, radius = np.arctan2(B / 2, x), np.hypot(x, B / 2)
    for i, order in enumerate((1, 3)):
        # both broad walls pull alike: the current and sin(m phi), m odd, change sign together
        exact = 2 * np.trapezoid(np.sin(order * angle) * np.cos(np.pi * x / A), x)
        np.testing.assert_allclose(found.drive[:, i], exact, rtol=1e-6)
        inside = gap_field(OPEN, order, K)
        field, _ = gap_field_at(OPEN, order, K, inside, radius)
        at_points, _ = gap_field_at(OPEN, order, K, inside, EDGE.radius)
        whole = 2 * np.trapezoid(field * np.sin(order * angle) * np.cos(np.pi * x / A), x)
        exact = whole / np.abs(at_points).max(axis=1)
        np.testing.assert_allclose(found.source[:, i], exact, rtol=1e-5)


def test_two_runs_of_wavenumbers_are_joined():
    whole = edge_equations(CHOKED, (1, 3), K)
    parts = joined([edge_equations(CHOKED, (1, 3), k) for k in (K[:1], K[1:])])
    for name in ("matrix", "drive", "source", "flux"):
        np.testing.assert_allclose(getattr(parts, name), getattr(whole, name), rtol=1e-12)
