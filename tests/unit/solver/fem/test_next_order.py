"""What the next order would change, beside the answer of the whole next order."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from solver.fem.edge_space import edge_space, places_in_next
from solver.fem.lossy_model import LossyModel
from solver.fem.next_order import NewFunctions, next_order
from solver.fem.reduced_model import ReducedModel

OLD, NEW, PORTS = 7, 5, 2
SQUARED = np.linspace(3.0, 5.0, 9)
ADMITTANCE = np.array([1.5, 2.0])


def pencil(seed, coupling=0.0, new_columns=1e-3):
    """K, M and port columns of old and new functions."""
    rng = np.random.default_rng(seed)
    k = np.diag(np.concatenate([np.linspace(1.0, 30.0, OLD), np.linspace(40.0, 90.0, NEW)]))
    m = np.eye(OLD + NEW)
    between = coupling * rng.standard_normal((OLD, NEW))
    k[:OLD, OLD:], k[OLD:, :OLD] = between, between.T
    columns = rng.standard_normal((OLD + NEW, PORTS))
    columns[OLD:] *= new_columns
    return k, m, columns


def model_of(k, m, columns):
    if np.iscomplexobj(k):
        return LossyModel.of(k, m, columns, np.eye(len(k)))
    half = np.linalg.inv(np.linalg.cholesky(m))
    poles, vectors = np.linalg.eigh(half @ k @ half.T)
    modes = half.T @ vectors
    return ReducedModel(poles, modes.T @ columns, np.eye(len(k)), modes)


def scattering(impedance):
    half = np.sqrt(ADMITTANCE)
    z = 1j * half[:, None] * impedance * half
    return np.linalg.solve(np.eye(PORTS) + z, z - np.eye(PORTS))


def fluxes(impedance, squared):
    load = np.eye(PORTS) + 1j * ADMITTANCE[:, None] * impedance
    return 2j * np.linalg.solve(load, np.broadcast_to(np.diag(np.sqrt(ADMITTANCE)), load.shape))


def told_and_true(k, m, columns, low=None):
    """The change that is told, and that of the whole problem; `low` is the old problem."""
    old = np.arange(OLD)
    low = low or (k[:OLD, :OLD], m[:OLD, :OLD], columns[:OLD])
    model, whole = model_of(*low), model_of(k, m, columns)
    upper = (csr_matrix(np.triu(k)), csr_matrix(np.triu(m)))
    pattern = csr_matrix((np.abs(upper[0]) + np.abs(upper[1])) > 0)
    k_upper, m_upper = (csr_matrix(pattern.shape) for _ in range(2))
    i, j = pattern.nonzero()
    k_upper = csr_matrix((k[i, j], (i, j)), shape=k.shape)
    m_upper = csr_matrix((m[i, j] + 0.0 * k[i, j], (i, j)), shape=k.shape)
    new = NewFunctions(old, (k_upper, m_upper, columns), SQUARED)
    step = next_order(model, new, fluxes, np.ones(PORTS, dtype=bool))
    told = step.change(SQUARED, fluxes(model.impedance(SQUARED), SQUARED))
    return told, scattering(whole.impedance(SQUARED)) - scattering(model.impedance(SQUARED))


def test_what_new_functions_bring_by_themselves_is_exact_to_first_order():
    told, true = told_and_true(*pencil(1))
    assert np.abs(true).max() > 1e-9
    np.testing.assert_allclose(told, true, atol=0.03 * np.abs(true).max())


@pytest.mark.parametrize("seed", range(4))
def test_coupled_new_functions_are_told_within_a_factor(seed):
    told, true = told_and_true(*pencil(seed, coupling=0.5, new_columns=0.05))
    ratio = np.abs(told).max() / np.abs(true).max()
    assert 0.5 < ratio < 2.0


@pytest.mark.parametrize("loss", [0.02j, 0.3j])
def test_what_new_functions_bring_is_told_of_parts_that_lose_power(loss):
    k, m, columns = pencil(1)
    told, true = told_and_true(k * (1 + loss), m * (1 - 0.5 * loss), columns)
    assert np.abs(true).max() > 1e-9
    np.testing.assert_allclose(told, true, atol=0.03 * np.abs(true).max())
    low = tuple(part[:OLD, :OLD] * (1 + loss) * (1 + 1e-6) for part in (k, m))
    columns[OLD:] = 1e-12
    told, true = told_and_true(k * (1 + loss), m * (1 + loss), columns, (*low, columns[:OLD]))
    np.testing.assert_allclose(told, true, atol=1e-3 * np.abs(true).max())


def test_integrals_that_change_with_the_quadrature_are_part_of_it():
    k, m, columns = pencil(2, new_columns=0.0)
    rng = np.random.default_rng(5)
    off = rng.standard_normal((OLD, OLD))
    low = (
        k[:OLD, :OLD] + 1e-6 * (off + off.T),
        m[:OLD, :OLD] + 1e-6 * np.diag(rng.standard_normal(OLD)),
        columns[:OLD] * (1 + 1e-6 * rng.standard_normal((OLD, PORTS))),
    )
    k[OLD:, OLD:] += 0.1  # coupled with each other, driven by nothing
    columns[OLD] = 1e-12
    told, true = told_and_true(k, m, columns, low)
    np.testing.assert_allclose(told, true, atol=1e-3 * np.abs(true).max())


def test_a_field_keeps_its_values_in_the_next_order():
    line = np.array([0.0, 0.6, 1.0])

    def bent(parameters):
        u, v, w = parameters
        points = np.stack([u, v + 0.2 * u * u, w * (1 + 0.1 * v)])
        one = np.ones_like(u)
        slopes = np.array(
            [[one, 0 * u, 0 * u], [0.4 * u, one, 0 * u], [0 * u, 0.1 * w, 1 + 0.1 * v]]
        )
        return points, slopes

    mesh = hexahedral_mesh([Block((line, line, line), bent, {"u0": "port1", "w1": "port2"})])
    space, following = edge_space(mesh, 3), edge_space(mesh, 4)
    x, y = np.zeros(space.n_dofs), np.zeros(following.n_dofs)
    x[space.free_dofs] = np.random.default_rng(3).standard_normal(len(space.free_dofs))
    y[following.free_dofs[places_in_next(space, following)]] = x[space.free_dofs]
    at = np.random.default_rng(4).random((3, 6))
    _, before = space.electric_field(x, at)
    _, after = following.electric_field(y, at)
    np.testing.assert_allclose(after, before, atol=1e-12)


def test_tetrahedra_are_not_nested():
    from skfem import MeshTet

    mesh = MeshTet()
    mesh = type(mesh)(mesh.p, np.sort(mesh.t, axis=0))
    with pytest.raises(ValueError, match="not nested"):
        places_in_next(edge_space(mesh, 1), edge_space(mesh, 2))
