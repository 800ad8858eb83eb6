"""The reduced model with complex symmetric matrices, against dense solutions."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix

import solver.fem.linear_solve as linear_solve
from solver.fem.linear_solve import pardiso_is_there
from solver.fem.lossy_model import LossyModel
from solver.fem.reduced_model import sweep
from solver.fem.snapshots import new_directions

SQUARED = np.linspace(3.0, 5.0, 21)


@pytest.fixture(params=["pardiso", "superlu"])
def _backend(request, monkeypatch):
    if request.param == "superlu":
        monkeypatch.setattr(linear_solve, "pardiso_is_there", lambda: False)
    elif not pardiso_is_there():
        pytest.skip("no PARDISO here")


def chain(n=60, loss=0.1, magnetic=0.0):
    """Linear elements on a line whose second half loses power: K, M and port columns."""
    fills = np.where(np.arange(n) < n // 2, 1.0, 2.0 - 2.0j * loss)
    inverse = np.where(np.arange(n) < n // 2, 1.0, 1 / (1.5 - 1.5j * magnetic))
    k, m = np.zeros((n + 1, n + 1), complex), np.zeros((n + 1, n + 1), complex)
    for i in range(n):
        both = np.ix_((i, i + 1), (i, i + 1))
        k[both] += inverse[i] * n / 10 * np.array([[1, -1], [-1, 1]])
        m[both] += fills[i] * 10 / (6 * n) * np.array([[2, 1], [1, 2]])
    columns = np.zeros((n + 1, 2))
    columns[0, 0] = columns[-1, 1] = 1.0
    return k, m, columns


def upper(matrix):
    matrix = matrix if matrix.imag.any() else matrix.real
    return csr_matrix(np.triu(matrix))


def loaded(impedance, admittance=0.7):
    z = 1j * admittance * impedance
    unit = np.eye(z.shape[-1])
    return np.linalg.solve(unit + z, z - unit)


def dense_scattering(k, m, columns, q):
    x = np.linalg.solve(k - q * m + 0.7j * columns @ columns.T, 2j * 0.7 * columns)
    return columns.T @ x - np.eye(columns.shape[1])


@pytest.mark.usefixtures("_backend")
@pytest.mark.parametrize(("loss", "magnetic"), [(0.1, 0.0), (0.0, 0.3), (1e-6, 0.0), (3.0, 0.5)])
def test_the_whole_band_agrees_with_dense_solutions(loss, magnetic):
    k, m, columns = chain(loss=loss, magnetic=magnetic)
    found = sweep(
        upper(k), upper(m), columns, SQUARED, lambda z: loaded(z.impedance(SQUARED)), 1e-10, (),
        None, True,
    )  # fmt: skip
    assert isinstance(found.model, LossyModel)
    exact = np.array([dense_scattering(k, m, columns, q) for q in SQUARED])
    np.testing.assert_allclose(found.response, exact, atol=1e-8)
    # passive: nothing comes back that has not entered
    assert np.linalg.norm(found.response, 2, axis=(1, 2)).max() < 1 + 1e-9
    assert len(found.shifts) < 8


def test_a_snapshot_without_a_direction_of_its_own_settles_nothing(monkeypatch):
    """What it would have changed is not known: the change before it stands."""
    k, m, columns = chain()
    given = []

    def starved(basis, block, scale):
        directions = new_directions(basis, block, scale)
        given.append(basis.shape[1])
        return directions if len(given) < 4 else directions[:, :0]

    monkeypatch.setattr("solver.fem.reduced_model.new_directions", starved)
    squared = np.linspace(3.0, 20.0, 21)
    exact = np.array([columns.T @ np.linalg.solve(k - q * m, columns) for q in squared])
    found = sweep(upper(k), upper(m), columns, squared, lambda z: z.impedance(squared), 1e-14)
    assert len(found.shifts) == 4
    assert 0 < np.abs(found.response - exact).max() <= found.change.max()


def test_fields_are_those_of_the_mesh():
    k, m, columns = chain()
    found = sweep(upper(k), upper(m), columns, SQUARED, lambda z: z.impedance(SQUARED), 1e-10).model
    load = np.array([1.0 + 0.5j, -0.2])
    expected = np.linalg.solve(k - 4.1 * m, columns @ load)
    np.testing.assert_allclose(found.field(4.1, load), expected, atol=1e-8 * abs(expected).max())


def test_poles_are_complex_and_decay():
    k, m, columns = chain(loss=0.2)
    found = sweep(upper(k), upper(m), columns, SQUARED, lambda z: z.impedance(SQUARED), 1e-10).model
    exact = np.linalg.eigvals(np.linalg.solve(m, k))
    inside = found.poles[(found.poles.real > 3.0) & (found.poles.real < 5.0)]
    assert inside.size
    assert (inside.imag > 0).all()
    for pole in inside:
        assert np.abs(exact - pole).min() < 1e-7 * abs(pole)


def test_a_matrix_that_cannot_be_diagonalised_is_answered():
    """Two equal poles with one mode, as at an exceptional point."""
    k = np.array([[3 + 1j, 1.0], [1.0, 3 - 1j]])  # eigenvalue 3 twice, one eigenvector
    assert np.linalg.cond(np.linalg.eig(k)[1]) > 1e6
    columns = np.eye(2)
    model = LossyModel.of(k, np.eye(2), columns, np.eye(2))
    found = model.impedance(SQUARED[SQUARED != 3.0])
    exact = [np.linalg.inv(k - q * np.eye(2)) for q in SQUARED[SQUARED != 3.0]]
    np.testing.assert_allclose(found, exact, rtol=1e-12)
