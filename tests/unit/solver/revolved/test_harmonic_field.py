"""Fields of order 1 about an axis in a closed cylinder, whose resonances are known."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.sparse import triu
from scipy.special import jn_zeros, jnp_zeros
from skfem import MeshQuad

from geometries.plane_meshes.plane_mesh import PlaneMesh, with_named_boundaries
from solver.revolved.harmonic_field import assemble_harmonic

RADIUS, LENGTH = 1.0, 1.7


@dataclass(frozen=True)
class Skewed:
    """r = t, and z = s but for a bulge that leaves the cylinder's walls where they are."""

    bulge: float = 0.0

    def coordinates(self, points):
        s, t = points
        return np.array([s + self.bulge * s * (LENGTH - s) * t * (RADIUS - t), t])

    position = coordinates

    def slopes(self, points):
        s, t = points
        one, none = np.ones_like(s), np.zeros_like(s)
        b = self.bulge
        by_s = one + b * (LENGTH - 2 * s) * t * (RADIUS - t)
        return np.array([[by_s, b * s * (LENGTH - s) * (RADIUS - 2 * t)], [none, one]])


def cylinder(s_lines, t_lines, chart):
    s, t = np.meshgrid(s_lines, t_lines, indexing="ij")
    number = np.arange(s.size).reshape(s.shape)
    corners = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    mesh = MeshQuad(np.stack([s.ravel(), t.ravel()]), np.stack([c.ravel() for c in corners]))
    outer = mesh.facets[:, mesh.boundary_facets()]
    axis = (mesh.p[1, outer] < 1e-9).all(axis=0)
    mesh = with_named_boundaries(mesh, {"axis": outer[:, axis], "wall": outer[:, ~axis]})
    return PlaneMesh(mesh, chart, (), {})


def resonances(mesh, degree):
    system = assemble_harmonic(mesh, degree, RADIUS, lambda port, place: np.zeros((3, 0)))
    k, m = ((matrix + triu(matrix, 1).T).toarray() for matrix in (system.stiffness, system.mass))
    return eigh(k, m, eigvals_only=True), system


@pytest.mark.parametrize("bulge", [0.0, 0.3])
def test_a_closed_cylinder_rings_as_it_has_to(bulge):
    lines = np.array([0.0, 0.5, 1.2, LENGTH]), np.array([0.0, 0.7, RADIUS])
    found, system = resonances(cylinder(*lines, Skewed(bulge)), 6)
    te = [(x**2, p) for x in jnp_zeros(1, 3) for p in range(1, 6)]
    tm = [(x**2, p) for x in jn_zeros(1, 3) for p in range(6)]
    exact = np.sort([x / RADIUS**2 + (p * np.pi / LENGTH) ** 2 for x, p in te + tm])
    gradients = np.count_nonzero(found < 1e-6)
    # as many fields without curl as potentials, and nothing between them and the first resonance
    kinds = np.array([field for field, _, _ in system.element.functions()])
    potentials = np.unique(system.local[kinds == "w"])
    assert gradients == np.count_nonzero(potentials >= 0)
    assert found[gradients : gradients + 8] == pytest.approx(exact[:8], rel=2e-6)


def test_thin_slabs_bring_no_resonances_of_their_own():
    # with w of the degree of u each slab would ring at k of about 1/r
    lines = np.array([0.0, 1e-3, 4e-3, 0.02, 0.3, 1.0, LENGTH]), np.array([0.0, RADIUS])
    found, _ = resonances(cylinder(*lines, Skewed()), 4)
    first = (jnp_zeros(1, 1)[0] / RADIUS) ** 2 + (np.pi / LENGTH) ** 2
    second = (jn_zeros(1, 1)[0] / RADIUS) ** 2
    above = found[found > 1e-6]
    assert above[:2] == pytest.approx([first, second], rel=1e-3)
    assert np.count_nonzero(above < 30.0) == np.count_nonzero(
        np.array(
            [
                *[x**2 + (p * np.pi / LENGTH) ** 2 for x in jnp_zeros(1, 3) for p in range(1, 9)],
                *[x**2 + (p * np.pi / LENGTH) ** 2 for x in jn_zeros(1, 3) for p in range(9)],
            ]
        )
        < 30.0
    )
