"""Sparse cell matrices of hexahedra, beside sums over the points with all shape functions."""

import numpy as np
import pytest

from solver.elements.conical_rules import cube_rule
from solver.elements.edge_hexahedra import HexNedelec
from solver.fem.edge_couplings import couplings

ORDER, CELLS = 2, 2
POINTS = ORDER + 2
X, WEIGHTS = cube_rule(POINTS)


def metric(seed, degree):
    """A symmetric positive metric (3, 3, cells, points) that varies with a degree."""
    rng = np.random.default_rng(seed)
    powers = np.stack([np.ones(X.shape[1]), *(X**degree)])
    root = rng.uniform(-0.2, 0.2, (3, 3, CELLS, 4)) @ powers + np.eye(3)[:, :, None, None]
    return np.einsum("ikcq,jkcq->ijcq", root, root)


def dense(values, m):
    flux = np.einsum("abcq,jbq->cjaq", m * WEIGHTS, values)
    return np.einsum("iaq,cjaq->cij", values, flux)


def gathered(curl_metric, mass_metric, skip):
    size = HexNedelec(ORDER).size
    both = np.zeros((2, CELLS, size, size))
    for found in couplings(ORDER, curl_metric, mass_metric, POINTS, skip):
        assert (found.row <= found.column).all()
        place = (found.cell, found.row, found.column)
        # no pair is told twice
        assert not both[(slice(None), *place)].any()
        both[0][place], both[1][place] = found.curl, found.mass
    return both


@pytest.mark.parametrize("degree", [0, 1, 2])
def test_entries_are_those_of_quadrature(degree):
    element = HexNedelec(ORDER)
    metrics = metric(4127, degree), metric(988, degree)
    skip = np.zeros((CELLS, element.size), dtype=bool)
    expected = dense(element.curls(X), metrics[0]), dense(element.values(X), metrics[1])
    for found, exact in zip(gathered(*metrics, skip), expected, strict=True):
        np.testing.assert_allclose(found, np.triu(exact), atol=1e-12 * np.abs(exact).max())


def test_a_cube_couples_few_and_no_more_than_there_are():
    element = HexNedelec(ORDER)
    unit = np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, CELLS, X.shape[1]))
    skip = np.zeros((CELLS, element.size), dtype=bool)
    for found, values in zip(
        gathered(unit, unit, skip), (element.curls(X), element.values(X)), strict=True
    ):
        exact = np.abs(np.triu(dense(values, unit))) > 1e-10
        assert np.count_nonzero(found) == np.count_nonzero(exact) < 0.2 * exact.size


def test_functions_that_are_left_out_have_no_entries():
    element, unit = (
        HexNedelec(ORDER),
        np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, CELLS, X.shape[1])),
    )
    skip = np.zeros((CELLS, element.size), dtype=bool)
    skip[0, 5] = skip[1, 7:] = True
    for matrix in gathered(unit, unit, skip):
        assert not matrix[0, 5].any() and not matrix[0, :, 5].any() and matrix[0].any()
        assert not matrix[1, 7:].any() and not matrix[1, :, 7:].any()
