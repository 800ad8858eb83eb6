"""A sweep that takes only what the driving port excites, against a dense solution at every q."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix, triu

from solver.fem.driven_sweep import driven_sweep
from solver.fem.snapshots import Driven, new_directions
from solver.waves.matched_ports import matched_scattering

SIZE, PORTS = 120, 30
RNG = np.random.default_rng(11)
STIFFNESS = np.diag(np.full(SIZE, 2.0)) - np.eye(SIZE, k=1) - np.eye(SIZE, k=-1)
MASS = (
    np.diag(RNG.uniform(0.5, 1.5, SIZE)) + 0.1 * np.eye(SIZE, k=1) + 0.1 * np.eye(SIZE, k=-1)
) / 400
COLUMNS = RNG.standard_normal((SIZE, PORTS)) * 0.05
PENCIL = (csr_matrix(triu(STIFFNESS)), csr_matrix(triu(MASS)), COLUMNS)
BAND = np.linspace(20.0, 30.0, 41)


def admittance(squared):
    """Waves whose cutoffs lie on both sides of the band, the first far below it."""
    cutoff = np.concatenate([[2.0], np.linspace(5.0, 15.0, 9), np.linspace(40, 90, PORTS - 10)])
    left = np.asarray(squared, dtype=complex)[:, None] - cutoff
    return np.where(left.real < 0, -1j * np.sqrt(-left), np.sqrt(left))


def response(impedance, band=BAND):
    return matched_scattering(impedance, admittance(band), np.zeros((len(band), PORTS)))[:, :, 0]


def exact(band=BAND):
    dense = [COLUMNS.T @ np.linalg.solve(STIFFNESS - q * MASS, COLUMNS) for q in band]
    return response(np.array(dense), band)


def test_answers_for_the_driving_port_are_those_of_the_whole():
    found = by_driven_sweep()
    assert np.abs(found.response - exact()).max() < 1e-8
    # a few vectors a snapshot, however many waves leave
    assert found.model.basis.shape[1] <= 26 * len(found.shifts) < SIZE


def by_driven_sweep(shifts=(), band=BAND, tolerance=1e-9):
    return driven_sweep(
        PENCIL,
        band,
        lambda model: response(model.impedance(band), band),
        tolerance,
        Driven(np.array([0]), admittance),
        shifts,
    )


def test_what_suffices_in_a_coarse_space_is_taken_in_a_finer_one():
    band = np.linspace(24.0, 26.0, 11)
    coarse = by_driven_sweep(band=band)
    assert len(coarse.shifts) == 3 and len(coarse.enough) == 1
    fine = by_driven_sweep(coarse.enough, band)
    assert fine.shifts == fine.enough == coarse.enough
    assert np.abs(fine.response - exact(band)).max() < 1e-9
    # the last derivatives tell of the error
    before = response(fine.before.impedance(band), band)
    assert np.abs(before - fine.response).max() == fine.change.max() < 1e-9


def test_where_the_shifts_of_a_coarse_space_do_not_suffice_more_are_taken():
    found = by_driven_sweep((21.0,))
    assert found.shifts[0] == 21.0 and len(found.shifts) > 1
    assert np.abs(found.response - exact()).max() < 1e-8


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
