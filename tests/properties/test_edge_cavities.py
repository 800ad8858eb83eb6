"""Resonances of closed cavities against closed forms and against another library.

Expected values are closed forms, for boxes and for cylinders (zeros of Bessel functions from
SciPy), or come from NGSolve on its own mesh.
"""

from functools import partial
from itertools import pairwise, product

import gmsh
import numpy as np
import pytest
from scipy.sparse import csr_matrix, triu
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from scipy.special import jn_zeros, jnp_zeros
from skfem import MeshTet1

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.tetrahedral_mesh import tetrahedral_mesh
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import edge_space
from solver.fem.linear_solve import SymmetricSolver

BOX = np.array([1.0, 0.8, 0.55])
RADIUS, HEIGHT = 1.0, 1.3


def closed_cavity(space):
    return [m + triu(m, 1).T for m in edge_pencil(space)]


def resonance_errors(space, exact, count):
    """Relative errors (count,) of the squared wave numbers about a few of the lowest exact ones.

    The shift must be farther from zero, where all static solutions are, than from those wanted.
    """
    near = 0.99 * exact[count // 2]
    wanted = np.sort(exact[np.argsort(np.abs(exact - near))[:count]])
    assert np.abs(wanted - near).max() < 0.9 * near
    K, M = edge_pencil(space)
    solver = SymmetricSolver(K, M)
    solver.factorise(near)

    def operator(apply):
        return LinearOperator(K.shape, matvec=lambda x: apply(x.reshape(-1, 1))[:, 0], dtype=float)

    stiffness, mass = (operator(partial(solver.product, m)) for m in (K, M))
    inverse = operator(solver.solve)
    start = np.random.default_rng(23).standard_normal(K.shape[0])
    found = eigsh(stiffness, count, mass, near, OPinv=inverse, v0=start, return_eigenvectors=False)
    return np.abs(np.sort(found) / wanted - 1.0)


def hexahedral_box(cells):
    slopes = np.diag(BOX)

    def mapping(parameters):
        return slopes @ parameters, np.repeat(slopes[:, :, None], parameters.shape[1], axis=2)

    return hexahedral_mesh([Block((np.linspace(0, 1, cells + 1),) * 3, mapping)])


def tetrahedral_box(cells):
    mesh = MeshTet1.init_tensor(*(np.linspace(0, length, cells + 1) for length in BOX))
    return tetrahedral_mesh(mesh.p, mesh.t, {})


def box_resonances():
    found = []
    for indices in product(range(6), repeat=3):
        zeros = indices.count(0)
        if zeros < 2:
            found += [np.sum((np.pi * np.array(indices) / BOX) ** 2)] * (2 - zeros)
    return np.sort(found)


def cylinder_resonances():
    found = []
    for m in range(5):
        twice = 1 if m == 0 else 2
        for q in range(4):
            axial = (q * np.pi / HEIGHT) ** 2
            found += [z**2 + axial for z in jn_zeros(m, 3) / RADIUS] * twice
            if q:
                found += [z**2 + axial for z in jnp_zeros(m, 3) / RADIUS] * twice
    return np.sort(found)


def curved_cylinder():
    """Ten-node tetrahedra of a cylinder, from gmsh's arrays."""
    gmsh.initialize()
    try:
        gmsh.option.setNumber("General.Verbosity", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        gmsh.model.occ.addCylinder(0, 0, 0, 0, 0, HEIGHT, RADIUS)
        gmsh.model.occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", 0.6)
        gmsh.model.mesh.generate(3)
        gmsh.model.mesh.setOrder(2)
        tags, points, _ = gmsh.model.mesh.getNodes()
        _, _, nodes = gmsh.model.mesh.getElements(3)
    finally:
        gmsh.finalize()
    number = np.zeros(tags.max() + 1, dtype=int)
    number[tags] = np.arange(len(tags))
    return tetrahedral_mesh(points.reshape(-1, 3).T, number[nodes[0]].reshape(-1, 10).T, {})


def core_map(parameters):
    """The square of half-width 0.45 in the middle of the cylinder."""
    u, v, w = parameters
    scale = np.array([0.9, 0.9, HEIGHT])
    points = np.stack([0.9 * u - 0.45, 0.9 * v - 0.45, HEIGHT * w])
    return points, np.repeat(np.diag(scale)[:, :, None], u.size, axis=2)


def side_map(turn):
    """The block between one side of the square and the cylinder, turned about the axis."""
    c, s = np.round(np.cos(turn)), np.round(np.sin(turn))
    rotation = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])

    def mapping(parameters):
        u, v, w = parameters
        angle = np.pi / 2 * (v - 0.5)
        inner = np.stack([0.45 + 0 * v, 0.9 * v - 0.45])
        outer = RADIUS * np.stack([np.cos(angle), np.sin(angle)])
        points = np.concatenate([(1 - u) * inner + u * outer, HEIGHT * w[None]])
        slopes = np.zeros((3, 3, u.size))
        slopes[:2, 0] = outer - inner
        slopes[1, 1] = (1 - u) * 0.9
        slopes[:2, 1] += u * RADIUS * np.pi / 2 * np.stack([-np.sin(angle), np.cos(angle)])
        slopes[2, 2] = HEIGHT
        return rotation @ points, np.einsum("ij,jkn->ikn", rotation, slopes)

    return mapping


