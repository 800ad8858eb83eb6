from dataclasses import replace

import meshio
import numpy as np
import pytest

from geometries.shapes.guides import RectangularGuide
from geometries.shapes.straights import Straight
from solver.errors import OutputError
from solver.exchange.field_files import vtu_bytes
from solver.parts.field_picture import FieldPicture, MirrorPlane


def test_an_independent_reader_gets_mesh_and_field(assessment, tmp_path):
    field = assessment.field
    path = tmp_path / "field.vtu"
    path.write_bytes(vtu_bytes(field))
    mesh = meshio.read(path)
    np.testing.assert_allclose(mesh.points[:, :2].T, field.points, rtol=0, atol=1e-15)
    np.testing.assert_array_equal(mesh.cells_dict["triangle"].T, field.cells)
    values = mesh.point_data["H_x real"] + 1j * mesh.point_data["H_x imaginary"]
    np.testing.assert_allclose(values, field.values, rtol=1e-14)
    np.testing.assert_allclose(mesh.point_data["H_x magnitude"], 1.0, rtol=1e-12)


def test_tetrahedra_are_written_too(assessment, tmp_path):
    one = replace(
        assessment.field,
        points=np.vstack([np.zeros(3), np.eye(3)]).T,
        cells=np.array([[0], [1], [2], [3]]),
        values=np.arange(4) + 0j,
    )
    path = tmp_path / "field.vtu"
    path.write_bytes(vtu_bytes(one))
    assert meshio.read(path).cells_dict["tetra"].shape == (1, 4)


def test_other_cells_are_refused(assessment):
    with pytest.raises(OutputError, match="5 corners"):
        vtu_bytes(replace(assessment.field, cells=np.zeros((5, 1), dtype=int)))


GUIDE, FREQUENCY = RectangularGuide(20e-3, 10e-3), 10e9
K = 2 * np.pi * FREQUENCY / 299792458
KX = np.pi / 20e-3
BETA = np.sqrt(K**2 - KX**2)


def te10(x, z):
    """E and eta0 H (3, n) of TE10 along +z with E_y = cos(pi x/a) e^(-j beta z); Pozar sec. 3.3."""
    wave = np.exp(-1j * BETA * z)
    e = np.stack([0 * x, np.cos(KX * x) * wave, 0 * x])
    # curl E = -j k eta0 H by hand: H_x = -beta/k E_y, H_z = (j/k) dE_y/dx
    h = np.stack([-BETA / K * np.cos(KX * x) * wave, 0 * x, -1j / K * KX * np.sin(KX * x) * wave])
    return e, h


def read_whole(field, part, folder):
    path = folder / "field.vtu"
    path.write_bytes(vtu_bytes(field, part))
    mesh = meshio.read(path)
    fields = (
        (mesh.point_data[f"{name} real"] + 1j * mesh.point_data[f"{name} imaginary"]).T
        for name in ("E", "eta0 H")
    )
    return mesh, *fields


@pytest.mark.parametrize("plane", ["E", "H"])
def test_the_whole_of_a_straight_guide_is_te10_by_hand(plane, tmp_path):
    """The picture of the middle plane, from the mode by hand, gives the mode everywhere."""
    width = {"E": 10e-3, "H": 20e-3}[plane]
    z, across = (c.ravel() for c in np.meshgrid([0, 4e-3], np.linspace(-width / 2, width / 2, 5)))
    e, h = te10(across if plane == "H" else 0 * z, z)
    # what stands upright on z and y is -x, on z and x it is y
    order, sign = ([2, 1, 0], -1) if plane == "E" else ([2, 0, 1], 1)
    vectors = [np.stack([v[order[0]], v[order[1]], sign * v[order[2]]]) for v in (e, h)]
    cells = np.array([[0, 1, 2], [1, 3, 2]]).T
    axes = ("z", "y" if plane == "E" else "x")
    field = FieldPicture(np.stack([z, across]), cells, e[1], FREQUENCY, "E", *vectors, axes)
    mesh, electric, magnetic = read_whole(field, Straight(GUIDE, 4e-3), tmp_path)
    e, h = te10(mesh.points[:, 0], mesh.points[:, 2])
    np.testing.assert_allclose(electric, e, atol=1e-6)
    np.testing.assert_allclose(magnetic, h, atol=1e-6)
    assert mesh.points[:, 0].max() == pytest.approx(10e-3)
    assert mesh.points[:, 1].max() == pytest.approx(5e-3)
    assert set(mesh.cells_dict) == {"wedge"}


def test_a_joint_goes_round_its_axis(tmp_path):
    points = np.array([[0, 0, 1e-3], [1e-3, 2e-3, 1e-3]])
    electric = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0], [0, 0, 0]]) + 0j
    magnetic = np.array([[0, 0, 0], [0, 0, 0], [1.0, 1.0, 1.0]]) + 0j
    field = FieldPicture(
        points,
        np.array([[0], [1], [2]]),
        electric[0],
        FREQUENCY,
        "H about axis",
        electric,
        magnetic,
        ("z", "r"),
    )
    mesh, e, h = read_whole(field, Straight(GUIDE, 1e-3), tmp_path)
    x, y, _ = mesh.points.T
    radius = np.hypot(x, y)
    np.testing.assert_allclose((x * e[0] + y * e[1]) / radius, np.tile(electric[1], 25), rtol=1e-6)
    np.testing.assert_allclose((x * h[1] - y * h[0]) / radius, 1.0, rtol=1e-6)
    np.testing.assert_allclose(x * h[0] + y * h[1], 0.0, atol=1e-8)


def test_mirror_images_complete_a_quarter(tmp_path):
    points = np.vstack([np.zeros(3), np.eye(3)]).T * 1e-3
    e = np.ones((3, 4)) + 0j
    field = FieldPicture(
        points,
        np.arange(4)[:, None],
        np.ones(4) + 0j,
        FREQUENCY,
        "E",
        e,
        e,
        mirrors=(MirrorPlane(0, "magnetic"), MirrorPlane(1, "electric")),
    )
    mesh, electric, _ = read_whole(field, Straight(GUIDE, 1e-3), tmp_path)
    assert len(mesh.points) == 16
    assert len(mesh.cells_dict["tetra"]) == 4
    # a magnetic wall turns the component across it round, an electric one the two along it
    np.testing.assert_allclose(electric[:, ::4].real, [[1, -1, -1, 1], [1] * 4, [1, 1, -1, -1]])
