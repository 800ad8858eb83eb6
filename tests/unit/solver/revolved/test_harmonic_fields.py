"""The curl that is read of a field is that of the field, on a skewed and on a complex map."""

from dataclasses import dataclass

import numpy as np
import pytest
from skfem import MeshQuad

from geometries.plane_meshes.plane_mesh import PlaneMesh, with_named_boundaries
from solver.revolved.harmonic_field import assemble_harmonic
from solver.revolved.harmonic_fields import fields_of_local, harmonic_fields


@dataclass(frozen=True)
class Skewed:
    """A smooth map of s and t that bends both; lengths along z may be complex."""

    growth: complex = 1.0

    def coordinates(self, points):
        s, t = points
        return np.array([self.growth * (s + 0.2 * s * t), t * (1 + 0.1 * s) + 0j])

    def slopes(self, points):
        s, t = points
        return np.array(
            [
                [self.growth * (1 + 0.2 * t), self.growth * 0.2 * s],
                [0.1 * t + 0j, 1 + 0.1 * s + 0j],
            ]
        )


@pytest.fixture(scope="module", params=[1.0, 1 - 0.7j])
def system(request):
    s, t = np.meshgrid([0.0, 0.6, 1.1], [0.0, 0.5, 1.0], indexing="ij")
    number = np.arange(s.size).reshape(s.shape)
    corners = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    mesh = MeshQuad(np.stack([s.ravel(), t.ravel()]), np.stack([c.ravel() for c in corners]))
    outer = mesh.facets[:, mesh.boundary_facets()]
    axis = (mesh.p[1, outer] < 1e-9).all(axis=0)
    mesh = with_named_boundaries(mesh, {"axis": outer[:, axis], "wall": outer[:, ~axis]})
    made = PlaneMesh(mesh, Skewed(request.param), (), {})
    return assemble_harmonic(made, 4, 1.0, lambda port, place: np.zeros((3, 0)))


def test_curl_is_that_of_e(system):
    """E = (z sin, r sin, phi cos): its curl in cylindrical coordinates, by differences."""
    rng = np.random.default_rng(7103)
    unknowns = rng.normal(size=(len(system.columns), 2))
    cells, grid, step = np.array([0, 2, 3]), np.array([[0.3, 0.7], [0.6, 0.2]]), 1e-5
    places, electric, curl = harmonic_fields(system, 1.0, unknowns, grid, cells)
    by_grid, jacobian = [], []
    for axis in range(2):
        move = step * np.eye(2)[:, axis : axis + 1]
        ahead, behind = (
            harmonic_fields(system, 1.0, unknowns, grid + sign * move, cells) for sign in (1, -1)
        )
        by_grid.append((ahead[1] - behind[1]) / (2 * step))
        jacobian.append((ahead[0] - behind[0]) / (2 * step))
    # d(z, r)/d(grid) to slopes by z and r
    inverse = np.linalg.inv(np.moveaxis(np.array(jacobian), (0, 1), (-2, -1)))
    slopes = np.einsum("cqba,aicqf->bicqf", inverse, np.array(by_grid))
    (_, radial_z, around_z), (along_r, _, around_r) = slopes
    r = places[1][..., None]
    exact = [
        around_r + (electric[2] - electric[1]) / r,
        electric[0] / r - around_z,
        radial_z - along_r,
    ]
    np.testing.assert_allclose(curl, exact, atol=1e-6 * np.abs(curl).max())


def test_fields_of_cells_are_sums_of_those_of_their_functions(system):
    rng = np.random.default_rng(99)
    unknowns = rng.normal(size=(len(system.columns), 1))
    cells, grid = np.array([1, 3]), np.array([[0.4], [0.3]])
    _, electric, curl = harmonic_fields(system, 1.0, unknowns, grid, cells)
    nb = len(system.local)
    each = np.broadcast_to(np.eye(nb)[:, None, :], (nb, 2, nb))
    _, parts, curls = fields_of_local(system, 1.0, each, grid, cells)
    local = np.append(unknowns[:, 0], 0.0)[system.local[:, cells]]
    for whole, part in ((electric, parts), (curl, curls)):
        np.testing.assert_allclose(whole[..., 0], np.einsum("acqn,nc->acq", part, local))