def five_block_cylinder(cells):
    """A core and four blocks around it, whose parameters are turned against each other."""
    breaks = (np.linspace(0, 1, cells + 1),) * 3
    sides = [Block(breaks, side_map(k * np.pi / 2)) for k in range(4)]
    return hexahedral_mesh([Block(breaks, core_map), *sides])


def interior_polynomials(mesh, order):
    """Number of continuous polynomials of an order that vanish on the boundary."""
    outer = mesh.boundary_facets()
    vertices = mesh.p.shape[1] - len(np.unique(mesh.facets[:, outer]))
    on_edges = {tuple(e) for e in np.sort(_facet_edges(mesh, outer)).tolist()}
    edges = mesh.edges.shape[1] - len(on_edges)
    facets = mesh.facets.shape[1] - len(outer)
    n = order - 1
    if len(mesh.t) == 8:
        return vertices + edges * n + facets * n**2 + mesh.t.shape[1] * n**3
    per_facet, per_cell = n * (n - 1) // 2, n * (n - 1) * (n - 2) // 6
    return vertices + edges * n + facets * per_facet + mesh.t.shape[1] * per_cell


def _facet_edges(mesh, facets):
    """Vertex pairs of the edges of some facets: those pairs that are edges of the mesh."""
    known = {tuple(sorted(e)) for e in mesh.edges.T.tolist()}
    corners = mesh.facets[:, facets]
    pairs = [corners[[a, b]].T for a in range(len(corners)) for b in range(a)]
    return np.array([p for p in np.concatenate(pairs).tolist() if tuple(sorted(p)) in known])


def cut_ring_map(parameters):
    """A quarter ring of radii 1 to 1.8 whose roof is the sphere of radius 2.2 about the origin."""
    u, v, w = parameters
    radius, angle = 1.0 + 0.8 * u, np.pi / 2 * v
    roof = np.sqrt(2.2**2 - radius**2)
    c, s = np.cos(angle), np.sin(angle)
    slopes = np.zeros((3, 3, u.size))
    slopes[:, 0] = np.stack([0.8 * c, 0.8 * s, -0.8 * w * radius / roof])
    slopes[:2, 1] = np.pi / 2 * radius * np.stack([-s, c])
    slopes[2, 2] = roof
    return np.stack([radius * c, radius * s, w * roof]), slopes


def ngsolve_resonances():
    """The two squared wave numbers about 12 of the same closed solid by NGSolve."""
    occ = pytest.importorskip("netgen.occ")
    ng = pytest.importorskip("ngsolve")
    ring = occ.Cylinder(occ.Pnt(0, 0, 0), occ.Z, 1.8, 3) - occ.Cylinder(
        occ.Pnt(0, 0, 0), occ.Z, 1.0, 3
    )
    solid = ring * occ.Box(occ.Pnt(0, 0, 0), occ.Pnt(3, 3, 3)) * occ.Sphere(occ.Pnt(0, 0, 0), 2.2)
    mesh = ng.Mesh(occ.OCCGeometry(solid).GenerateMesh(maxh=0.4)).Curve(6)
    space = ng.HCurl(mesh, order=5, dirichlet=".*", nograds=False)
    u, v = space.TnT()
    matrices = []
    for form in (ng.curl(u) * ng.curl(v) * ng.dx, u * v * ng.dx):
        rows, columns, values = ng.BilinearForm(form).Assemble().mat.COO()
        matrices.append(csr_matrix((np.array(values), (np.array(rows), np.array(columns)))))
    free = np.flatnonzero(np.array(space.FreeDofs()))
    K, M = (m[free][:, free] for m in matrices)
    factors = splu(
        (K - 12.0 * M).tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.1,
        options={"SymmetricMode": True},
    )
    inverse = LinearOperator(K.shape, matvec=factors.solve, dtype=float)
    return np.sort(eigsh(K, 2, M, 12.0, OPinv=inverse, return_eigenvectors=False))


