"""The next order, made while a sweep runs."""

import numpy as np
import pytest

from geometries import RotatingJoint
from geometries.shapes.guides import CircularGuide
from solver.errors import ProblemSizeError
from solver.fem import level_ladder
from solver.fem.level_search import search_levels
from solver.parts.quarter_solver import quarter_problem

JOINT = RotatingJoint(CircularGuide(23e-3), 0.6e-3, 30e-3, 15e-3, 17.5e-3, 8e-3, mode="TE11")
BAND = np.linspace(8.6e9, 9.6e9, 5)


def searched():
    return search_levels(quarter_problem(JOINT, BAND, 2e-2), 2e-2)


def test_it_is_told_alike_before_and_after_the_sweep(monkeypatch):
    beside = searched()
    monkeypatch.setattr(level_ladder, "_BESIDE_A_SWEEP", 0)
    after = searched()
    assert beside.reached and len(beside.ahead) == 2
    assert beside.factorisations == after.factorisations
    np.testing.assert_allclose(beside.error, after.error, rtol=1e-6)


@pytest.mark.parametrize("beside", [0, 10**9])
def test_one_that_does_not_fit_is_told_either_way(monkeypatch, beside):
    def refused(*_):
        raise ProblemSizeError("no room")

    monkeypatch.setattr(level_ladder, "_BESIDE_A_SWEEP", beside)
    monkeypatch.setattr(level_ladder, "NewFunctions", type("Refused", (), {"__new__": refused}))
    with pytest.raises(ProblemSizeError, match="no room"):
        searched()
