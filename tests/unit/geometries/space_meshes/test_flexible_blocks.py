"""The exact map of flexible guides: derivatives, volume, ends, and how pieces fit together."""

import numpy as np
import pytest

from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import standard_guide
from geometries.space_meshes.flexible_blocks import Stretch, flexible_blocks, grouped, placed
from solver.fem.edge_space import edge_space

GUIDE = standard_guide("WR-90")
A, B = GUIDE.broad_width, GUIDE.narrow_height
PARTS = {
    "straight": Flexible(GUIDE, 6e-3, 1.2e-3, 5),
    "steep": Flexible(GUIDE, 4e-3, 3.6e-3, 5),
    "E": Flexible(GUIDE, 6e-3, 1.2e-3, 5, "sinusoidal", "E", 1.5),
    "H": Flexible(GUIDE, 6e-3, 1.2e-3, 5, "sinusoidal", "H", 0.8),
}
WAVELENGTH = 24e-3


@pytest.mark.parametrize("name", PARTS)
def test_derivatives_of_the_map(name):
    part = PARTS[name]
    mapping = flexible_blocks(part, Stretch(0, 1), wavelength=WAVELENGTH).mesh.blocks[0].mapping
    random = np.random.default_rng(512)
    at = random.uniform(-0.5, 0.5, (3, 60))
    # feeds before and behind as well; no point within a step of where the part ends
    at[2] = (at[2] + 0.5) * 1.4 * part.axis_length - 0.2 * part.axis_length
    _, derivatives = mapping(at)
    for number, step in enumerate((1e-6, 1e-6, 1e-8)):
        shift = np.zeros((3, 1))
        shift[number] = step
        expected = (mapping(at + shift)[0] - mapping(at - shift)[0]) / (2 * step)
        np.testing.assert_allclose(derivatives[:, number], expected, atol=1e-6, rtol=1e-6)


@pytest.mark.parametrize("name", PARTS)
def test_volume(name):
    # the mean of the swing is d/2 and that of its square 3/8 d^2; by Pappus a bend has no other
    part = PARTS[name]
    d = part.convolution_depth
    exact = part.axis_length * (A * B + (A + B) * d + 1.5 * d**2)
    meshed = flexible_blocks(part, Stretch(0, part.count), wavelength=WAVELENGTH)
    space = edge_space(meshed.mesh, 1)
    points, weights = space.cell_rule(8)
    _, jacobians = space.located(points, np.arange(space.n_cells))
    volume = (np.linalg.det(jacobians.transpose(2, 3, 0, 1)) @ weights).sum()
    assert meshed.images == (2 if part.plane else 4)
    assert meshed.images * volume == pytest.approx(exact, rel=1e-7)


@pytest.mark.parametrize("name", PARTS)
def test_a_piece_moved_is_where_it_is_meshed(name):
    part = PARTS[name]
    here, there = (
        flexible_blocks(part, stretch, wavelength=WAVELENGTH).mesh.p
        for stretch in (Stretch(0, 2), Stretch(2, 4))
    )
    np.testing.assert_allclose(placed(part, here, 2), there, atol=1e-12)
    last = flexible_blocks(part, Stretch(3, 5), wavelength=WAVELENGTH).mesh.p
    mirrored = placed(part, here, 5, mirrored=True)
    distance = np.linalg.norm(mirrored[:, :, None] - last[:, None, :], axis=0)
    assert distance.min(axis=0).max() < 1e-12


@pytest.mark.parametrize("count", [2, 3, 4, 5, 7, 10, 31, 101])
@pytest.mark.parametrize("pitch", [1e-3, 3e-3, 9e-3])
def test_pieces_add_up(count, pitch):
    part = Flexible(GUIDE, pitch, 0.5e-3, count)
    pieces = grouped(part)
    assert 2 * pieces.end + pieces.cell * pieces.count == count
    assert pieces.end >= 1
    if count > 12:
        assert min(pieces.end, pieces.cell) * pitch >= 0.25 * A
