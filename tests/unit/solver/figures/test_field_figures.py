"""Pictures of fields: which are drawn, with which words, and the surface of a mesh."""

import numpy as np
import pytest

from solver.figures.field_figures import field_figure, figures, note_on
from solver.figures.field_surfaces import outer_faces
from solver.parts.field_picture import CutPlane, FieldPicture, MirrorPlane
from solver.studies.inches import told_in_inches

CUBE = np.array(
    [[0, 1, 3, 7], [0, 1, 5, 7], [0, 2, 3, 7], [0, 2, 6, 7], [0, 4, 5, 7], [0, 4, 6, 7]]
)
SHIFT = np.array([[2.0], [0.0], [0.0]])


def box(copies=2):
    """Cubes in a row, each of six tetrahedra with points of its own."""
    corner = np.array([[m & 1, m >> 1 & 1, m >> 2] for m in range(8)], dtype=float).T
    corner[0] *= 2.0
    points = np.hstack([corner + n * SHIFT for n in range(copies)])
    cells = np.hstack([CUBE.T + 8 * n for n in range(copies)])
    return points, cells


def in_space(cuts=1, mirrors=()):
    points, cells = box()
    e = np.zeros((3, points.shape[1]), dtype=complex)
    e[1] = np.exp(-0.7j * points[0])
    planes = tuple(
        CutPlane(
            f"cut {n}",
            np.array([0.5, 0.4 + 0.1 * n, 0.5]),
            np.eye(3)[0],
            np.eye(3)[2],
            ("x", "z"),
        )
        for n in range(cuts)
    )
    return FieldPicture(points, cells, e[1], 10e9, "E", e, 1j * e, cuts=planes, mirrors=mirrors)


def in_plane():
    points = np.array([[0.0, 1.0, 1.0, 0.0], [0.0, 0.0, 1.0, 1.0]]) * 1e-2
    cells = np.array([[0, 0], [1, 2], [2, 3]])
    e = np.zeros((3, 4), dtype=complex)
    e[2] = [1.0, 0.5j, -1.0, 0.2]
    return FieldPicture(points, cells, e[2], 9e9, "E along b", e, e[[1, 2, 0]], ("z", "x"))


def test_the_surface_of_touching_cubes_is_that_of_the_box():
    points, cells = box()
    faces = outer_faces(FieldPicture(points, cells, points[0] + 0j, 1e9, "E"))
    a, b, c = (points[:, corner] for corner in faces)
    area = np.linalg.norm(np.cross(b - a, c - a, axis=0), axis=0) / 2
    # 4 x 1 x 1: the side between the cubes, whose points are there twice, is none of it
    assert area.sum() == pytest.approx(4 * 4 + 2)
    middle = (a + b + c) / 3
    assert not np.isclose(middle[0], 2.0).any()


def test_e_stands_beside_h_in_every_picture():
    assert len(field_figure(in_plane()).axes) >= 4
    bare = in_plane()
    scalar = FieldPicture(bare.points, bare.cells, bare.values, 9e9, "H along a")
    (figure, caption), *rest = figures([scalar])
    assert caption == "H along a at 9 GHz." and not rest and figure.axes


def test_a_whole_part_is_shown_from_outside_once_and_two_cuts_fill_a_figure():
    drawn = [caption for _, caption in figures([in_space(3), in_space(1)])]
    assert drawn == [
        "E and H at 10 GHz.",
        "E and H at 10 GHz.",
        "Size of E on walls and ports at 10 GHz.",
        "E and H at 10 GHz.",
    ]
    half = in_space(1, mirrors=(MirrorPlane(0, "magnetic"),))
    assert [caption for _, caption in figures([half])] == ["E and H at 10 GHz."]


def test_notes_say_what_is_over_what():
    assert "z runs along the axis at port 1" in note_on(in_plane())
    assert "Above: one instant" in note_on(in_plane())
    assert "The colours show the size" in note_on(in_space())
    round_one = in_plane()
    turned = FieldPicture(
        round_one.points, round_one.cells, round_one.values, 9e9, "E", round_one.electric,
        round_one.magnetic, ("z", "r"),
    )  # fmt: skip
    assert "r counts from it" in note_on(turned)
    bare = FieldPicture(round_one.points, round_one.cells, round_one.values, 9e9, "E")
    assert note_on(bare).endswith("over the peak of that wave alone.")


def test_pictures_are_drawn_in_the_unit_in_which_lengths_are_told():
    seen = {}
    for inches in (False, True):
        with told_in_inches(inches):
            axes = field_figure(in_plane()).axes[0]
            seen[inches] = (axes.get_xlabel(), axes.get_xlim()[1])
            outside = figures([in_space(2)])[-1][0].axes[0]
            assert outside.get_zlabel() == f"y / {'in' if inches else 'mm'}"
    assert [label for label, _ in seen.values()] == ["z / mm", "z / in"]
    assert seen[False][1] == pytest.approx(25.4 * seen[True][1])
