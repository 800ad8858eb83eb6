"""Quadrature rules integrate every monomial of the degree they claim."""

from itertools import product
from math import factorial

import numpy as np
import pytest

from solver.elements.conical_rules import cube_rule, square_rule, tetrahedron_rule, triangle_rule


@pytest.mark.parametrize("points", [1, 2, 4, 7])
@pytest.mark.parametrize(("rule", "dimension"), [(triangle_rule, 2), (tetrahedron_rule, 3)])
def test_simplex_rules_are_exact_to_their_degree(rule, dimension, points):
    X, weights = rule(points)
    assert np.all(weights > 0)
    assert np.all(X > 0)
    assert np.all(X.sum(axis=0) < 1)
    for powers in product(range(2 * points), repeat=dimension):
        if sum(powers) > 2 * points - 1:
            continue
        exact = np.prod([float(factorial(n)) for n in powers])
        exact /= factorial(sum(powers) + dimension)
        found = weights @ np.prod([x**n for x, n in zip(X, powers, strict=True)], axis=0)
        assert found == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("points", [1, 3, 6])
@pytest.mark.parametrize(("rule", "dimension"), [(square_rule, 2), (cube_rule, 3)])
def test_cube_rules_are_exact_to_their_degree(rule, dimension, points):
    X, weights = rule(points)
    top = 2 * points - 1
    found = weights @ np.prod(X**top, axis=0)
    assert found == pytest.approx((1.0 / (top + 1)) ** dimension, rel=1e-12)


def test_a_rule_is_not_exact_beyond_its_degree():
    X, weights = tetrahedron_rule(2)
    assert weights @ X[0] ** 4 != pytest.approx(factorial(4) / factorial(7), rel=1e-6)
