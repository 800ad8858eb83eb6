"""What the next degree would change, beside the answer of the whole next degree."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix

from solver.fem.lossy_model import LossyModel
from solver.fem.reduced_model import ReducedModel
from solver.loads.next_degree import next_degree

OLD, NEW, PORTS = 7, 5, 2
#: The first four of the old functions resonate in the band or near.
LOW = 4
SQUARED = np.linspace(3.0, 5.0, 9)
ADMITTANCE = np.array([1.5, 2.0])


def pencil(seed, coupling=0.0, new_columns=1e-3, loss=0.0):
    """K, M and port columns of old and new functions, coupled but for the lowest."""
    rng = np.random.default_rng(seed)
    k = np.diag(np.concatenate([np.linspace(1.0, 30.0, OLD), np.linspace(40.0, 90.0, NEW)]))
    between = 0.05 * rng.standard_normal((OLD, NEW))
    between[LOW:] *= 20 * coupling
    k[:OLD, OLD:], k[OLD:, :OLD] = between, between.T
    columns = rng.standard_normal((OLD + NEW, PORTS))
    columns[OLD:] *= new_columns
    lossy = 1 - 1j * loss * rng.uniform(0.2, 1.0, OLD + NEW)
    return k, np.diag(lossy if loss else lossy.real), columns


def model_of(k, m, columns):
    if np.iscomplexobj(m):
        return LossyModel.of(k, m, columns, np.eye(len(k)))
    poles, modes = np.linalg.eigh(k)
    return ReducedModel(poles, modes.T @ columns, np.eye(len(k)), modes)


def scattering(impedance):
    half = np.sqrt(ADMITTANCE)
    z = 1j * half[:, None] * impedance * half
    return np.linalg.solve(np.eye(PORTS) + z, z - np.eye(PORTS))


def fluxes(impedance, squared):
    load = np.eye(PORTS) + 1j * ADMITTANCE[:, None] * impedance
    return 2j * np.linalg.solve(load, np.broadcast_to(np.diag(np.sqrt(ADMITTANCE)), load.shape))


def told_and_true(k, m, columns, lowest=OLD):
    """The change that is told, and that of the whole problem."""
    model, whole = model_of(k[:OLD, :OLD], m[:OLD, :OLD], columns[:OLD]), model_of(k, m, columns)
    i, j = np.triu(np.ones_like(k)).nonzero()
    upper = [csr_matrix((each[i, j], (i, j)), shape=k.shape) for each in (k, m)]
    moving = np.ones(PORTS, dtype=bool)
    step = next_degree(model, lowest, (*upper, columns), fluxes, SQUARED, moving)
    told = step.change(SQUARED, fluxes(model.impedance(SQUARED), SQUARED))
    return told, scattering(whole.impedance(SQUARED)) - scattering(model.impedance(SQUARED))


@pytest.mark.parametrize("loss", [0.0, 0.2])
@pytest.mark.parametrize("seed", range(3))
def test_what_new_functions_bring_by_themselves_is_exact_to_first_order(seed, loss):
    told, true = told_and_true(*pencil(seed, loss=loss))
    assert np.abs(true).max() > 1e-7
    np.testing.assert_allclose(told, true, atol=0.03 * np.abs(true).max())


@pytest.mark.parametrize("loss", [0.0, 0.2])
def test_what_is_solved_along_acts_back_on_new_functions(loss):
    problem = pencil(3, coupling=5.0, new_columns=0.02, loss=loss)
    alone, true = told_and_true(*problem)
    told, _ = told_and_true(*problem, lowest=LOW)
    size = np.abs(true).max()
    assert np.abs(told - true).max() < 0.02 * size < 0.2 * np.abs(alone - true).max()


def test_a_loss_changes_what_is_told():
    (told, true), (without, _) = (told_and_true(*pencil(1, loss=loss)) for loss in (0.2, 0.0))
    assert np.abs(told - without).max() > 0.1 * np.abs(true).max()
