"""Elements of order 1 about an axis: slopes, curls, and spaces within each other."""

import numpy as np

from solver.elements.harmonic_quads import ElementQuadHarmonic, harmonic_tables

POINTS = np.array([[0.13, 0.48, 0.91], [0.77, 0.21, 0.55]])


def moved(axis, step):
    shift = np.zeros((2, 1))
    shift[axis] = step
    return harmonic_tables(4, POINTS + shift)


def test_slopes_and_curls_are_those_of_the_functions():
    _, slope, _, curl = harmonic_tables(4, POINTS)
    step = 1e-6
    ahead, behind = ([moved(axis, sign * step) for axis in (0, 1)] for sign in (1, -1))
    for axis in (0, 1):
        by = (ahead[axis][0] - behind[axis][0]) / (2 * step)
        assert np.abs(by - slope[:, axis]).max() < 1e-8
    found = (ahead[0][2][:, 1] - behind[0][2][:, 1] - ahead[1][2][:, 0] + behind[1][2][:, 0]) / (
        2 * step
    )
    assert np.abs(found - curl).max() < 1e-8


def test_lower_degrees_are_among_higher_ones():
    high, low = ElementQuadHarmonic(5), ElementQuadHarmonic(4)
    listed = np.array(high.functions(), dtype=object)[high.degrees() <= 4]
    assert {tuple(each) for each in listed} == set(low.functions())


def test_every_gradient_of_w_is_a_field_of_edges_of_one_degree_more():
    # 2 p (p + 1) functions of u, (p + 2)^2 of w
    element = ElementQuadHarmonic(3)
    assert len(element.of_edges()) == 24
    assert len(element.functions()) - 24 == 25
