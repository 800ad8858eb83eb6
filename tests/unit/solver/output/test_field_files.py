from dataclasses import replace

import meshio
import numpy as np
import pytest

from solver.errors import OutputError
from solver.output.field_files import vtu_bytes


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
