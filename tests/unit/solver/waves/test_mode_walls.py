"""Integrals of port modes over the outline, against quadrature and textbook attenuations."""

import numpy as np
import pytest
from scipy.special import jn_zeros, jnp_zeros

from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.waves.guide_power import attenuation_te10, surface_resistance
from solver.waves.mode_walls import outline_integrals
from solver.waves.space_modes import SpaceMode
from tests.references.mode_attenuation import attenuation

COPPER = 5.8e7
BOX = RectangularGuide(22.86e-3, 10.16e-3)
PIPE = CircularGuide(27e-3)
MODES = [
    *(SpaceMode(BOX, "TE", m, n) for m, n in ((1, 0), (0, 1), (2, 1))),
    *(SpaceMode(BOX, "TM", m, n) for m, n in ((1, 1), (3, 2))),
    *(SpaceMode(PIPE, "TE", m, n, turned) for m, n, turned in ((0, 1, False), (1, 1, True))),
    *(SpaceMode(PIPE, "TM", m, n, turned) for m, n, turned in ((0, 1, False), (2, 1, True))),
]


def outline(guide):
    """Points (2, n) of the outline and the length (n,) that each stands for."""
    x, w = np.polynomial.legendre.leggauss(40)
    if isinstance(guide, CircularGuide):
        angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
        on_rim = guide.radius * np.stack([np.cos(angle), np.sin(angle)])
        return on_rim, np.full(200, np.pi * guide.diameter / 200)
    a, b = guide.broad_width / 2, guide.narrow_height / 2
    sides = [(x * a, 0 * x - b), (x * a, 0 * x + b), (0 * x - a, x * b), (0 * x + a, x * b)]
    return np.hstack(sides), np.hstack([w * a, w * a, w * b, w * b])


@pytest.mark.parametrize("mode", MODES, ids=lambda m: f"{type(m.guide).__name__[:4]}-{m.name}")
def test_squared_field_on_the_outline_by_quadrature(mode):
    points, lengths = outline(mode.guide)
    by_quadrature = (mode.field(*points) ** 2).sum(axis=0) @ lengths
    assert outline_integrals(mode).along == pytest.approx(by_quadrature, rel=1e-9, abs=1e-9)


def test_te10_against_the_textbook():
    guide, f = standard_guide("WR-90"), np.array([8.2e9, 10e9, 12.4e9])
    expected = attenuation_te10(guide, f, COPPER)
    np.testing.assert_allclose(
        attenuation(SpaceMode(guide, "TE", 1, 0), f, COPPER), expected, rtol=1e-12
    )


@pytest.mark.parametrize("order", [1, 2, 3])
def test_circular_modes_against_the_textbook(order):
    # D. M. Pozar, Microwave Engineering, 4th ed., eq. (3.133) for TE11, its analogue for
    # TE_n1, and Rs k / (r eta beta) for TM modes; quoted from memory
    f, r = 2.5e10, PIPE.radius
    k, rs = 2 * np.pi * f / SPEED_OF_LIGHT, surface_resistance(COPPER, f)
    zero = jnp_zeros(order, 1)[0]
    beta = np.sqrt(k**2 - (zero / r) ** 2)
    expected = (
        rs / (r * k * ETA0 * beta) * ((zero / r) ** 2 + k**2 * order**2 / (zero**2 - order**2))
    )
    found = attenuation(SpaceMode(PIPE, "TE", order, 1), f, COPPER)
    assert float(found) == pytest.approx(expected, rel=1e-12)
    beta = np.sqrt(k**2 - (jn_zeros(order, 1)[0] / r) ** 2)
    found = attenuation(SpaceMode(PIPE, "TM", order, 1, True), f, COPPER)
    assert float(found) == pytest.approx(rs * k / (r * ETA0 * beta), rel=1e-12)
