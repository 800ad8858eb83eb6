"""Every fast kernel gives the matrix of its weak form, as scikit-fem assembles it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import triu

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.tetrahedral_mesh import tetrahedral_mesh
from geometries.plane_meshes.joint_mesh import mesh_joint
from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.plane_meshes.plane_mesh import Filling
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.twists import Twist
from geometries.space_meshes.swept_blocks import swept_mesh
from solver.fem.edge_assembly import port_columns
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import edge_space
from solver.fem.field_samples import wall_current_matrix
from solver.fem.scalar_field import assemble
from solver.fem.vector_field import assemble_vector
from solver.parts.plane_losses import wall_terms
from tests.references import weak_forms as forms
from tests.references.cell_forms import (
    cell_basis,
    field_bases,
    field_facets,
    field_glue,
    glued,
    in_unknowns,
    on_faces,
    plane_basis,
    plane_facets,
    unknowns_glue,
)

EQUAL = 1e-12
GUIDE = RectangularGuide(22.86e-3, 10.16e-3)


def assert_same(ours, theirs):
    """Every entry agrees beside the two diagonal entries that it couples."""
    size = 1 / np.sqrt(theirs.diagonal())
    change = abs(ours - theirs).multiply(size[:, None]).multiply(size[None])
    assert change.max() < EQUAL


def full(upper):
    return upper + triu(upper, 1).T


def bent(plane):
    return Bend(GUIDE, plane, 1.3, 14e-3)


def metres(part, basis):
    s, t = np.asarray(basis.global_coordinates())
    on_arc = (s > 0) & (s < part.angle * part.mean_radius)
    return np.where(on_arc, 1 + t / part.mean_radius, 1.0)


def sines(port, t):
    orders = np.arange(1, 4).reshape(-1, *[1] * np.ndim(t))
    return np.sin(orders * np.pi * t / port.width) + 0.1 * t


def assert_columns(system, degree):
    """Port columns, the modes of one port after those of the other."""
    expected = []
    for port in system.plane_mesh.ports:
        basis = plane_facets(system, port.name, degree + 12)
        t = port.coordinate(np.asarray(basis.global_coordinates()))
        expected += [in_unknowns(system, basis, forms.port_column, mode=m) for m in sines(port, t)]
    expected = np.array(expected).T
    assert np.abs(system.columns - expected).max() < EQUAL * np.abs(expected).max()


@pytest.mark.parametrize("degree", [4, 8])
@pytest.mark.parametrize("plane", ["E", "H"])
def test_bend_in_its_plane(plane, degree):
    part = bent(plane)
    system = assemble(mesh_in_plane(part, 25e-3), degree, sines, fixed_wall=plane == "H")
    basis = plane_basis(system, degree + 2)
    along = metres(part, basis)
    found = (full(system.stiffness), full(system.mass))
    for ours, form in zip(found, (forms.developed_stiffness, forms.developed_mass), strict=True):
        assert_same(ours, in_unknowns(system, basis, form, metres=along))
    assert_columns(system, degree)


@pytest.mark.parametrize("fixed", [False, True])
@pytest.mark.parametrize("degree", [3, 7])
def test_corner_in_its_plane(degree, fixed):
    made = mesh_in_plane(Corner(GUIDE, "H", 1.3, 6e-3), 40e-3)
    system = assemble(made, degree, sines, fixed_wall=fixed)
    basis = plane_basis(system, degree + 2)
    assert_same(full(system.stiffness), in_unknowns(system, basis, forms.stiffness))
    assert_same(full(system.mass), in_unknowns(system, basis, forms.mass))
    assert_columns(system, degree)


def filled(made):
    """A mesh with other materials in every cell."""
    cells = made.mesh.t.shape[1]
    draw = np.random.default_rng(3)
    eps, mu = (draw.uniform(1, 5, cells) - 1j * draw.uniform(0, 2, cells) for _ in range(2))
    return replace(made, filling=Filling(eps, mu))


def in_medium(basis, form, medium, other=None, **fields):
    """Matrix of a form whose medium is complex and constant in each cell."""
    wide = np.broadcast_to(medium[:, None], (len(medium), basis.X.shape[-1]))
    bases = (basis,) if other is None else (basis, other)
    real, imag = (form.assemble(*bases, medium=part, **fields) for part in (wide.real, wide.imag))
    return real + 1j * imag


def assert_same_complex(ours, theirs):
    size = 1 / np.sqrt(np.abs(theirs.diagonal()))
    change = abs(ours - theirs).multiply(size[:, None]).multiply(size[None])
    assert change.max() < EQUAL


def test_materials_in_the_h_plane():
    made = filled(mesh_in_plane(Corner(GUIDE, "H", 1.3, 6e-3), 40e-3))
    system = assemble(made, 5, sines, fixed_wall=True)
    basis = plane_basis(system, 7)
    unit = unknowns_glue(system, basis)
    for ours, form, medium in (
        (system.stiffness, forms.filled_stiffness, 1 / made.filling.permeability),
        (system.mass, forms.filled_mass, made.filling.permittivity),
    ):
        assert_same_complex(full(ours), unit.T @ in_medium(basis, form, medium) @ unit)


@pytest.mark.parametrize("degree", [1, 3])
def test_vector_field_in_the_e_plane(degree):
    made = filled(mesh_in_plane(Corner(GUIDE, "E", 1.3, 6e-3), 40e-3))
    across = np.pi / GUIDE.broad_width
    system = assemble_vector(made, degree, across, two_sines)
    u, e = field_bases(system, degree + 2)
    to_u, to_e = (field_glue(system, i, basis) for i, basis in enumerate((u, e)))
    inverse, eps = 1 / made.filling.permeability, made.filling.permittivity
    stiffness = to_u.T @ in_medium(u, forms.filled_stiffness, inverse) @ to_u
    stiffness += to_e.T @ in_medium(e, forms.edge_stiffness, inverse, across=across) @ to_e
    mixed = in_medium(u, forms.edge_beside_scalar, inverse, e, across=across)
    stiffness += to_e.T @ mixed @ to_u + to_u.T @ mixed.T @ to_e
    assert_same_complex(full(system.stiffness), stiffness)
    mass = to_u.T @ in_medium(u, forms.filled_mass, eps) @ to_u
    mass += to_e.T @ in_medium(e, forms.edge_mass, eps) @ to_e
    assert_same_complex(full(system.mass), mass)
    expected = []
    for port in made.ports:
        u, e = field_facets(system, port.name, degree + 12)
        t = port.coordinate(np.asarray(u.global_coordinates()))
        normal = np.asarray(u.normals)[:, 0, 0]
        turn = normal[0] * port.direction[1] - normal[1] * port.direction[0]
        for mode_u, mode_e in zip(*two_sines(port, t), strict=True):
            column = to_u.T @ forms.port_column.assemble(u, mode=mode_u)
            column += to_e.T @ forms.edge_port_column.assemble(e, mode=mode_e, turn=turn)
            expected.append(column)
    expected = np.array(expected).T
    assert np.abs(system.columns - expected).max() < EQUAL * np.abs(expected).max()


def two_sines(port, t):
    return np.stack([sines(port, t), 2 * np.cos(sines(port, t))])


def test_joint_in_its_half_plane():
    joint = RotatingJoint(CircularGuide(12e-3), 1e-3, 25e-3, 18e-3, 20e-3, 8e-3)
    system = assemble(mesh_joint(joint, 30e-3, 0), 5, sines, fixed_wall=True, fixed="axis")
    basis = plane_basis(system, 7)
    found = (full(system.stiffness), full(system.mass))
    for ours, form in zip(found, (forms.revolved_stiffness, forms.revolved_mass), strict=True):
        assert_same(ours, in_unknowns(system, basis, form))
    assert_columns(system, 5)


@pytest.mark.parametrize("part", [bent("E"), bent("H"), Corner(GUIDE, "H", 1.3, 6e-3)])
def test_walls_of_a_plane_part(part):
    system = assemble(mesh_in_plane(part, 40e-3), 4, sines, fixed_wall=False)
    fields = np.random.default_rng(3).standard_normal((len(system.columns), 3))
    terms = wall_terms(system, fields)
    basis = plane_facets(system, "wall", 6)
    along = metres(part, basis) if isinstance(part, Bend) else np.ones(basis.dx.shape)
    for ours, form in (
        (terms.value, forms.wall_value),
        (terms.flux, forms.wall_flux),
        (terms.slope, forms.wall_slope),
    ):
        expected = fields.T @ in_unknowns(system, basis, form, metres=along) @ fields
        np.testing.assert_allclose(ours, expected, atol=EQUAL * np.abs(expected).max(), rtol=0)


def twisted(order):
    twist = Twist(GUIDE, np.pi / 2, 40e-3)
    return edge_space(swept_mesh(twist, wavelength=40e-3, feeds=(10e-3, 10e-3)).mesh, order)


def tetrahedra(order, bend):
    """A box of twelve tetrahedra, of edges straight or bent, with two ports."""
    from skfem import MeshTet1, MeshTet2

    lines = (np.linspace(0, 1, 2), np.linspace(0, 0.7, 2), np.linspace(0, 1.3, 3))
    plain = MeshTet1.init_tensor(*lines)
    middle = plain.p[2][plain.facets].mean(axis=0)
    ends = {
        name: plain.facets[:, np.isclose(middle, z)] for name, z in (("port1", 0), ("port2", 1.3))
    }
    mesh = tetrahedral_mesh(plain.p, plain.t, ends)
    if not bend:
        return edge_space(mesh, order)
    curved = MeshTet2.from_mesh(mesh)
    moved = curved.doflocs.copy()
    added = moved[:, mesh.p.shape[1] :]
    added += 0.02 * np.random.default_rng(7).standard_normal(added.shape)
    return edge_space(MeshTet2(moved, curved.t).with_boundaries(mesh.boundaries), order)


def turned(order):
    """Two curved cells that meet with different axes."""
    swap = np.eye(3)[[1, 0, 2]]

    def mapping(turn):
        def bent(parameters):
            x, y, z = turn @ parameters
            one, zero = np.ones_like(x), np.zeros_like(x)
            slopes = [[one, 0.2 * z, 0.2 * y], [zero, one, 0.2 * np.cos(2 * z)], [zero, zero, one]]
            points = np.stack([x + 0.2 * y * z, y + 0.1 * np.sin(2 * z), z])
            return points, np.einsum("ijn,jk->ikn", np.array(slopes), turn)

        return bent

    ends = np.array([0.0, 1.0])
    first = Block((ends, ends, ends), mapping(np.eye(3)), {"w0": "port1"})
    second = Block((ends, ends, 1.0 + ends), mapping(swap), {"w1": "port2"})
    return edge_space(hexahedral_mesh([first, second]), order)


SPACES = {
    "hexahedra of order 2": lambda: twisted(2),
    "hexahedra of order 3": lambda: turned(3),
    "tetrahedra of order 1": lambda: tetrahedra(1, False),
    "tetrahedra of order 3": lambda: tetrahedra(3, False),
    "curved tetrahedra of order 2": lambda: tetrahedra(2, True),
}
in_every_space = pytest.mark.parametrize("make", SPACES.values(), ids=SPACES.keys())


def on_walls(name):
    """A space; where the form as written takes all pairs of 144 functions it takes long."""
    slow = [pytest.mark.slow] if name == "hexahedra of order 3" else []
    return pytest.param(SPACES[name], id=name, marks=slow)


@in_every_space
def test_curl_curl_and_mass(make):
    space = make()
    basis = cell_basis(space, space.cell_rule(space.order + 2))
    rng = np.random.default_rng(1)
    eps_r = rng.uniform(1, 5, space.n_cells)
    expected = (
        glued(space, basis, forms.curl_curl),
        glued(space, basis, forms.field_mass, eps_r=eps_r[:, None] * np.ones(basis.dx.shape)),
    )
    for kept in (np.arange(space.n_dofs), space.free_dofs):
        pencil = edge_pencil(space, kept, permittivity=eps_r)
        for ours, theirs in zip(pencil, expected, strict=True):
            assert_same(full(ours), theirs.tocsr()[kept][:, kept])


@in_every_space
def test_columns_of_a_port(make):
    space = make()

    def modes(points):
        x, y, z = points / np.abs(space.mesh.p).max()
        return np.array([[y, x + z, 1 + x], [x * y, y - z, x]])

    facets, rule = space.mesh.boundaries["port2"], space.face_rule(space.order + 3)
    found = port_columns(space, "port2", modes)
    for column, number in zip(found.T, range(2), strict=True):
        expected = on_faces(
            space, facets, rule, forms.field_port_column, mode=lambda x, n=number: modes(x)[n]
        )
        np.testing.assert_allclose(column, expected, atol=EQUAL * np.abs(expected).max(), rtol=0)


@pytest.mark.parametrize("make", [on_walls(name) for name in SPACES])
def test_currents_on_the_walls(make):
    """For fields that electric walls allow the whole curl is tangential."""
    space = make()
    fields = np.zeros((space.n_dofs, 3))
    fields[space.free_dofs] = np.random.default_rng(2).standard_normal((len(space.free_dofs), 3))
    rule = space.face_rule(space.order + 2)
    expected = fields.T @ on_faces(space, space.wall_facets, rule, forms.wall_currents) @ fields
    found = wall_current_matrix(space, fields)
    np.testing.assert_allclose(found, expected, atol=EQUAL * np.abs(expected).max(), rtol=0)
