"""Lines of a bend's lattice: where they have to lie, and how cells grow."""

import numpy as np
import pytest

from geometries.plane_meshes.lattice_lines import across_lines, along_lines

WAVELENGTH = 25e-3


@pytest.mark.parametrize("refinement", [0, 1, 2])
def test_lines_along_hold_ends_and_knots_and_are_graded_towards_them(refinement):
    length, width, scale = 60e-3, 20e-3, 4e-3
    knots = (0.3, 0.7)
    found = along_lines(length, width, scale, WAVELENGTH, refinement, knots=knots)
    assert (np.diff(found) > 0).all()
    assert found[0] == pytest.approx(-width) and found[-1] == pytest.approx(length + width)
    largest = 0.75 * WAVELENGTH / (1 + refinement)
    assert np.diff(found).max() <= largest * (1 + 1e-9)
    # a tight wall draws one more layer, each a fifth of the next
    first = 0.2 ** (2 + refinement) * scale
    for place in (0.0, *(length * k for k in knots), length):
        at = int(np.argmin(np.abs(found - place)))
        assert found[at] == pytest.approx(place, abs=1e-15)
        steps = np.diff(found)[at - 1 : at + 1]
        np.testing.assert_allclose(steps, first, rtol=1e-9)


def test_feeds_of_their_own_and_none():
    found = along_lines(30e-3, 20e-3, 15e-3, WAVELENGTH, 0, feeds=(7e-3, 0.0))
    assert found[0] == pytest.approx(-7e-3) and found[-1] == pytest.approx(30e-3)
    assert (np.diff(found) > 0).all()


@pytest.mark.parametrize("inner", [1e-3, 8e-3, 100e-3])
@pytest.mark.parametrize("refinement", [0, 1])
def test_cells_across_a_bend_grow_with_the_radius(inner, refinement):
    width = 20e-3
    found = across_lines(width, inner, WAVELENGTH, refinement)
    assert found[0] == 0.0 and found[-1] == width and (np.diff(found) > 0).all()
    ratios = (inner + found[1:]) / (inner + found[:-1])
    assert ratios.max() <= 3.0 + 1e-9
    # without layers at the walls the radii are in one proportion
    layers = (2 if inner < width / 2 else 1) + refinement
    plain = np.concatenate([[0.0], found[1 + layers : -2 - refinement], [width]])
    ratios = (inner + plain[1:]) / (inner + plain[:-1])
    np.testing.assert_allclose(ratios, ratios[0], rtol=1e-9)
    # layers a fifth of each other, at the inner and at the outer wall
    np.testing.assert_allclose(found[1:layers] / found[2 : layers + 1], 0.2, rtol=1e-9)
    assert (width - found[-2]) / (width - plain[-2]) == pytest.approx(0.2 ** (1 + refinement))
