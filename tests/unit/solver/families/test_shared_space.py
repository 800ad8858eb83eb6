"""A basis on a made-up problem: it answers at its snapshots, and tells what it leaves out."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix, triu

from solver.families.affine_pencil import STRETCHED, affine_pencil, weights_of
from solver.families.shared_ahead import SharedAhead
from solver.families.shared_basis import faint_poles, without
from solver.families.shared_space import Member, SharedSpace
from solver.fem.reduced_model import Projection, ReducedModel

N, NEW, PORTS = 160, 15, 2
BAND = (1.0, 2.0)


def banded(rng, size, low, high):
    """Random symmetric matrix with eigenvalues in a range."""
    turn, _ = np.linalg.qr(rng.normal(size=(size, size)))
    return turn @ np.diag(np.linspace(low, high, size)) @ turn.T


@pytest.fixture(scope="module")
def made():
    """Matrices (stretching, over, fixed) of K and M, whose last unknowns are the next order's."""
    rng = np.random.default_rng(11)
    # the new functions resonate far above the band
    lift = np.diag(np.concatenate([np.zeros(N), np.full(NEW, 400.0)]))
    stiffness = [banded(rng, N + NEW, 0.2, 60.0) + lift, *(banded(rng, N + NEW, 0, 3),) * 2]
    mass = [banded(rng, N + NEW, 0.9, 1.1), *(banded(rng, N + NEW, 0.0, 0.05),) * 2]
    return stiffness, mass, rng.normal(size=(N + NEW, PORTS))


def dense(parts, x):
    return sum(w * part for w, part in zip(weights_of(np.array([x])), parts, strict=True))


def pencil_of(made, size):
    stiffness, mass, columns = made

    def pair(weights):
        return tuple(
            csr_matrix(triu(sum(w * part[:size, :size] for w, part in zip(weights, parts))))  # noqa: B905
            for parts in (stiffness, mass)
        )

    ends = tuple(pair((0.0, x, 1.0 / x)) for x in STRETCHED)
    return affine_pencil(pair((1.0, 0.0, 0.0)), [ends], columns[:size])


def member(x):
    return Member(
        np.array([x]),
        np.ones(PORTS),
        np.ones(PORTS),
        lambda impedance, q: np.linalg.inv(np.eye(PORTS) + 1j * impedance),
    )


def impedance(made, size, x, q):
    stiffness, mass, columns = made
    matrix = dense(stiffness, x)[:size, :size] - q * dense(mass, x)[:size, :size]
    return columns[:size].T @ np.linalg.solve(matrix, columns[:size])


@pytest.fixture(scope="module")
def level(made):
    space = SharedSpace(pencil_of(made, N), np.ones(PORTS, dtype=bool))
    for x, q in ((0.8, 1.2), (1.0, 1.8), (1.3, 1.2)):
        space.take(member(x), q)
    places = np.arange(N)
    return space.level(pencil_of(made, N + NEW), places, [member(1.0)], np.linspace(*BAND, 9))


def test_summands_add_up_to_the_matrices(made):
    pencil = pencil_of(made, N)
    for x in (0.6, 1.0, 1.9):
        for found, parts in zip(pencil.at(np.array([x])), made[:2], strict=True):
            expected = np.triu(dense(parts, x)[:N, :N])
            assert np.abs(found.toarray() - expected).max() < 1e-12 * np.abs(expected).max()


def test_a_basis_answers_where_its_snapshots_were_taken(made, level):
    for x, q in ((0.8, 1.2), (1.0, 1.8), (1.3, 1.2)):
        whole, _, _ = level.models(np.array([x]), np.ones(PORTS), np.ones(PORTS), BAND, 1e-12)
        expected = impedance(made, N, x, q)
        found = whole.impedance(np.array([q]))[0]
        assert np.abs(found - expected).max() < 1e-8 * np.abs(expected).max()


def test_the_smaller_basis_tells_what_the_larger_leaves_out(made, level):
    q = np.array([1.05, 1.45, 1.95])
    for x in (0.9, 1.15):
        whole, inner, _ = level.models(np.array([x]), np.ones(PORTS), np.ones(PORTS), BAND, 1e-12)
        exact = np.array([impedance(made, N, x, at) for at in q])
        wrong = np.abs(whole.impedance(q) - exact).max(axis=(1, 2))
        told = np.abs(whole.impedance(q) - inner.impedance(q)).max(axis=(1, 2))
        assert (wrong <= 2 * told).all()
        assert told.max() > 1e-12


def test_the_next_order_is_told_as_the_new_block_would():
    """With all new functions at hand: r^T (K - q M)^-1 r / 2j, by dense matrices."""
    rng = np.random.default_rng(5)
    own = (banded(rng, NEW, 300.0, 900.0), np.eye(NEW))
    across = rng.normal(size=(2, NEW, 4))
    columns = rng.normal(size=(4 + NEW, PORTS))
    k, m = banded(rng, 4, 0.5, 9.0), np.eye(4)
    model = Projection(np.zeros((0, 4)), k, m, columns[:4]).model()
    assert isinstance(model, ReducedModel)
    nothing = np.zeros((2, NEW, NEW)), np.zeros((2, NEW, 4))
    ahead = SharedAhead(
        np.concatenate([across[:1], nothing[1]]),
        np.concatenate([across[1:], nothing[1]]),
        np.concatenate([own[0][None], nothing[0]]),
        np.concatenate([own[1][None], nothing[0]]),
        columns[4:],
    ).model(model, np.ones(1), np.ones(PORTS), BAND)
    fluxes = rng.normal(size=(3, PORTS, PORTS)) + 1j * rng.normal(size=(3, PORTS, PORTS))
    q = np.array([1.1, 1.5, 1.9])
    found = ahead.change(q, fluxes)
    for at, flux, change in zip(q, fluxes, found, strict=True):
        field = np.linalg.solve(k - at * m, columns[:4] @ flux)
        residual = columns[4:] @ flux - (across[0] - at * across[1]) @ field
        expected = residual.T @ np.linalg.solve(own[0] - at * own[1], residual) / 2j
        assert np.abs(change - expected).max() < 1e-10 * np.abs(expected).max()


def test_only_faint_resonances_about_the_band_are_left_out():
    poles = np.array([0.1, 1.2, 1.5, 1.7, 9.0])
    columns = np.array([[1e-9], [1e-9], [0.3], [1e-3], [1e-9]])
    model = ReducedModel(poles, columns, np.zeros((0, 5)), np.eye(5))
    faint = faint_poles(model, np.ones(1), BAND, 1e-7)
    assert faint.tolist() == [False, True, False, False, False]
    assert without(model, faint).poles.tolist() == [0.1, 1.5, 1.7, 9.0]
