"""The search over rising orders, on a part whose exact answer is known."""

import io

import numpy as np
import pytest

from solver.errors import ProblemSizeError
from solver.fem.level_search import search_levels
from solver.progress import ProgressLine
from tests.unit.solver.made_up_pencils import SQUARED, Resonances


def true_error(problem, found):
    return np.abs(found.s - problem.exact(SQUARED))[:, 0, 0]


@pytest.mark.parametrize("s_error", [1e-3, 1e-5, 1e-7])
def test_the_bar_holds_and_is_under_what_was_asked(s_error):
    problem = Resonances({0: range(3, 11)})
    found = search_levels(problem, s_error)
    assert found.reached
    assert (true_error(problem, found) <= found.error).all()
    assert found.error.max() <= s_error
    # it stops at the first order that does it
    assert [step["bar"] <= s_error for step in found.steps] == [False] * (len(found.steps) - 1) + [
        True
    ]
    assert problem.asked == list(range(1, found.order + 1))


def test_what_cannot_be_had_is_said_and_the_best_answer_kept():
    problem = Resonances({0: (3, 4)})
    found = search_levels(problem, 1e-9)
    assert not found.reached
    assert (found.order, found.refinement) == (4, 0)
    assert found.error.max() > 1e-9
    assert (true_error(problem, found) <= found.error).all()
    assert len(found.levels) == 3


def test_a_finer_mesh_follows_and_is_compared_with_itself_alone():
    problem = Resonances({0: (3,), 1: (3, 5)}, meshes=(0.05, 0.0))
    told = []
    found = search_levels(problem, 1e-4, told.append)
    steps = ["order 3, mesh 1, step 1", "order 3, mesh 2, step 2", "order 5, mesh 2, step 3"]
    assert told == [f"{step} of at most 3" for step in steps]
    assert problem.asked == [1, 2, 3, 1, 2, 3, 5]
    assert (found.order, found.refinement) == (5, 1)
    assert (true_error(problem, found) <= found.error).all()
    assert [(step["refinement"], step["order"]) for step in found.steps] == [(0, 3), (1, 3), (1, 5)]


class TooLarge(Resonances):
    """Problems whose orders beyond one do not fit into memory."""

    def spaces(self, mesh, orders):
        for order, space in zip(orders, super().spaces(mesh, orders), strict=True):
            if order > self.last:
                raise ProblemSizeError("so many unknowns do not fit")
            yield space


def test_an_order_that_does_not_fit_leaves_the_answer_before():
    problem, told = TooLarge({0: (3, 4)}), []
    problem.last = 3
    found = search_levels(problem, 1e-9, told.append)
    assert (found.order, found.reached) == (3, False)
    assert (true_error(problem, found) <= found.error).all()
    assert told[-1] == "so many unknowns do not fit; the answer before it is kept"
    problem.last = 2
    with pytest.raises(ProblemSizeError):
        search_levels(problem, 1e-9)


class Interrupted(Resonances):
    """Problems whose second or first order is broken off."""

    def spaces(self, mesh, orders):
        for order, space in zip(orders, super().spaces(mesh, orders), strict=True):
            if order > self.last:
                raise KeyboardInterrupt
            yield space


@pytest.mark.parametrize(("last", "keeps"), [(4, True), (4, False), (2, True)])
def test_an_interrupt_ends_it_with_what_is_finished_if_that_is_wanted(last, keeps):
    problem = Interrupted({0: (3, 4, 5)})
    problem.last = last
    progress = ProgressLine(io.StringIO(), keeps=keeps)
    if not keeps or last < 3:
        with pytest.raises(KeyboardInterrupt):
            search_levels(problem, 1e-12, progress)
        assert not progress.interrupted
        return
    found = search_levels(problem, 1e-12, progress)
    assert progress.interrupted
    assert (found.order, found.reached) == (4, False)
    assert (true_error(problem, found) <= found.error).all()


def test_a_wave_that_is_wanted_more_exactly_has_a_larger_bar():
    class Wanted(Resonances):
        def weights(self, first):
            return np.array([10.0])

    plain, wanted = (search_levels(kind({0: (4,)}), 1e-9) for kind in (Resonances, Wanted))
    # both ends of S11 carry the weight; round-off is not weighted
    np.testing.assert_allclose(wanted.error, 100 * plain.error, rtol=1e-3)
