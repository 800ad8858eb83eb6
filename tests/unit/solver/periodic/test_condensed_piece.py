"""A strip of squares with linear elements, condensed, beside all of its unknowns."""

import numpy as np
import pytest
from numpy.polynomial import chebyshev
from scipy.linalg import eigh
from scipy.sparse import csr_matrix, triu

from solver.fem.level_problem import Pencil
from solver.periodic.bloch_waves import PeriodicPiece
from solver.periodic.condensed_piece import condensed, cut_fields
from solver.periodic.piece_chain import PieceChain

ACROSS, ALONG = 7, 6
SHIFTS = (3.0, 11.0)


def line(cells):
    """K and M of linear elements of length 1/6."""
    h, k, m = 1 / ALONG, np.zeros([cells + 1] * 2), np.zeros([cells + 1] * 2)
    for i in range(cells):
        k[i : i + 2, i : i + 2] += np.array([[1, -1], [-1, 1]]) / h
        m[i : i + 2, i : i + 2] += np.array([[2, 1], [1, 2]]) * h / 6
    return k, m


def strip(along):
    """K and M, dense, of a strip; unknowns column by column."""
    (kx, mx), (ky, my) = line(along), line(ACROSS - 1)
    return np.kron(kx, my) + np.kron(mx, ky), np.kron(mx, my)


def pencil(along, columns=None):
    both = strip(along)
    n, places = len(both[1]), triu(csr_matrix(both[1])).nonzero()
    k, m = (csr_matrix((matrix[places], places), shape=(n, n)) for matrix in both)
    return Pencil(k, m, np.zeros((n, 0)) if columns is None else columns)


def ends(along):
    return np.arange(ACROSS), along * ACROSS + np.arange(ACROSS)


@pytest.fixture(scope="module")
def cut():
    return cut_fields(pencil(ALONG), *ends(ALONG), SHIFTS)


@pytest.fixture(scope="module")
def cell(cut):
    return condensed(pencil(ALONG), ends(ALONG), cut, SHIFTS)


@pytest.fixture(scope="module")
def end(cut):
    """A piece with a port at its far side, driven evenly."""
    columns = np.zeros((4 * ACROSS, 1))
    columns[:ACROSS, 0] = line(ACROSS - 1)[1].sum(axis=1)
    return condensed(pencil(3, columns), ends(3)[1:], cut, SHIFTS, (0,))


def test_the_field_at_rest_is_the_only_one_kept_apart(cut):
    assert cut.still.sum() == 1
    still = cut.fields[:, cut.still][:, 0]
    np.testing.assert_allclose(still, still[0], rtol=1e-6)


def test_fields_on_a_cut_are_the_modes_that_reach_it(cut):
    """Each mode of the strip dies out at its own rate; the slowest have to be spanned best."""
    ky, my = line(ACROSS - 1)
    cutoffs, modes = eigh(ky, my)
    basis, _ = np.linalg.qr(cut.fields)
    missed = np.linalg.norm(modes - basis @ (basis.T @ modes), axis=0)
    reach = np.exp(-np.sqrt(np.maximum(cutoffs - SHIFTS[0], 0.0)))
    assert (missed * reach < 3e-4).all()
    assert (np.diff(cut.sizes[~cut.still]) <= 0).all()


def test_fields_and_matrices_of_a_piece_belong_together(cell):
    k, m = strip(ALONG)
    np.testing.assert_allclose(cell.stiffness, cell.fields.T @ k @ cell.fields, atol=1e-10)
    np.testing.assert_allclose(cell.mass, cell.fields.T @ m @ cell.fields, atol=1e-12)
    # the fields inside vanish on the cuts
    inside = cell.fields[:, cell.cuts * cell.on_cut :]
    assert inside.shape[1] == len(cell.inside)
    assert not inside[np.concatenate(ends(ALONG))].any()


def test_a_field_on_a_cut_is_continued_as_the_field_equation_asks(cell):
    k, m = strip(ALONG)
    inside = np.setdiff1d(np.arange(len(k)), np.concatenate(ends(ALONG)))
    continued = cell.fields[:, : cell.cuts * cell.on_cut]
    left = ((k - SHIFTS[0] * m) @ continued)[inside]
    np.testing.assert_allclose(left, 0.0, atol=1e-10 * np.abs(k @ continued).max())


