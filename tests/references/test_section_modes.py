"""Modes of cross-sections against closed forms and Bessel functions."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import jn_zeros, jnp_zeros, jv, jvp, yv, yvp

from geometries.shapes.guides import CircularGuide, standard_guide
from solver.waves.guide_modes import mode_cutoffs
from tests.references.section_meshes import Ring
from tests.references.section_modes import section_modes


def wavenumbers(modes, kind):
    return np.array([mode.wavenumber for mode in modes if mode.kind == kind])


def test_rectangle_against_the_closed_form_within_the_bars():
    guide = standard_guide("WR-90")
    found = section_modes(guide, 8)
    exact = mode_cutoffs(guide, 25e9)[:8]
    for mode, expected in zip(found, exact, strict=True):
        assert mode.kind == expected.kind
        assert abs(mode.cutoff - expected.cutoff) <= mode.error <= 1e-9 * expected.cutoff


def test_circle_against_bessel_zeros_with_both_polarisations():
    found = section_modes(CircularGuide(2.0), 8)
    te = sorted(
        [*jnp_zeros(1, 1), *jnp_zeros(1, 1), *jnp_zeros(2, 1), *jnp_zeros(2, 1), jnp_zeros(0, 1)[0]]
    )
    np.testing.assert_allclose(wavenumbers(found, "TE"), te, rtol=1e-9)
    tm = [jn_zeros(0, 1)[0], jn_zeros(1, 1)[0], jn_zeros(1, 1)[0]]
    np.testing.assert_allclose(wavenumbers(found, "TM"), tm, rtol=1e-9)
    assert [mode.multiplicity for mode in found[:5]] == [2, 2, 1, 2, 2]


def ring_zeros(order, ratio, function, count):
    """First zeros of the cross products of Bessel functions between radii 1 and `ratio`."""
    j, y = (jv, yv) if function == "TM" else (jvp, yvp)

    def cross(k):
        return j(order, k) * y(order, k * ratio) - j(order, k * ratio) * y(order, k)

    grid = np.linspace(0.05, 12, 4000)
    values = cross(grid)
    signs = np.flatnonzero(values[:-1] * values[1:] < 0)[:count]
    return [brentq(cross, grid[i], grid[i + 1], xtol=1e-14) for i in signs]


@pytest.mark.parametrize("ratio", [1.5, 2.3, 4.0])
def test_coaxial_ring_against_cross_products_of_bessel_functions(ratio):
    found = section_modes(Ring(2.0, 2.0 * ratio), 6)
    expected = sorted(k for order in range(1, 7) for k in 2 * ring_zeros(order, ratio, "TE", 2))
    te = wavenumbers(found, "TE")
    np.testing.assert_allclose(te, expected[: len(te)], rtol=1e-8)
    tm = wavenumbers(section_modes(Ring(2.0, 2.0 * ratio), 14), "TM")
    if len(tm):
        assert tm[0] == pytest.approx(ring_zeros(0, ratio, "TM", 1)[0], rel=1e-8)
