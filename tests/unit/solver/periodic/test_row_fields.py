"""Fields of a row of pieces: where each piece stands, and the largest of all."""

from types import SimpleNamespace

import numpy as np
import pytest

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from solver.fem.edge_space import edge_space
from solver.periodic.row_fields import largest_in_row, sampled_row

LENGTH = 0.5


def cube():
    """Two cells of a piece of unit section."""

    def mapping(parameters):
        scale = np.array([1.0, 1.0, LENGTH])
        slopes = np.repeat(np.diag(scale)[:, :, None], parameters.shape[1], axis=2)
        return scale[:, None] * parameters, slopes

    lines = np.linspace(0, 1, 2), np.linspace(0, 1, 2), np.linspace(0, 1, 3)
    return edge_space(hexahedral_mesh([Block(lines, mapping, {})]), 2)


SPACE = cube()


def along_x():
    """Unknowns of E = (1, 0, 0), by least squares."""
    grid = np.random.default_rng(3).uniform(0, 1, (3, 40))
    table = []
    for i in range(SPACE.n_dofs):
        unit = np.zeros(SPACE.n_dofs)
        unit[i] = 1.0
        table.append(SPACE.electric_field(unit, grid)[1].ravel())
    wanted = np.zeros((3, 2, 40))
    wanted[0] = 1.0
    return np.linalg.lstsq(np.array(table).T, wanted.ravel(), rcond=None)[0]


def row(*strengths):
    """Pieces that all hold the same field, each so many times; one amplitude for all."""
    field = along_x()

    def unknowns_of(amplitudes):
        for strength in strengths:
            yield SPACE, np.multiply.outer(strength * field, amplitudes[0])

    return SimpleNamespace(unknowns_of=unknowns_of)


def test_every_piece_is_shown_where_it_is():
    def placed(number, points):
        return points + np.array([[0.0], [0.0], [number * LENGTH]])

    points, cells, sizes = sampled_row(row(1.0, -2j, 0.5), np.array([1.0 + 0j]), placed)
    assert points.shape[1] == sizes.size and cells.max() < sizes.size
    a, b, c, d = (points[:, corner] for corner in cells)
    volume = np.abs(np.einsum("in,in->n", np.cross(b - a, c - a, axis=0), d - a)) / 6
    assert volume.sum() == pytest.approx(3 * LENGTH)
    assert points[2].min() == 0.0 and points[2].max() == pytest.approx(3 * LENGTH)
    middle = points[2][cells].mean(axis=0)
    for number, strength in enumerate((1.0, 2.0, 0.5)):
        here = cells[:, (middle > number * LENGTH) & (middle < (number + 1) * LENGTH)]
        assert here.shape[1] == cells.shape[1] / 3
        np.testing.assert_allclose(sizes[here], strength, rtol=1e-9)


def test_the_largest_field_is_that_of_the_strongest_piece():
    # a real field has its amplitude as its largest size, at some time of the period
    amplitudes = np.array([[1.0, 3j, 2.0 * np.exp(0.4j)]])
    found = largest_in_row(row(0.5, -2.0, 1.0), amplitudes)
    np.testing.assert_allclose(found, 2 * np.abs(amplitudes[0]), rtol=1e-9)
