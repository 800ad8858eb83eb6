"""Bars from sequences whose limit is known."""

import numpy as np
import pytest

from solver.fem.error_bar import bar_from_levels, bar_from_pairs, bar_of, changes_of


def levels(errors):
    """Changes between answers at two frequencies that miss 0.25 by the given errors."""
    return changes_of([np.full((2, 1), 0.25 + 0j) + error for error in errors])


@pytest.mark.parametrize("ratio", [0.02, 0.1, 0.3, 0.6])
def test_steady_fall_is_bounded(ratio):
    errors = [1e-3 * ratio**n for n in range(3)]
    bar = bar_from_levels(levels(errors))
    assert (bar > errors[-1]).all()
    assert (bar < 100 * errors[-1]).all()


def test_slow_tail_behind_a_fast_fall_needs_a_larger_ratio():
    errors = [6e-4, 3e-5, 1.8e-5]  # a smooth part gone, a singular one left
    assert (bar_from_levels(levels(errors), 0.5) > errors[-1]).all()
    assert (bar_from_levels(levels(errors)) < errors[-1]).all()


def test_answer_that_stands_still_once_is_not_believed():
    # a 20 mm taper at orders 5 to 7: the seventh brought nothing, the eighth 1.5e-5
    errors = [2.2e-4, 1.3e-5, 1.4e-5]
    assert (bar_from_levels(levels(errors), 0.5) > 1.5e-5).all()


def test_one_frequency_without_change_keeps_a_bar():
    changes = levels([1e-3, 1e-4, 1e-5])
    changes[1][0] = 0.0
    bar = bar_from_levels(changes)
    assert bar[0] >= 0.3 * bar[1] > 0


def test_fall_in_pairs_is_bounded_by_the_bar_of_four():
    # every second order brings nothing: the last difference of a pair is no measure of what is left
    errors = [1e-3, 1e-5, 0.99e-5, 1e-7]
    assert (bar_from_pairs(levels([1e-1, *errors[:3]])) > errors[2]).all()
    assert (bar_from_levels(levels(errors[:3])) < errors[2]).all()


@pytest.mark.parametrize("ratio", [0.05, 0.3, 0.6])
def test_bar_of_four_is_true_and_close(ratio):
    errors = [1e-2 * ratio**n for n in range(4)]
    bar = bar_from_pairs(levels(errors))
    assert (bar > errors[-1]).all()
    assert (bar < 20 * errors[-1]).all()


@pytest.mark.parametrize("ratio", [0.02, 0.1, 0.3, 0.6])
@pytest.mark.parametrize("told", [0.5, 1.0, 1.1])
@pytest.mark.parametrize("compared", [3, 4])
def test_a_change_told_ahead_bounds_the_answer_before_it(ratio, told, compared):
    # changes that are told come out too small by up to one half
    errors = [1e-3 * ratio**n for n in range(compared)]
    bar = bar_of([told * change for change in levels(errors)], 0.5, ahead=True)
    assert (bar > errors[-2]).all()
    # a fall in pairs is read over two orders, and not believed under a quarter
    assert (bar < (25 if compared == 3 else 100) * errors[-2]).all()
