"""Rate of the scalar elements on a problem with a known answer.

A rectangle closed by walls has ``q = (m pi / L)^2 + (n pi / w)^2``: eigenvalues of elements of
degree p fall by h^(2 p) (G. Strang and G. Fix, "An Analysis of the Finite Element Method", 1973,
chapter 6).
"""

import numpy as np
import pytest
from scipy.linalg import eigh
from skfem import MeshQuad, MeshTri

from geometries.cells.charts import PlainChart
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort
from solver.fem.scalar_field import assemble

LENGTH, WIDTH = 1.3, 1.0


def lowest(kind, degree, cells):
    lines = np.linspace(0, LENGTH, cells + 1), np.linspace(0, WIDTH, cells + 1)
    mesh = kind.init_tensor(*lines)
    if kind is MeshTri:
        mesh = MeshTri(mesh.p, np.sort(mesh.t, axis=0))
    mesh = mesh.with_boundaries(
        {"wall": mesh.boundary_facets(), "port1": lambda x: np.isclose(x[0], 0.0)}
    )
    port = PlanePort("port1", np.zeros(2), np.array([0.0, 1.0]), WIDTH, 0.0)
    system = assemble(
        PlaneMesh(mesh, PlainChart(), (port,), {}),
        degree,
        lambda port, t: np.ones((1, *np.shape(t))),
        fixed_wall=True,
    )
    k, m = (u.toarray() for u in (system.stiffness, system.mass))
    k, m = (u + np.triu(u, 1).T for u in (k, m))
    return eigh(k, m, eigvals_only=True, subset_by_index=[0, 0])[0]


@pytest.mark.parametrize(("kind", "degree"), [(MeshTri, 2), (MeshTri, 3), (MeshQuad, 3)])
def test_eigenvalue_falls_at_twice_the_degree(kind, degree):
    exact = (np.pi / LENGTH) ** 2 + (np.pi / WIDTH) ** 2
    errors = [lowest(kind, degree, cells) / exact - 1 for cells in (3, 6)]
    assert errors[0] > errors[1] > 0
    assert np.log2(errors[0] / errors[1]) == pytest.approx(2 * degree, abs=0.35)
