import math
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from solver.figures.part_sheet import drawing_figure
from solver.output.drawing import drawing_of
from solver.output.wording import part_text, shown_dimensions
from solver.studies.component_keys import KNOWN_KINDS
from solver.studies.inches import told_in_inches
from solver.studies.starters import starter_study
from solver.studies.study import study_of

WR90 = standard_guide("WR-90")


def length(line):
    return np.linalg.norm(np.diff(line, axis=1), axis=0).sum()


@pytest.mark.parametrize(("plane", "width"), [("E", 10.16e-3), ("H", 22.86e-3)])
def test_a_bend_has_walls_at_half_the_width(plane, width):
    view = drawing_of(Bend(WR90, plane, math.radians(37), 0.045)).views[0]
    outer, inner = view.walls
    np.testing.assert_allclose(np.linalg.norm(outer - inner, axis=0), width, rtol=1e-12)
    np.testing.assert_allclose((outer + inner) / 2, view.axis[0], atol=1e-15)
    # Axis length is R times the angle; a polygon of 90 chords is short by about 1e-5.
    assert length(view.axis[0]) == pytest.approx(0.045 * math.radians(37), rel=1e-4)
    assert [length(port) for _, port in view.ports] == pytest.approx([width, width])


@pytest.mark.parametrize("angle", [30.0, 90.0, 140.0])
@pytest.mark.parametrize("cut", [0.0, 3e-3])
def test_a_corner_turns_by_its_angle_and_loses_its_cut(angle, cut):
    corner = Corner(WR90, "H", math.radians(angle), cut)
    view = drawing_of(corner).views[0]
    outer = view.walls[0]
    first, last = outer[:, 1] - outer[:, 0], outer[:, -1] - outer[:, -2]
    cosine = first @ last / np.linalg.norm(first) / np.linalg.norm(last)
    assert cosine == pytest.approx(math.cos(math.radians(angle)), abs=1e-9)
    chord = np.linalg.norm(outer[:, 2] - outer[:, 1])
    assert chord == pytest.approx(2 * cut * math.cos(math.radians(angle) / 2), abs=1e-12)
    assert [length(port) for _, port in view.ports] == pytest.approx([22.86e-3] * 2)


def test_a_straight_is_as_long_as_it_says():
    view = drawing_of(Straight(CircularGuide(0.027), 0.1)).views[0]
    assert [length(wall) for wall in view.walls] == pytest.approx([0.1, 0.1])
    assert length(view.ports[0][1]) == pytest.approx(0.027)


def marks_of(drawing):
    return {mark.key: mark for view in drawing.views for mark in view.marks if mark.key}


def span(mark):
    return math.hypot(*np.subtract(mark.end, mark.start))


@pytest.mark.parametrize(
    ("part", "lengths"),
    [
        (Bend(WR90, "E", math.radians(37), 0.045), {"mean_radius_mm": 45e-3}),
        (Corner(WR90, "E", math.pi / 2, 4e-3), {"cut_mm": 4e-3}),
        (Twist(WR90, 1.0, 0.05), {"length_mm": 50e-3, "guide.height_mm": 10.16e-3}),
        (
            Taper(WR90, standard_guide("WR-112"), 0.06),
            {
                "length_mm": 60e-3,
                "guide.width_mm": 22.86e-3,
                "to_guide.width_mm": 28.4988e-3,
                "to_guide.height_mm": 12.6238e-3,
            },
        ),
        (Transition(WR90, 0.027, 0.04), {"to_diameter_mm": 27e-3, "length_mm": 40e-3}),
        (Offset(WR90, 0.4e-3, -0.2e-3), {"shift_x_mm": 0.4e-3, "shift_y_mm": 0.2e-3}),
        (
            Dent(WR90, "broad", 1.5e-3, 12e-3, 8e-3),
            {"depth_mm": 1.5e-3, "length_mm": 12e-3, "width_mm": 8e-3},
        ),
        (Flexible(WR90, 6e-3, 1.2e-3, 9), {"pitch_mm": 6e-3, "convolution_depth_mm": 1.2e-3}),
        (
            ChokeFlange(WR90, 0.2e-3, 25e-3, 14e-3, 16e-3, 8.2e-3),
            {
                "groove_inner_radius_mm": 14e-3,
                "groove_outer_radius_mm": 16e-3,
                "groove_depth_mm": 8.2e-3,
            },
        ),
        (
            RotatingJoint(CircularGuide(0.027), 0.8e-3, 34e-3, 19.2e-3, 22.4e-3, 8.6e-3),
            {"groove_depth_mm": 8.6e-3, "rim_radius_mm": 34e-3, "groove_inner_radius_mm": 19.2e-3},
        ),
    ],
    ids=lambda value: getattr(value, "kind", ""),
)
def test_dimension_lines_are_as_long_as_they_say(part, lengths):
    marks = marks_of(drawing_of(part))
    for key, wanted in lengths.items():
        assert span(marks[key]) == pytest.approx(wanted, rel=1e-12), key
        said = float(marks[key].text.removeprefix("R ").removeprefix("Ø "))
        assert abs(said) == pytest.approx(wanted * 1e3, rel=5e-5), key


def test_the_groove_of_a_second_flange_stands_in_that_flange():
    grooves = {"groove_inner_radius": 19e-3, "groove_outer_radius": 22e-3, "groove_depth": 8e-3}
    second = {f"second_{name}": size for name, size in grooves.items()}
    joint = RotatingJoint(CircularGuide(0.027), 0.8e-3, 34e-3, **grooves, **second)
    first, last = drawing_of(joint).views[0].metal
    # flange 1 lies left of the gap, flange 2 right of it, each with its groove cut out
    assert first[0].max() == pytest.approx(0.0)
    assert len(first.T) == len(last.T) == 9


def test_what_varies_stands_out():
    bend = Bend(WR90, "E", math.radians(37), 0.045)
    figure = drawing_figure(drawing_of(bend), {"mean_radius_mm": "20 to 60"})
    bold = [t.get_text() for axes in figure.axes for t in axes.texts if t.get_weight() == "bold"]
    assert "R 20 to 60" in bold
    assert len(bold) == 3  # with the two numbers of the ports


def lengths_of(drawing):
    """Every length that a drawing tells; angles and other numbers are no lengths."""
    marks = [mark for view in drawing.views for mark in view.marks]
    texts = [mark.text for mark in marks if mark.key != "count"]
    texts += [text for _, text in drawing.more]
    plain = [t for t in texts if "°" not in t and not t.startswith("onset")]
    return [float(re.search(r"[\d.]+", text)[0]) for text in plain if re.search(r"\d", text)]


@pytest.mark.parametrize("kind", [kind for kind in KNOWN_KINDS if kind != "mesh"])
def test_a_user_who_writes_inches_reads_inches(kind):
    part = study_of(tomllib.loads(starter_study(kind)), Path("starter.toml")).component
    with told_in_inches(True):
        inches = drawing_of(part)
        words = [part_text(part), *(text for _, text in shown_dimensions(part))]
    told = [inches.note, *words, *(text for _, text in inches.more)]
    assert "dimensions in inches" in inches.note
    assert not [text for text in told if re.search(r"\bmm\b", text)]
    # 1 in is 25.4 mm exactly (International yard and pound agreement, 1959); 5 digits are shown
    millimetres = lengths_of(drawing_of(part))
    assert millimetres
    assert [25.4 * size for size in lengths_of(inches)] == pytest.approx(millimetres, rel=1e-4)
