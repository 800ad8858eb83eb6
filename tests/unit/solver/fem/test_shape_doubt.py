"""How far two shapes differ, on resonances that the shape moves."""

import dataclasses
from types import SimpleNamespace

import numpy as np

from solver.fem.level_search import search_levels
from solver.fem.shape_doubt import shape_doubt, with_shape_doubt
from tests.unit.solver.made_up_pencils import SQUARED, Resonances

PROBLEM = Resonances({0: (3, 4)}, count=3)


def found_with(original):
    found = search_levels(PROBLEM, 1e-2)
    mesh = SimpleNamespace(shift=0.0, original=original)
    return dataclasses.replace(found, mesh=mesh)


def test_a_shape_that_is_known_changes_nothing():
    found = found_with(None)
    assert with_shape_doubt(PROBLEM, found, 1e-2) is found
    np.testing.assert_array_equal(shape_doubt(PROBLEM, (), SQUARED), np.zeros(len(SQUARED)))


def test_the_whole_difference_of_both_shapes_enters_the_bar():
    moved = 0.03
    found = found_with(SimpleNamespace(shift=moved))
    doubted = with_shape_doubt(PROBLEM, found, 1e-2)
    # both shapes in the one space of three resonances, by their sums
    apart = np.abs(PROBLEM.exact(SQUARED) - PROBLEM.exact(SQUARED, moved))[:, 0, 0]
    np.testing.assert_allclose(doubted.error - found.error, apart, atol=1e-8)
    assert found.reached and not doubted.reached
    assert abs(doubted.steps[-1]["shape"] - apart.max()) < 1e-8
    between = np.linspace(3.03, 4.97, 7)
    expected = np.abs(PROBLEM.exact(between) - PROBLEM.exact(between, moved))[:, 0, 0]
    found_there = shape_doubt(PROBLEM, doubted.shapes, between)
    np.testing.assert_allclose(found_there, expected, atol=1e-8)
