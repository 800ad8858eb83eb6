"""The reduced model against dense solutions of small pencils."""

import numpy as np
import pytest
from scipy.linalg import block_diag
from scipy.sparse import csr_matrix

from solver.reduced_model import sweep

SQUARED = np.linspace(3.0, 5.0, 21)


def chain(n, stretch=1.0):
    """Linear elements on a line: stiffness and mass (n, n)."""
    k = stretch * (2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)) * (n / 10)
    m = (4 * np.eye(n) + np.eye(n, k=1) + np.eye(n, k=-1)) * 10 / (6 * n)
    return k, m


def upper(matrix):
    return csr_matrix(np.triu(matrix))


def dense_impedance(k, m, columns):
    return np.array([columns.T @ np.linalg.solve(k - q * m, columns) for q in SQUARED])


def swept(k, m, columns):
    return sweep(upper(k), upper(m), columns, SQUARED, lambda z: z.impedance(SQUARED) + 0j, 1e-10)


def test_the_whole_band_agrees_with_dense_solutions():
    k, m = chain(60)
    columns = np.zeros((60, 2))
    columns[0, 0] = columns[-1, 1] = 1.0
    found = swept(k, m, columns)
    exact = dense_impedance(k, m, columns)
    np.testing.assert_allclose(found.response.real, exact, atol=1e-8 * np.abs(exact).max())
    assert len(found.shifts) < 8


def test_unknowns_that_no_port_reaches_are_left_out():
    (k1, m1), (k2, m2) = chain(40), chain(50, 1.3)
    mixed = np.random.default_rng(7).permutation(90)
    k, m = (block_diag(a, b)[np.ix_(mixed, mixed)] for a, b in ((k1, k2), (m1, m2)))
    columns = np.zeros((90, 2))
    ends = np.argsort(mixed)[[0, 39]]
    columns[ends, [0, 1]] = 1.0
    columns[np.argsort(mixed)[60]] = 1e-14  # round-off of an integral that is zero
    found = swept(k, m, columns)
    exact = dense_impedance(k, m, columns)
    np.testing.assert_allclose(found.response.real, exact, atol=1e-8 * np.abs(exact).max())
    assert found.model.basis.shape[0] == 90
    assert not found.model.basis[mixed >= 40].any()
    field = found.model.field(4.0, np.array([1.0 + 0j, 0.0]))
    expected = np.linalg.solve(k - 4.0 * m, columns[:, 0])
    assert field == pytest.approx(expected, abs=1e-7 * np.abs(expected).max())
