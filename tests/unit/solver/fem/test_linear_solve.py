"""Direct solution: both backends against dense solves, and every way it can refuse."""

import numpy as np
import pytest
from scipy.linalg import eigvalsh
from scipy.sparse import csr_matrix

import solver.fem.linear_solve as module
from solver.errors import GuideproofError, LinearSolveError, ProblemSizeError
from solver.fem.linear_solve import SymmetricSolver, pardiso_is_there, refuse_if_too_large


@pytest.fixture(params=["pardiso", "superlu"])
def backend(request, monkeypatch):
    if request.param == "superlu":
        monkeypatch.setattr(module, "pardiso_is_there", lambda: False)
    elif not pardiso_is_there():
        pytest.skip("no PARDISO here")
    return request.param


def pencil(n, seed=0):
    """Indefinite K - q M of a chain with random links, as upper triangles and as dense ones."""
    rng = np.random.default_rng(seed)
    link = rng.uniform(0.5, 1.5, n - 1)
    k = np.diag(np.append(link, 0) + np.append(0, link)) - np.diag(link, 1) - np.diag(link, -1)
    m = np.diag(rng.uniform(0.5, 1.5, n)) + 0.1 * (np.eye(n, k=1) + np.eye(n, k=-1))
    return upper(k), upper(m), k, m


def upper(dense):
    n = len(dense)
    i, j = np.nonzero(
        np.triu(np.ones((n, n))) * (np.abs(np.subtract.outer(range(n), range(n))) < 2)
    )
    return csr_matrix((dense[i, j], (i, j)), shape=(n, n))


@pytest.mark.parametrize("shift", [-1.0, 0.7, 1.9])
def test_solutions_are_those_of_dense_algebra(backend, shift):
    k, m, dense_k, dense_m = pencil(80)
    right = np.random.default_rng(2).normal(size=(80, 3))
    solver = SymmetricSolver(k, m)
    solver.factorise(5.0)
    solver.factorise(shift)  # the second one reuses the ordering
    exact = np.linalg.solve(dense_k - shift * dense_m, right)
    np.testing.assert_allclose(solver.solve(right), exact, atol=1e-9 * np.abs(exact).max())
    assert solver.factorisations == 2
    # the systems are indefinite, so that a Cholesky factorisation would not do
    if shift > 0:
        values = np.linalg.eigvalsh(dense_k - shift * dense_m)
        assert values[0] < 0 < values[-1]


@pytest.mark.parametrize("seed", range(4))
def test_eigenvalues_below_a_shift_are_counted(seed, backend):
    k, m, dense_k, dense_m = pencil(70, seed)
    solver = SymmetricSolver(k, m)
    values = eigvalsh(dense_k, dense_m)
    for shift in (-0.5, 0.5 * (values[0] + values[1]), 0.9, 2.3, values[-1] + 1.0):
        solver.factorise(float(shift))
        below = int((values < shift).sum())
        assert solver.below == (below if backend == "pardiso" else None)


def test_two_solvers_at_once_keep_apart(backend):
    made = [pencil(n, n) for n in (40, 60)]
    solvers = [SymmetricSolver(k, m) for k, m, _, _ in made]
    for solver in solvers:
        solver.factorise(0.4)
    for solver, (_, _, k, m) in zip(solvers, made, strict=True):
        right = np.ones((len(k), 1))
        np.testing.assert_allclose(solver.solve(right), np.linalg.solve(k - 0.4 * m, right), 1e-8)


def test_singular_matrix_gives_one_clear_error(backend):
    """An unknown that nothing touches: its row is zero, and the load on it has no answer."""
    _, _, dense_k, dense_m = pencil(50)
    dense_k[20], dense_k[:, 20], dense_m[20], dense_m[:, 20] = 0, 0, 0, 0
    solver = SymmetricSolver(upper(dense_k), upper(dense_m))
    with pytest.raises(LinearSolveError, match=r"singular|PARDISO failed|SuperLU failed") as caught:
        solver.factorise(0.7)
        solver.solve(np.ones((50, 1)))
    assert isinstance(caught.value, GuideproofError)
    assert isinstance(caught.value, ArithmeticError)


