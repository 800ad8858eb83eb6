"""The sparse upper triangles of hexahedra against plain sums over all pairs of functions."""

import numpy as np
import pytest
from scipy.sparse import coo_matrix

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.twists import Twist
from geometries.space_meshes.swept_blocks import swept_mesh
from solver.fem.block_pattern import upper_parts
from solver.fem.edge_assembly import cell_metrics
from solver.fem.edge_pencil import _alike, edge_pencil
from solver.fem.edge_space import edge_space

TWIST = Twist(RectangularGuide(22.86e-3, 10.16e-3), np.pi / 2, 40e-3)


def twisted(order):
    mesh = swept_mesh(TWIST, wavelength=24e-3, feeds=(10e-3, 10e-3)).mesh
    return edge_space(mesh, order)


def skewed(order):
    """Two blocks that meet with different axes, in coordinates where every pair couples."""

    def mapping(turn):
        def bent(parameters):
            u, v, w = turn @ parameters
            points = np.stack([u + 0.2 * v * w, v + 0.1 * u * w, w + 0.1 * u * v])
            slopes = np.array(
                [
                    [1 + 0 * u, 0.2 * w, 0.2 * v],
                    [0.1 * w, 1 + 0 * u, 0.1 * u],
                    [0.1 * v, 0.1 * u, 1 + 0 * u],
                ]
            )
            return points, np.einsum("ijn,jk->ikn", slopes, turn)

        return bent

    ends = np.array([0.0, 1.0])
    swapped = np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    first = Block((ends, ends, ends), mapping(np.eye(3)), {"w0": "port1"})
    second = Block((ends, ends, 1.0 + ends), mapping(swapped))
    return edge_space(hexahedral_mesh([first, second]), order)


def plain_sums(space):
    """Both full matrices, walls included: in each cell one product of tables for all pairs."""
    X, weights = space.cell_rule(space.order + 2)
    tables = space.element.curls(X), space.element.values(X)
    rows, columns, entries = [], [], ([], [])
    for cell in range(space.n_cells):
        sign = np.ones(space.element.size) if space.signs is None else space.signs[cell]
        dofs = space.dofs[cell]
        rows.append(np.repeat(dofs, len(dofs)))
        columns.append(np.tile(dofs, len(dofs)))
        metrics = cell_metrics(space, X, np.array([cell]))
        for table, metric, found in zip(tables, metrics, entries, strict=True):
            signed = sign[:, None, None] * table
            weighted = np.einsum("abq,ibq->iaq", metric[:, :, 0] * weights, signed)
            found.append(
                (weighted.reshape(len(dofs), -1) @ signed.reshape(len(dofs), -1).T).ravel()
            )
    place = np.concatenate(rows), np.concatenate(columns)
    shape = (space.n_dofs, space.n_dofs)
    return [coo_matrix((np.concatenate(e), place), shape=shape).tocsr() for e in entries]


def full_pencil(space):
    return upper_parts(space.free_dofs, *plain_sums(space))


@pytest.fixture(scope="module")
def high_order():
    """A twist in which most entries of a cell are zero, and its full pencil."""
    space = twisted(5)
    return space, full_pencil(space)


@pytest.mark.parametrize("space", [twisted(3), skewed(4)], ids=["twist-3", "skewed-4"])
def test_what_is_cut_is_round_off(space):
    assert_cut_is_round_off(space, full_pencil(space))


def test_what_is_cut_at_high_order_is_round_off(high_order):
    assert_cut_is_round_off(*high_order)


def assert_cut_is_round_off(space, full):
    for found, expected in zip(edge_pencil(space), full, strict=True):
        scale = 1 / np.sqrt(expected.diagonal())
        change = abs(expected - found).multiply(scale[:, None]).multiply(scale)
        assert change.max() < 1e-13
        assert expected.nnz >= found.nnz


def test_both_matrices_share_a_sparse_pattern(high_order):
    space, full = high_order
    stiffness, mass = edge_pencil(space)
    np.testing.assert_array_equal(stiffness.indptr, mass.indptr)
    np.testing.assert_array_equal(stiffness.indices, mass.indices)
    assert stiffness.nnz < 0.1 * full[0].nnz


def kinds_of(space):
    X, _ = space.cell_rule(space.order + 2)
    return _alike(cell_metrics(space, X, np.arange(space.n_cells)))


def test_slices_of_a_twist_are_assembled_once():
    space = twisted(3)
    kinds, shown = kinds_of(space)
    # two feeds of a length, and even slices between them
    assert len(shown) <= space.n_cells // 2
    assert np.array_equal(kinds[shown], np.arange(len(shown)))


@pytest.mark.parametrize(("longer", "expected"), [(0.0, 1), (1e-15, 1), (1e-12, 2), (1e-10, 2)])
def test_cells_that_differ_by_more_than_round_off_are_of_two_kinds(longer, expected):
    lines = np.array([0.0, 1.0]), np.array([0.0, 1.0]), np.array([0.0, 1.0, 2.0 + longer])

    def straight(parameters):
        return parameters, np.tile(np.eye(3)[:, :, None], parameters.shape[1])

    space = edge_space(hexahedral_mesh([Block(lines, straight)]), 2)
    kinds, shown = kinds_of(space)
    assert len(shown) == expected == len(np.unique(kinds))
