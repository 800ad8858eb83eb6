"""Coaxial grooves against mpmath and limits; the tee against Laplace's equation, solved apart."""

import math

import mpmath
import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import jnp_zeros, jv, yv

from geometries.errors import InvalidDimensionError
from solver.closed_forms.coaxial_grooves import (
    coaxial_te_root,
    groove_cutoff_wavenumber,
    groove_wavelength,
    shorted_groove,
    tee_constants,
)
from solver.errors import BelowCutoffError
from tests.references.tee_field import tee_potentials

C = 299792458.0


@pytest.mark.parametrize("order", [0, 1, 2, 3, 7])
@pytest.mark.parametrize("ratio", [1.02, 1.143, 2.0, 6.0])
@pytest.mark.parametrize("index", [1, 2])
def test_root_solves_the_cross_product(order, ratio, index):
    """mpmath refines the root; counting the zeros of E_rho tells which one it is."""

    def cross(x):
        return mpmath.besselj(order, x, derivative=1) * mpmath.bessely(
            order, ratio * x, derivative=1
        ) - mpmath.besselj(order, ratio * x, derivative=1) * mpmath.bessely(order, x, derivative=1)

    root = coaxial_te_root(order, ratio, index)
    assert float(mpmath.findroot(cross, root)) == pytest.approx(root, rel=1e-12)
    # H_z across the line: order 0 has `index` zeros, the others one fewer.
    x = np.linspace(root, ratio * root, 400)
    functions = mpmath.besselj, mpmath.bessely
    j, y = jv(order, x), yv(order, x)
    slopes = [float(f(order, root, derivative=1)) for f in functions]
    field = j * slopes[1] - y * slopes[0]
    zeros = np.count_nonzero(np.diff(np.sign(field)))
    assert zeros == (index if order == 0 else index - 1)


def test_thin_groove_is_a_ring():
    """kc r = 1 as the groove grows thin; 1.0007 at 14 to 16 mm."""
    assert groove_cutoff_wavenumber(1, 14e-3, 16e-3) * 15e-3 == pytest.approx(1.0007, abs=5e-5)
    assert groove_cutoff_wavenumber(3, 1.0, 1.001) * 1.0005 == pytest.approx(3, rel=1e-6)
    assert groove_cutoff_wavenumber(0, 14e-3, 16e-3) == 0


@pytest.mark.parametrize("order", [1, 2, 4])
def test_thin_rod_leaves_a_round_guide(order):
    assert coaxial_te_root(order, 1e4) * 1e4 == pytest.approx(jnp_zeros(order, 1)[0], rel=1e-6)


def test_quarter_wave_of_a_groove_is_longer_than_in_free_space():
    """14 to 16 mm at 9.375 GHz: 8.50 mm, by mpmath's root; 7.99 mm in free space."""
    k = 2 * math.pi * 9.375e9 / C

    def cross(x):
        pairs = [(x, 16 * x / 14), (16 * x / 14, x)]
        products = [
            mpmath.besselj(1, p, derivative=1) * mpmath.bessely(1, q, derivative=1)
            for p, q in pairs
        ]
        return products[0] - products[1]

    cutoff = float(mpmath.findroot(cross, 0.93)) / 14e-3
    quarter = math.pi / 2 / math.sqrt(k**2 - cutoff**2)
    assert quarter == pytest.approx(8.50e-3, abs=5e-6)
    assert groove_wavelength(1, 14e-3, 16e-3, 9.375e9) / 4 == pytest.approx(quarter, rel=1e-10)
    assert groove_wavelength(0, 14e-3, 16e-3, 9.375e9) == pytest.approx(C / 9.375e9)


def test_groove_below_cutoff():
    """One wave round 30 pi mm: about 3.18 GHz."""
    with pytest.raises(BelowCutoffError, match=r"3 GHz does not exceed.*3\.18"):
        groove_wavelength(1, 14e-3, 16e-3, [3e9, 9e9])
    sine, cosine = shorted_groove(1, 14e-3, 16e-3, 8e-3, 2 * math.pi * 1e9 / C)
    decay = math.sqrt((1.00074 / 15e-3) ** 2 - (2 * math.pi * 1e9 / C) ** 2)
    assert_allclose(sine / cosine, math.tanh(decay * 8e-3) / decay, rtol=1e-4)
    with pytest.raises(InvalidDimensionError, match="ratio"):
        coaxial_te_root(1, 1.0)


def test_shorted_groove_is_a_tangent():
    k = 2 * math.pi * 10e9 / C
    sine, cosine = shorted_groove(0, 14e-3, 16e-3, 5e-3, k)
    assert_allclose(sine / cosine, math.tan(k * 5e-3) / k, rtol=1e-12)
    sine, cosine = shorted_groove(0, 14e-3, 16e-3, math.pi / 2 / k, k)
    assert abs(cosine) < 1e-12 and sine == pytest.approx(1 / k)


@pytest.mark.parametrize(("gap", "width"), [(0.2, 2.0), (0.5, 2.0), (1.0, 1.0)])
def test_tee_against_laplaces_equation(gap, width):
    """Finite elements of Laplace's equation with the three fluxes: all drops of the potential."""
    in_gap, in_groove = tee_constants(gap, width)
    for v_in, v_out in ((1.0, 0.0), (1.0, 1.0), (0.4, 1.0)):
        inner, outer, mouth = tee_potentials(gap, width, v_in, v_out)
        expected = np.array(
            [
                -v_in * in_gap + v_out * math.log(2),
                -v_in * math.log(2) + v_out * in_gap,
                -(v_in - v_out) * in_groove,
            ]
        )
        found = np.array([inner, outer, mouth]) * math.pi
        assert_allclose(found - found.mean(), expected - expected.mean(), atol=2e-3)
    with pytest.raises(InvalidDimensionError, match="gap"):
        tee_constants(0.0, 1.0)
