"""The Nedelec hexahedra: functions, orientation, continuity."""

from itertools import product

import numpy as np
import pytest

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.errors import MeshingError
from solver.elements.edge_hexahedra import HexNedelec
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import edge_space


def bent_map(linear, shift):
    """An affine map into the unit cube followed by a smooth bend of it."""

    def mapping(parameters):
        x, y, z = linear @ parameters + shift[:, None]
        points = np.stack([x + 0.2 * y * z, y + 0.1 * np.sin(2 * z), z + 0.15 * x * y])
        one, zero = np.ones_like(x), np.zeros_like(x)
        slopes = np.array(
            [
                [one, 0.2 * z, 0.2 * y],
                [zero, one, 0.2 * np.cos(2 * z)],
                [0.15 * y, 0.15 * x, one],
            ]
        )
        return points, np.einsum("ijn,jk->ikn", slopes, linear)

    return mapping


def bent_cube(rng=None):
    """Eight one-cell blocks of a bent cube, with parameters turned at random if asked."""
    blocks = []
    for corner in product((0, 1), repeat=3):
        order = np.arange(3) if rng is None else rng.permutation(3)
        flip = np.zeros(3, dtype=int) if rng is None else rng.integers(0, 2, 3)
        linear = np.zeros((3, 3))
        linear[np.arange(3), order] = 0.5 * (-1.0) ** flip
        shift = 0.5 * (np.array(corner) + flip)
        blocks.append(Block((np.array([0.0, 1.0]),) * 3, bent_map(linear, shift)))
    return hexahedral_mesh(blocks)


@pytest.mark.parametrize("order", [1, 2, 3, 5])
def test_number_of_shape_functions(order):
    element = HexNedelec(order)
    counts = 12 * element.edge_dofs + 6 * element.facet_dofs + element.interior_dofs
    assert element.size == counts == 3 * order * (order + 1) ** 2


@pytest.mark.parametrize("order", [1, 3])
def test_curls_are_the_derivatives_of_the_values(order):
    element = HexNedelec(order)
    X = np.array([[0.2, 0.4], [0.3, 0.9], [0.7, 0.3]])
    step = 1e-5
    slopes = [
        (element.values(X + step * e[:, None]) - element.values(X - step * e[:, None])) / (2 * step)
        for e in np.eye(3)
    ]
    expected = np.stack(
        [slopes[a][:, b] - slopes[b][:, a] for a, b in ((1, 2), (2, 0), (0, 1))], axis=1
    )
    np.testing.assert_allclose(element.curls(X), expected, atol=1e-7)


@pytest.mark.parametrize("order", [1, 2, 3, 4])
@pytest.mark.parametrize("seed", [3, 31])
def test_tangential_field_is_continuous_however_blocks_are_turned(order, seed):
    rng = np.random.default_rng(seed)
    mesh = bent_cube(rng)
    space = edge_space(mesh, order)
    x = rng.standard_normal(space.n_dofs)
    shared = np.setdiff1d(np.arange(mesh.facets.shape[1]), mesh.boundary_facets())
    assert len(shared) == 12
    for facet in shared:
        faces, cells = np.nonzero(mesh.t2f == facet)
        sampled = [_on_facet(space, x, cell, face) for cell, face in zip(cells, faces, strict=True)]
        (points, field, normal), (others, other_field, _) = sampled
        match = np.linalg.norm(points[:, :, None] - others[:, None], axis=0).argmin(axis=1)
        np.testing.assert_allclose(points, others[:, match], atol=1e-13)
        jump = np.cross(normal, field - other_field[:, match], axis=0)
        assert np.abs(jump).max() < 1e-11 * np.abs(field).max()


def _on_facet(space, x, cell, face):
    """Points, field and normals on a symmetric grid of a cell's face."""
    s = np.array([0.1, 0.35, 0.65, 0.9])
    st = np.stack([g.ravel() for g in np.meshgrid(s, s)])
    X, tangents = space.face_points(face, st)
    points, field = space.electric_field(x, X, np.array([cell]))
    _, jacobians = space.located(X, np.array([cell]))
    first, second = (np.einsum("iaq,a->iq", jacobians[:, :, 0], t) for t in tangents.T)
    normal = np.cross(first, second, axis=0)
    return points[:, 0], field[:, 0], normal / np.linalg.norm(normal, axis=0)


def test_matrices_do_not_depend_on_how_blocks_are_turned():
    reference, turned = (
        edge_pencil(edge_space(bent_cube(rng), 3)) for rng in (None, np.random.default_rng(11))
    )
    for first, second in zip(reference, turned, strict=True):
        values = [np.linalg.eigvalsh(m.toarray(), UPLO="U") for m in (first, second)]
        np.testing.assert_allclose(values[0], values[1], atol=1e-9 * values[0].max())


def test_a_folded_cell_is_refused():
    def folded(parameters):
        slopes = np.repeat(np.eye(3)[:, :, None], parameters.shape[1], axis=2)
        slopes[0, 0] = 2 * parameters[0] - 1
        return parameters * 1.0, slopes

    mesh = hexahedral_mesh([Block((np.array([0.0, 1.0]),) * 3, folded)])
    with pytest.raises(MeshingError, match="cell 0 is inverted or folded"):
        edge_pencil(edge_space(mesh, 2))


@pytest.mark.parametrize("order", [0, 13])
def test_orders_out_of_range_are_refused(order):
    with pytest.raises(ValueError, match=f"order is {order}; it must be from 1 to 12"):
        HexNedelec(order)