def test_wrong_answer_is_caught_by_its_residual(backend, monkeypatch):
    k, m, dense_k, dense_m = pencil(50)
    solver = SymmetricSolver(k, m)
    solver.factorise(0.7)
    right = np.random.default_rng(4).normal(size=(50, 2))
    exact = np.linalg.solve(dense_k - 0.7 * dense_m, right)
    off = exact * [1.0, 1.0 + 1e-5]  # one column of two is off
    monkeypatch.setattr(solver._backend, "solve", lambda right: off)
    with pytest.raises(LinearSolveError, match=r"residual .*e-06 of a system of 50 unknowns"):
        solver.solve(right)
    monkeypatch.setattr(solver._backend, "solve", lambda right: np.full_like(exact, np.nan))
    with pytest.raises(LinearSolveError, match="nan"):
        solver.solve(right)


@pytest.mark.parametrize("wrong", [0, 17, 39])
def test_one_wrong_answer_of_many_is_caught(backend, monkeypatch, wrong):
    k, m, dense_k, dense_m = pencil(50)
    solver = SymmetricSolver(k, m)
    solver.factorise(0.7)
    right = np.random.default_rng(4).normal(size=(50, 40)) * np.logspace(-9, 9, 40)
    exact = np.linalg.solve(dense_k - 0.7 * dense_m, right)
    monkeypatch.setattr(solver._backend, "solve", lambda right: exact)
    solver.solve(right)
    off = exact.copy()
    off[:, wrong] *= 1 + 1e-5
    monkeypatch.setattr(solver._backend, "solve", lambda right: off)
    with pytest.raises(LinearSolveError, match=r"residual .*e-0[56] of a system of 50 unknowns"):
        solver.solve(right)
    assert solver.solve(right, checked=False) is off


def test_column_of_zeros_is_solved(backend):
    k, m, _, _ = pencil(30)
    solver = SymmetricSolver(k, m)
    solver.factorise(0.7)
    right = np.zeros((30, 2))
    right[3, 1] = 1.0
    assert not solver.solve(right)[:, 0].any()


def test_product_of_an_upper_triangle():
    k, _, dense, _ = pencil(20)
    x = np.random.default_rng(5).normal(size=(20, 2))
    np.testing.assert_allclose(SymmetricSolver.product(k, x), dense @ x, atol=1e-14)


def test_different_patterns_are_refused():
    k, _, _, _ = pencil(20)
    with pytest.raises(ValueError, match="different patterns"):
        SymmetricSolver(k, csr_matrix(np.eye(20)))


def test_memory_is_asked_for_before_it_is_used():
    with pytest.raises(ProblemSizeError, match=r"7 unknowns need 1000000\.0 GB .*larger s_error"):
        refuse_if_too_large(1e15, 7)
    refuse_if_too_large(1e3, 7)


def test_running_out_of_memory_names_the_size(backend, monkeypatch):
    def fail(matrix):
        raise MemoryError

    k, m, _, _ = pencil(20)
    solver = SymmetricSolver(k, m)
    monkeypatch.setattr(solver._backend, "factorise", fail)
    with pytest.raises(ProblemSizeError, match="20 unknowns do not fit"):
        solver.factorise(0.1)


def test_other_entries_in_the_same_places_are_solved_with_the_same_ordering(backend):
    first, second = pencil(40), pencil(40, seed=1)
    right = np.random.default_rng(2).normal(size=(40, 3))
    solver = SymmetricSolver(*first[:2])
    solver.factorise(0.7)
    solver.take(second[0].data, second[1].data)
    solver.factorise(0.4)
    k, m = second[2:]
    expected = np.linalg.solve(k - 0.4 * m, right)
    assert np.abs(solver.solve(right) - expected).max() < 1e-11 * np.abs(expected).max()


@pytest.mark.parametrize("columns", [1, 7])
@pytest.mark.parametrize("order", ["C", "F"])
def test_products_with_stiffness_and_mass_follow_the_matrices(columns, order):
    rng = np.random.default_rng(3)
    dense = [rng.standard_normal((40, 40)) for _ in range(4)]
    dense = [matrix + matrix.T for matrix in dense]
    solver = SymmetricSolver(*(csr_matrix(np.triu(matrix)) for matrix in dense[:2]))
    x = np.asarray(rng.standard_normal((40, columns)), order=order)
    for stiffness, mass in (dense[:2], dense[2:]):
        solver.take(*(matrix[np.triu_indices(40)] for matrix in (stiffness, mass)))
        np.testing.assert_allclose(solver.times_stiffness(x), stiffness @ x, atol=1e-12)
        np.testing.assert_allclose(solver.times_mass(x), mass @ x, atol=1e-12)
        np.testing.assert_allclose(solver.times_mass(1j * x), 1j * (mass @ x), atol=1e-12)
