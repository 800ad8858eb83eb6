"""Answers between the listed frequencies, and their bar in groups."""

import dataclasses

import numpy as np

from solver.fem.band_answers import BandAnswers, answers_of
from solver.fem.error_bar import bar_from_levels
from solver.fem.level_search import search_levels
from tests.unit.solver.made_up_pencils import Resonances, frequency_of


def test_the_answer_between_the_listed_frequencies_is_within_its_bar():
    problem = Resonances({0: range(3, 9)})
    found = search_levels(problem, 1e-5)
    squared = np.linspace(3.0, 5.0, 173)
    answers = answers_of(problem, found, frequency_of(squared))
    error = answers.error(np.zeros(len(squared), dtype=int))
    assert (np.abs(answers.s - problem.exact(squared))[:, 0, 0] <= error).all()
    assert error.max() < 2e-5
    more = answers_of(problem, found, frequency_of(squared), lambda q: 1e-3 * q)
    np.testing.assert_allclose(more.error(np.zeros(173, dtype=int)) - error, 1e-3 * squared)


def test_the_last_change_of_the_sweep_is_added_twice():
    problem = Resonances({0: (3,)})
    found = search_levels(problem, 1e-3)
    off = dataclasses.replace(found.last.model.bare, poles=found.last.model.poles + 0.01)
    moved = dataclasses.replace(found, last=dataclasses.replace(found.last, before=off))
    squared = np.linspace(3.1, 4.9, 5)
    answers = answers_of(problem, moved, frequency_of(squared))
    other = problem.scattering(None, off.impedance(squared), squared)
    np.testing.assert_allclose(answers.added, 2 * np.abs(answers.s - other)[:, 0, 0])


def made_up(frequency, apart):
    """Three answers 0, d, d + d/10 of S11, with d `apart` at each frequency."""
    none = np.zeros((len(frequency), 1, 1), dtype=complex)
    return BandAnswers(frequency, none, (apart, 0.1 * apart), 0.0 * frequency, 0.05, False)


def test_a_group_of_frequencies_has_a_bar_of_its_own():
    frequency = np.arange(1.0, 7.0)
    apart = np.array([1e-4, 1e-4, 1e-1, 1e-1, 1e-4, 1e-4])
    answers = made_up(frequency, apart)
    together = answers.error(np.zeros(6, dtype=int))
    alone = answers.error(np.array([0, 0, 1, 1, 0, 0]))
    # what is left of a tenth each time: d/10 * (1/10)/(1 - 1/10), four times
    np.testing.assert_allclose(alone, 4 * 0.1 * apart / 9, atol=3e-9, rtol=1e-9)
    assert (together[apart < 1e-2] > 100 * alone[apart < 1e-2]).all()
    np.testing.assert_array_equal(together, bar_from_levels(answers.changes))


def test_two_sets_join_in_order():
    one = made_up(np.array([1.0, 4.0]), np.array([0.1, 0.4]))
    other = made_up(np.array([2.0, 3.0, 5.0]), np.array([0.2, 0.3, 0.5]))
    both = one.joined(other)
    np.testing.assert_array_equal(both.frequency, [1, 2, 3, 4, 5])
    np.testing.assert_array_equal(both.changes[0], [0.1, 0.2, 0.3, 0.4, 0.5])
    assert both.least_ratio == 0.05
