"""Studies of a part in a file: whatever is wrong with it gives exit 2 and one line."""

import meshio
import numpy as np
import pytest

from solver.commands.command_line import main

STUDY = """
guide = { width_mm = 20.0, height_mm = 10.0 }
[component]
kind = "mesh"
file = "FILE"
units = "mm"
[band]
from_ghz = 9.0
to_ghz = 12.0
points = 3
"""
POINTS = np.array([[0.0, 0, 0], [20, 0, 0], [0, 10, 0], [0, 0, 20]])


def study(folder, file, extra=""):
    path = folder / "part.toml"
    path.write_text(STUDY.replace("FILE", file).replace('units = "mm"', f'units = "mm"\n{extra}'))
    return path


def refused(path, capsys):
    assert main(["assess", str(path)]) == 2
    lines = capsys.readouterr().err.strip().splitlines()
    assert "Traceback" not in "".join(lines)
    return lines[-1]


def test_a_file_that_is_no_mesh(tmp_path, capsys):
    (tmp_path / "part.msh").write_text("rubbish\n")
    line = refused(study(tmp_path, "part.msh"), capsys)
    assert f"{tmp_path}/part.msh: not a mesh that can be read" in line


def test_a_file_that_is_not_there(tmp_path, capsys):
    assert "there is no such file" in refused(study(tmp_path, "gone.vtu"), capsys)


def test_a_mesh_without_ports(tmp_path, capsys):
    meshio.write(tmp_path / "one.vtk", meshio.Mesh(POINTS, [("tetra", [[0, 1, 2, 3]])]))
    line = refused(study(tmp_path, "one.vtk"), capsys)
    assert "there is no port 'port1'; the file names no boundary groups" in line


def test_a_rubbish_step_file(tmp_path, capsys):
    (tmp_path / "part.stp").write_text("ISO-10303-21;\nrubbish\n")
    assert "part.stp: " in refused(study(tmp_path, "part.stp"), capsys)


@pytest.mark.parametrize(
    ("extra", "text"),
    [
        ('ports = "port1"', "component.ports"),
        ('ports = ["a"]', "must be a list of the two ports"),
        ('ports = ["a", "a"]', "two different ports"),
        ('ports = ["a", { point = [0, 0, 0] }]', "point_mm"),
        ('ports = ["a", { point_mm = [0, 0] }]', "point_mm"),
        ('ports = ["a", { point_mm = [0, nan, 0] }]', "point_mm"),
        ("walls = 3", "component.walls"),
        ("walls = []", "must be"),
        ("wall = []", "did you mean walls?"),
    ],
)
def test_keys_that_cannot_be(tmp_path, capsys, extra, text):
    assert text in refused(study(tmp_path, "part.msh", extra), capsys)


def test_units_have_to_be_stated(tmp_path, capsys):
    path = study(tmp_path, "part.msh")
    path.write_text(path.read_text().replace('units = "mm"\n', ""))
    assert "component.units: missing" in refused(path, capsys)
