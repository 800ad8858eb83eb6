"""Absorbing layers: a guide that ends in one, behind it metal, has a reflection known exactly."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import SpaceMesh, SpacePort
from geometries.shapes.guides import RectangularGuide
from solver.fem.lossy_model import LossyModel
from solver.fem.reduced_model import sweep
from solver.parts.space_solver import SpaceProblem

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
FREQUENCY = np.linspace(8.2e9, 12.4e9, 5)
FEED, LAYER, RATE = 12e-3, 10e-3, 1.5


def guide_into_a_layer(axis):
    """Guide along one of the axes, a layer at its end."""
    along = np.array([0.0, FEED, FEED + 0.5 * LAYER, FEED + LAYER])
    a, b = GUIDE.broad_width / 2, GUIDE.narrow_height / 2
    across = (np.linspace(-a, a, 3), np.array([-b, b]))
    turned = [np.eye(3)[(axis + 1) % 3], np.eye(3)[(axis + 2) % 3], np.eye(3)[axis]]
    lines = {(axis + 1) % 3: across[0], (axis + 2) % 3: across[1], axis: along}

    def mapping(points):
        return points.copy(), np.repeat(np.eye(3)[:, :, None], points.shape[1], axis=2)

    breaks = tuple(lines[d] for d in range(3))
    mesh = hexahedral_mesh([Block(breaks, mapping, {f"{'uvw'[axis]}0": "port1"})])
    stretch = np.ones((3, mesh.t.shape[1]), dtype=complex)
    stretch[axis, mesh.boxes[0][axis] > 0.5 * FEED] = 1 - 1j * RATE
    port = SpacePort("port1", GUIDE, np.zeros(3), turned[0], turned[1], -turned[2], 0.0)
    return SpaceMesh(mesh, (port,), {}, stretch=stretch)


class Guide(SpaceProblem):
    """The dominant mode alone: nothing else is driven."""

    def __init__(self, axis):
        from solver.waves.space_modes import space_modes

        modes = [space_modes(GUIDE, FREQUENCY[-1], 1.0, 1e-3)[:1]]
        super().__init__(
            lambda _: guide_into_a_layer(axis), FREQUENCY, 1e-6, {0: (6,)}, {0: 0.5}, modes=modes
        )


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_reflection_of_a_layer_before_metal(axis):
    problem = Guide(axis)
    mesh = problem.mesh(0)
    _, pencil = next(problem.spaces(mesh, (6,)))

    def respond(model):
        return problem.scattering(mesh, model.impedance(problem.squared), problem.squared)

    found = sweep(pencil.stiffness, pencil.mass, pencil.columns, problem.squared, respond, 1e-9)
    assert isinstance(found.model, LossyModel)
    beta = problem.phase_constants(problem.squared)[:, 0]
    exact = -np.exp(-2j * beta * (FEED + (1 - 1j * RATE) * LAYER))
    assert_allclose(found.response[:, 0, 0], exact, atol=1e-6)
    assert np.abs(exact).min() > 1e-4  # what comes back is far above the tolerance


def test_a_stretch_of_one_changes_nothing():
    problem = Guide(2)
    mesh = problem.mesh(0)
    mesh.stretch[:] = 1.0
    _, complex_pencil = next(problem.spaces(mesh, (3,)))
    plain = SpaceMesh(mesh.mesh, mesh.ports, {})
    _, pencil = next(problem.spaces(plain, (3,)))
    assert_allclose((complex_pencil.stiffness - pencil.stiffness).data, 0.0, atol=1e-12)
    assert_allclose((complex_pencil.mass - pencil.mass).data, 0.0, atol=1e-12)
