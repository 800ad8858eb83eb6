"""Assembly: integrals of polynomials, patch tests, and nested spaces."""

import numpy as np
import pytest
from scipy.sparse import triu
from skfem import MeshTri
from skfem.assembly import Dofs

from geometries.cells.charts import PlainChart
from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide
from solver.fem.scalar_field import assemble

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
BEND = Bend(GUIDE, "E", 1.3, 8e-3)
GENTLE = Bend(GUIDE, "E", 0.4, 60e-3)  # its weight 1/h is a polynomial to round-off
CORNER = Corner(GUIDE, "H", 1.3, 6e-3)


def one(port, t):
    return np.ones((1, *np.shape(t)))


def full(upper):
    return upper + triu(upper, 1).T


def constant(system):
    """Unknowns of u = 1: the vertex functions sum to one."""
    return (np.arange(system.columns.shape[0]) < system.sizes[1]).astype(float)


@pytest.mark.parametrize("part", [BEND, CORNER])
def test_constant_has_no_stiffness_and_the_mass_of_the_metal(part):
    made = mesh_in_plane(part, 25e-3)
    system = assemble(made, 4, one, fixed_wall=False)
    u, width = constant(system), part.width_in_plane
    feeds = sum(port.feed_length for port in made.ports) * width
    if isinstance(part, Bend):
        outer, inner = part.inner_radius + width, part.inner_radius
        metal = 0.5 * part.angle * (outer**2 - inner**2)
    else:
        metal = width * part.outer_arm - 0.5 * part.cut**2 * np.sin(part.angle)
    k, m = full(system.stiffness), full(system.mass)
    assert u @ m @ u == pytest.approx(feeds + metal, rel=1e-9)
    assert np.abs(k @ u).max() < 1e-8 * np.abs(k).max()
    assert u @ system.columns == pytest.approx([width, width])


def test_linear_field_passes_the_patch_test():
    """u = 3 x - 2 y: (grad u, grad u) = 13 area; K u is the flux through the outline alone."""
    made = mesh_in_plane(CORNER, 25e-3)
    system = assemble(made, 3, one, fixed_wall=False)
    vertex_number = system.local[:3]
    u = np.zeros(system.columns.shape[0])
    gradient = np.array([3.0, -2.0])
    u[vertex_number] = (gradient @ made.mesh.p)[made.mesh.t]
    k, m = full(system.stiffness), full(system.mass)
    area = constant(system) @ m @ constant(system)
    assert u @ k @ u == pytest.approx(13 * area, rel=1e-9)
    inside = np.setdiff1d(np.arange(made.mesh.nvertices), made.mesh.boundary_nodes())
    rows = np.unique(vertex_number[np.isin(made.mesh.t, inside)])
    assert np.abs((k @ u)[rows]).max() < 1e-9 * np.abs(u).max() * np.abs(k).max()


def test_swept_stiffness_is_that_of_the_metal():
    """u = s on the arc alone: |grad u| = 1/h, so the integral is R ln(R2/R1) angle."""
    made = mesh_in_plane(BEND, 25e-3)
    system = assemble(made, 6, one, fixed_wall=False)
    s = np.clip(made.mesh.p[0], 0, BEND.arc_length)
    u = np.zeros(system.columns.shape[0])
    u[system.local[:4]] = s[made.mesh.t]
    r1, r2 = BEND.inner_radius, BEND.inner_radius + BEND.width_in_plane
    exact = BEND.mean_radius * np.log(r2 / r1) * BEND.angle * BEND.mean_radius
    assert u @ full(system.stiffness) @ u == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize("part", [GENTLE, CORNER])
@pytest.mark.parametrize("fixed", [True, False])
def test_lower_degrees_are_the_first_unknowns(part, fixed):
    """The numbering within a degree is free, so sums that do not depend on it are compared."""
    made = mesh_in_plane(part, 25e-3)
    high, low = (assemble(made, p, one, fixed_wall=fixed) for p in (5, 4))
    nested, own = high.at_degree(4), low.at_degree(4)
    assert nested[0].shape == own[0].shape == (high.sizes[4], high.sizes[4])
    for ours, theirs in zip(nested[:2], own[:2], strict=True):
        assert ours.trace() == pytest.approx(theirs.trace(), rel=1e-9)
        assert full(ours).power(2).sum() == pytest.approx(full(theirs).power(2).sum(), rel=1e-9)
    assert np.square(nested[2]).sum() == pytest.approx(np.square(own[2]).sum(), rel=1e-9)


@pytest.mark.parametrize("part", [BEND, CORNER])
def test_wall_is_fixed_and_nothing_else(part):
    made = mesh_in_plane(part, 25e-3)
    free, fixed = (assemble(made, 4, one, fixed_wall=w) for w in (False, True))
    dofs = Dofs(made.mesh, free.element)
    on_wall = dofs.get_facet_dofs(made.mesh.boundaries["wall"]).flatten()
    assert free.columns.shape[0] - fixed.columns.shape[0] == len(np.unique(on_wall))
    assert set(np.unique(fixed.local)) == {-1, *range(fixed.columns.shape[0])}
    assert (fixed.mass.diagonal() > 0).all()


def test_columns_hold_integrals_of_the_modes():
    """Against mode m = cos(m pi t / w) the function t (linear) gives w^2 ((-1)^m - 1)/(m pi)^2."""
    lines = np.linspace(0, 2.0, 4), np.linspace(0, 1.5, 3)
    mesh = MeshTri.init_tensor(*lines)
    mesh = MeshTri(mesh.p, np.sort(mesh.t, axis=0)).with_boundaries(
        {"port1": lambda x: np.isclose(x[0], 0), "wall": lambda x: ~np.isclose(x[0], 0)}
    )
    port = PlanePort("port1", np.zeros(2), np.array([0.0, 1.0]), 1.5, 0.0)
    orders = np.arange(1, 12)

    def modes(port, t):
        return np.cos(np.multiply.outer(orders * np.pi / 1.5, t))

    system = assemble(PlaneMesh(mesh, PlainChart(), (port,), {}), 3, modes, fixed_wall=False)
    u = np.zeros(system.columns.shape[0])
    u[system.local[:3]] = mesh.p[1][mesh.t]
    exact = 1.5**2 * ((-1.0) ** orders - 1) / (orders * np.pi) ** 2
    assert u @ system.columns == pytest.approx(exact, abs=1e-10)
