"""The line of a load: exact where it is filled, and its means where it is not."""

import numpy as np
import pytest
from scipy.integrate import quad

from geometries.shapes.guides import RectangularGuide
from geometries.shapes.loads import Load
from solver.closed_forms.estimates import estimates_for
from solver.closed_forms.loads import _section, load_line_reflection
from tests.properties.test_loads import CLEAR, DIELECTRIC, MAGNETIC, slab

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
BAND = np.linspace(8.2e9, 12.4e9, 7)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("material", [DIELECTRIC, MAGNETIC, CLEAR])
def test_a_blunt_absorber_that_fills_the_guide_is_exact(plane, material):
    load = Load(GUIDE, plane, "wall", 0.0, 17e-3, **material)
    (found,) = estimates_for(load, BAND)
    assert found.within_validity
    np.testing.assert_allclose(load_line_reflection(load, BAND), slab(load, BAND), rtol=1e-9)


def test_no_absorber_is_guide_before_a_short():
    load = Load(GUIDE, "H", "wall", 20e-3, 5e-3, permittivity=1.0, loss_tangent=0.0)
    (found,) = estimates_for(load, BAND)
    assert not found.within_validity
    beta = np.sqrt((2 * np.pi * BAND / 299_792_458.0) ** 2 - (np.pi / 22.86e-3) ** 2)
    expected = -np.exp(-2j * beta * 25e-3)
    np.testing.assert_allclose(load_line_reflection(load, BAND), expected, atol=1e-9)


@pytest.mark.parametrize("position", ["wall", "centre"])
def test_means_are_integrals_over_the_absorber(position):
    load = Load(GUIDE, "H", position, 20e-3, 5e-3, base_width=9e-3, **MAGNETIC)
    a, width = 22.86e-3, 0.7 * 9e-3
    low = 0.0 if position == "wall" else 0.5 * (a - width)
    sines = quad(lambda x: np.sin(np.pi * x / a) ** 2, low, low + width)[0] * 2 / a
    cosines = quad(lambda x: np.cos(np.pi * x / a) ** 2, low, low + width)[0] * 2 / a
    eps, mu = load.complex_permittivity, load.complex_permeability
    k = 2 * np.pi * 1e10 / 299_792_458.0
    along = 1 + (1 / mu - 1) * sines
    across = (1 + (1 / mu - 1) * cosines) * (np.pi / a) ** 2
    beta, factor = _section(load, 0.7, np.array([1e10]))
    assert factor == pytest.approx(along)
    assert beta[0] ** 2 == pytest.approx((k**2 * (1 + (eps - 1) * sines) - across) / along)