@pytest.mark.parametrize(
    ("make", "cells", "order"),
    [
        (tetrahedral_box, 2, 1),
        (tetrahedral_box, 2, 2),
        (tetrahedral_box, 2, 3),
        (tetrahedral_box, 1, 4),
        (hexahedral_box, 2, 2),
        (hexahedral_box, 2, 4),
        (five_block_cylinder, 1, 4),
        (five_block_cylinder, 2, 2),
    ],
)
def test_static_solutions_are_the_gradients_of_the_potentials(make, cells, order):
    """A wrong space or a wrong sign between cells changes the number of zero eigenvalues."""
    mesh = make(cells)
    K, M = closed_cavity(edge_space(mesh, order))
    factor = np.linalg.inv(np.linalg.cholesky(M.toarray()))
    values = np.linalg.eigvalsh(factor @ K.toarray() @ factor.T)
    assert np.sum(values < 1e-6) == interior_polynomials(mesh, order)
    assert np.sum(values < 3.0) == interior_polynomials(mesh, order)


@pytest.mark.parametrize(
    ("make", "order", "cells"),
    [
        (tetrahedral_box, 1, (4, 8)),
        (tetrahedral_box, 2, (4, 6)),
        (tetrahedral_box, 3, (3, 4)),
        (tetrahedral_box, 4, (2, 3)),
        (hexahedral_box, 1, (4, 8)),
        (hexahedral_box, 2, (2, 4)),
        (hexahedral_box, 3, (2, 4)),
        (hexahedral_box, 4, (2, 3)),
    ],
)
def test_lowest_box_resonance_converges_at_twice_the_order(make, order, cells):
    exact = box_resonances()
    errors = [resonance_errors(edge_space(make(n), order), exact, 1)[0] for n in cells]
    rate = np.log(errors[0] / errors[1]) / np.log(cells[1] / cells[0])
    assert rate == pytest.approx(2 * order, abs=0.3)


def test_hexahedra_converge_exponentially_with_the_order():
    exact, mesh = box_resonances(), hexahedral_box(1)
    errors = [resonance_errors(edge_space(mesh, p), exact, 1)[0] for p in (2, 4, 6, 8)]
    assert errors[0] < 0.05
    assert all(b < 0.02 * a for a, b in pairwise(errors))


@pytest.mark.parametrize(("order", "bound"), [(3, 2e-2), (5, 5e-5), (6, 5e-7)])
def test_cylinder_of_exact_blocks_has_the_resonances_of_bessel_zeros(order, bound):
    errors = resonance_errors(edge_space(five_block_cylinder(1), order), cylinder_resonances(), 4)
    assert errors.max() < bound


@pytest.mark.parametrize(("order", "bound"), [(1, 3e-2), (2, 1e-3), (3, 3e-5)])
def test_cylinder_of_curved_tetrahedra_has_the_resonances_of_bessel_zeros(order, bound):
    space = edge_space(curved_cylinder(), order)
    errors = resonance_errors(space, cylinder_resonances(), 4)
    assert errors.max() < bound


@pytest.mark.slow
def test_a_cut_ring_agrees_with_ngsolve():
    """No variable but the angle separates, so there is no closed form; NGSolve curves its own mesh.

    NGSolve's own values change by 1e-5 from order 4 to 5 and from cells of 0.4 to 0.3.
    """
    exact = ngsolve_resonances()
    space = edge_space(hexahedral_mesh([Block((np.linspace(0, 1, 3),) * 3, cut_ring_map)]), 6)
    assert resonance_errors(space, exact, 2).max() < 2e-5