def test_resonances_of_a_piece_are_those_of_all_unknowns_from_above(cell):
    exact = eigh(*strip(ALONG), eigvals_only=True)
    found = eigh(cell.stiffness, cell.mass, eigvals_only=True)
    # a subspace never resonates lower (Rayleigh and Ritz)
    assert (found > exact[: len(found)] - 1e-9).all()
    near = exact < SHIFTS[1]
    assert near.sum() == 3
    np.testing.assert_allclose(found[: near.sum()], exact[near], atol=1e-7)


def test_the_wave_of_a_period_is_that_of_linear_elements(cut, cell):
    """cos(one element) = (1 - q h^2/3)/(1 + q h^2/6), over ALONG of them, uniform across."""
    wanted = line(ACROSS - 1)[1].sum(axis=1) @ cut.fields
    q = np.linspace(*SHIFTS, 6)
    one = (1 - q / (3 * ALONG**2)) / (1 + q / (6 * ALONG**2))
    exact = chebyshev.chebval(one, np.eye(ALONG + 1)[ALONG])
    found = PeriodicPiece(cell, wanted).cosines(q)
    np.testing.assert_allclose(found, exact, atol=1e-7)


@pytest.mark.parametrize("count", [0, 1, 3])
def test_a_chain_resonates_as_the_strip_it_is_made_of(end, cell, count):
    chain = PieceChain(end, cell, count)
    joined = chain.pencil()
    k, m = (matrix.toarray() for matrix in (joined.stiffness, joined.mass))
    k, m = (matrix + np.triu(matrix, 1).T for matrix in (k, m))
    assert len(k) == chain.unknowns
    exact = eigh(*strip(6 + count * ALONG), eigvals_only=True)
    near = exact[exact < SHIFTS[1]]
    found = eigh(k, m, eigvals_only=True)[: len(near)]
    np.testing.assert_allclose(found, near, atol=1e-6)
    # the answer at the two ports, one at either end
    q = 4.4
    full = strip(6 + count * ALONG)
    drive = np.zeros((len(full[0]), 2))
    drive[:ACROSS, 0] = drive[-ACROSS:, 1] = line(ACROSS - 1)[1].sum(axis=1)
    exact = drive.T @ np.linalg.solve(full[0] - q * full[1], drive)
    found = joined.columns.T @ np.linalg.solve(k - q * m, joined.columns)
    np.testing.assert_allclose(found, exact, rtol=1e-6)


def test_sums_over_the_pieces_are_those_of_the_whole(end, cell):
    chain = PieceChain(end, cell, 2)
    m = chain.pencil().mass.toarray()
    m = m + np.triu(m, 1).T
    amplitudes = np.random.default_rng(90127).normal(size=(chain.unknowns, 3))
    np.testing.assert_allclose(
        chain.summed(end.mass, cell.mass, amplitudes), amplitudes.T @ m @ amplitudes, rtol=1e-10
    )


def test_a_coarser_chain_is_a_subspace(cut, end, cell):
    chain = PieceChain(end, cell, 1)
    kept = np.flatnonzero(cut.still | (cut.sizes > 1e-2))
    fewer = chain.coarser(kept, 1e-3)
    assert 0 < fewer.unknowns < chain.unknowns
    assert fewer.cell.on_cut == len(kept) and (fewer.cell.inside > 1e-3).all()
    exact, found = (
        eigh(
            *(x.toarray() + np.triu(x.toarray(), 1).T for x in (p.stiffness, p.mass)),
            eigvals_only=True,
        )
        for p in (chain.pencil(), fewer.pencil())
    )
    assert (found > exact[: len(found)] - 1e-9).all()
    # fields of the pieces stay the fields of the chosen amplitudes
    place = np.concatenate([kept, chain.cell.on_cut + kept])
    np.testing.assert_array_equal(fewer.cell.fields[:, : len(place)], cell.fields[:, place])
