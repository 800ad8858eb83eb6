"""A sweep that takes only what the driving port excites, against a dense solution at every q."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix, triu

from solver.fem.reduced_model import sweep
from solver.fem.snapshots import Driven, new_directions
from solver.waves.matched_ports import matched_scattering

SIZE, PORTS = 120, 30
RNG = np.random.default_rng(11)
STIFFNESS = np.diag(np.full(SIZE, 2.0)) - np.eye(SIZE, k=1) - np.eye(SIZE, k=-1)
MASS = (
    np.diag(RNG.uniform(0.5, 1.5, SIZE)) + 0.1 * np.eye(SIZE, k=1) + 0.1 * np.eye(SIZE, k=-1)
) / 400
COLUMNS = RNG.standard_normal((SIZE, PORTS)) * 0.05
BAND = np.linspace(20.0, 30.0, 41)


def admittance(squared):
    """Waves whose cutoffs lie on both sides of the band, the first far below it."""
    cutoff = np.concatenate([[2.0], np.linspace(5.0, 15.0, 9), np.linspace(40, 90, PORTS - 10)])
    left = np.asarray(squared, dtype=complex)[:, None] - cutoff
    return np.where(left.real < 0, -1j * np.sqrt(-left), np.sqrt(left))


def response(impedance):
    return matched_scattering(impedance, admittance(BAND), np.zeros((len(BAND), PORTS)))[:, :, 0]


def exact():
    dense = [COLUMNS.T @ np.linalg.solve(STIFFNESS - q * MASS, COLUMNS) for q in BAND]
    return response(np.array(dense))


def test_answers_for_the_driving_port_are_those_of_the_whole():
    driven = Driven(np.array([0]), admittance)
    found = sweep(
        csr_matrix(triu(STIFFNESS)),
        csr_matrix(triu(MASS)),
        COLUMNS,
        BAND,
        lambda model: response(model.impedance(BAND)),
        1e-9,
        driven=driven,
    )
    assert np.abs(found.response - exact()).max() < 1e-8
    # a few vectors a snapshot, however many waves leave
    assert found.model.basis.shape[1] <= 18 * len(found.shifts) < SIZE


def test_derivatives_of_admittances_are_those_of_a_root():
    taylor = Driven(np.array([0]), admittance).derivatives(25.0)
    assert taylor[:3, 0] == pytest.approx([23**0.5, 0.5 * 23**-0.5, -0.125 * 23**-1.5], rel=1e-9)


def test_directions_are_found_where_divide_and_conquer_gives_up(monkeypatch):
    rows = np.random.default_rng(8).normal(size=(12, 3))
    block, nothing = np.hstack([rows, rows[:, :1]]), np.zeros((12, 0))
    expected = new_directions(nothing, block, np.ones(12))

    def gives_up(*_, **__):
        raise np.linalg.LinAlgError("SVD did not converge")

    monkeypatch.setattr(np.linalg, "svd", gives_up)
    found = new_directions(nothing, block, np.ones(12))
    # three of the four columns are independent
    assert found.shape == expected.shape == (12, 3)
    np.testing.assert_allclose(found @ found.T, expected @ expected.T, atol=1e-12)
