"""Modes of cross-sections against closed forms, Bessel functions and published eigenvalues."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import jn_zeros, jnp_zeros, jv, jvp, yv, yvp

from geometries.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.sections import CoaxialSection, PolygonSection, RidgedSection
from solver.guide_modes import ETA0, SPEED_OF_LIGHT, mode_cutoffs
from solver.section_modes import section_modes


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
    found = section_modes(CoaxialSection(2.0, 2.0 * ratio), 6)
    assert found[0].kind == "TEM"
    line = ETA0 / (2 * math.pi) * math.log(ratio)
    assert abs(found[0].impedance - line) <= found[0].error
    expected = sorted(k for order in range(1, 7) for k in 2 * ring_zeros(order, ratio, "TE", 2))
    te = wavenumbers(found, "TE")
    np.testing.assert_allclose(te, expected[: len(te)], rtol=1e-8)
    tm = wavenumbers(section_modes(CoaxialSection(2.0, 2.0 * ratio), 14), "TM")
    if len(tm):
        assert tm[0] == pytest.approx(ring_zeros(0, ratio, "TM", 1)[0], rel=1e-8)


def test_coaxial_te11_against_the_usual_rule():
    # kc (r1 + r2) = 2, about; N. Marcuvitz, Waveguide Handbook, 1951, section 2.4, tabulates
    # the ratio to exact: within 5 % up to r2/r1 = 4.5 or so; quoted from memory
    found = section_modes(CoaxialSection(2.0, 6.0), 2)[1]
    assert found.wavenumber * 4.0 == pytest.approx(2.0, rel=0.05)


def test_l_shape_against_published_eigenvalues():
    # M. Dauge, Benchmark computations for Maxwell equations (Neumann Laplacian of the
    # L-shape): 1.47562182408, 3.53403136678, 9.86960440109 twice; T. Betcke and L. N.
    # Trefethen, SIAM Review 47 (2005) 469 (Dirichlet): 9.6397238440219; quoted from memory
    shape = PolygonSection(((0, 0), (1, 0), (1, -1), (-1, -1), (-1, 1), (0, 1)))
    found = section_modes(shape, 5)
    te = [1.47562182408, 3.53403136678, 9.86960440109, 9.86960440109]
    np.testing.assert_allclose(wavenumbers(found, "TE") ** 2, te, rtol=3e-9)
    np.testing.assert_allclose(wavenumbers(found, "TM") ** 2, [9.6397238440219], rtol=3e-9)
    for mode, k_squared in zip(found, sorted([*te, 9.6397238440219]), strict=True):
        exact = math.sqrt(k_squared) * SPEED_OF_LIGHT / (2 * math.pi)
        assert abs(mode.cutoff - exact) <= mode.error < 1e-7 * exact
    assert [mode.multiplicity for mode in found] == [1, 1, 1, 2, 2]


@pytest.mark.slow
def test_double_ridged_guide_against_the_catalogue():
    # WRD-750: 0.691 by 0.321 in, ridge 0.173 in, gap 0.136 in, cutoff 6.239 GHz (MIL-DTL-23351,
    # quoted from memory); its corners are rounded, which raises the cutoff
    inch = 0.0254
    section = RidgedSection(
        RectangularGuide(0.691 * inch, 0.321 * inch), 0.173 * inch, 0.136 * inch
    )
    first = section_modes(section, 1)[0]
    assert first.kind == "TE"
    assert first.cutoff == pytest.approx(6.239e9, rel=0.015)
    assert first.error < 1e-6 * first.cutoff


def test_a_shallow_ridge_lowers_the_cutoff_as_a_loaded_line():
    guide = RectangularGuide(0.02, 0.01)
    plain = SPEED_OF_LIGHT / 0.04
    shallow, deep = (
        section_modes(RidgedSection(guide, 0.006, gap, 1), 1)[0].cutoff for gap in (0.0098, 0.004)
    )
    assert 0.98 * plain < shallow < plain
    assert deep < 0.8 * plain


@pytest.mark.parametrize(
    "section",
    [RectangularGuide(0.02286, 0.01016), CircularGuide(0.027), CoaxialSection(0.01, 0.02)],
)
def test_fields_are_normalised_and_vanish_along_the_wall(section):
    if isinstance(section, RectangularGuide):
        mode = section_modes(section, 1)[0]
        points, field = mode.field(8)
        # TE10: sqrt(2 / (a b)) cos(pi x / a) across the narrow walls
        a, b = section.broad_width, section.narrow_height
        size = math.sqrt(2 / (a * b)) * np.abs(np.cos(np.pi * points[0] / a))
        np.testing.assert_allclose(np.abs(field[1]), size, atol=1e-6 * size.max())
        np.testing.assert_allclose(field[0], 0.0, atol=1e-6 * size.max())
        return
    for mode in section_modes(section, 3):
        points, field = mode.field(8)
        radius = np.hypot(*points)
        rim = radius > radius.max() * (1 - 1e-7)
        along = (points[0] * field[1] - points[1] * field[0])[rim] / radius[rim]
        assert np.abs(along).max() < 1e-5 * np.abs(field).max()
    if isinstance(section, CoaxialSection):
        points, field = section_modes(section, 1)[0].field(8)
        size = np.hypot(*field) * np.hypot(*points)
        # 1/r, with unit integral of the square: 1 / sqrt(2 pi ln 2)
        np.testing.assert_allclose(size, 1 / math.sqrt(2 * math.pi * math.log(2)), rtol=1e-6)
