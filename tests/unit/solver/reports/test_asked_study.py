"""What Python users ask for, lengths that look like other units, and text in pages of HTML."""

import json
import math
from pathlib import Path

import pytest

from geometries.errors import InvalidDimensionError
from geometries.shapes.bends import Bend
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from solver.errors import StudyError
from solver.reports.asked_study import asked_of, check_units
from solver.reports.exploration_index import as_script_data
from solver.reports.notebook_views import MOST_ROWS, notebook_view
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.study import Study
from solver.waves.walls import Walls

WR90 = standard_guide("WR-90")
BEND, BAND = Bend(WR90, "E", math.pi / 2, 30e-3), Band(8.2e9, 12.4e9)
STUDY = Study("from a file", BEND, BAND, Limit(vswr=1.05), 1e-5, Walls(5.8e7), Path())


def test_a_part_needs_a_band_and_has_an_accuracy():
    asked = asked_of(BEND, BAND, accuracy=1e-3)
    assert (asked.component, asked.band, asked.s_error, asked.walls) == (BEND, BAND, 1e-3, None)
    assert asked_of(BEND, BAND, s_error=1e-6, accuracy=1e-3).s_error == 1e-6
    with pytest.raises(StudyError, match=r"a bend without a band: give one, as Band\("):
        asked_of(BEND, None)


def test_what_is_given_counts_more_than_what_the_study_says():
    assert asked_of(STUDY, None) == STUDY
    other, limit = Band(9e9, 10e9), Limit(vswr=1.2)
    asked = asked_of(STUDY, other, limit, 1e-3, Walls(1e7), "mine")
    assert (asked.band, asked.limit, asked.s_error) == (other, limit, 1e-3)
    assert (asked.walls, asked.title, asked.component) == (Walls(1e7), "mine", BEND)


def test_a_file_is_read(tmp_path):
    path = tmp_path / "bend.toml"
    path.write_text(
        'guide = "WR-90"\n[component]\nkind = "straight"\nlength_mm = 20.0\n'
        "[band]\nfrom_ghz = 9.0\nto_ghz = 10.0\npoints = 3\n"
    )
    assert asked_of(str(path), None).component == Straight(WR90, 20e-3)


@pytest.mark.parametrize(
    ("part", "named"),
    [
        # millimetres given as metres
        (Bend(WR90, "E", 1.0, 38.0), "mean_radius"),
        (Straight(WR90, 12.0), "length"),
        (Straight(RectangularGuide(22.86, 10.16), 0.04), "broad_width"),
        (Straight(CircularGuide(27.0), 0.04), "diameter"),
        (Taper(WR90, RectangularGuide(28e-3, 12e-3), 50.0), "length"),
    ],
)
def test_lengths_in_other_units_are_refused_by_name(part, named):
    with pytest.raises(InvalidDimensionError) as told:
        check_units(asked_of(part, BAND))
    assert told.value.quantity == named
    assert "lengths are in metres, so that 38 mm is 0.038" in str(told.value)


def test_angles_and_long_runs_are_no_other_units():
    check_units(asked_of(Bend(WR90, "E", math.pi, 30e-3), BAND))
    check_units(asked_of(Straight(WR90, 11.0), BAND))


def test_a_view_escapes_what_it_shows_and_counts_what_it_leaves_out():
    rows = [(str(i), "<i>") for i in range(MOST_ROWS + 3)]
    html = notebook_view("a <b>", ["first & last", "", "second"], ("n", "<h>"), rows)
    assert "<b>a &lt;b&gt;</b>" in html and "<p>first &amp; last</p>" in html
    assert "<ul><li>second</li></ul>" in html and "<th>&lt;h&gt;</th>" in html
    assert html.count("<td>&lt;i&gt;</td>") == MOST_ROWS and "<p>and 3 more</p>" in html
    bare = notebook_view("t", [])
    assert "<table>" not in bare and "<ul>" not in bare and "more" not in bare


def test_data_in_a_script_cannot_end_it():
    told = {"title": "</script><!-- & more", "values": [1.5, None]}
    text = str(as_script_data(told))
    assert not set("<>&") & set(text)
    assert json.loads(text) == told
    with pytest.raises(ValueError, match="JSON"):
        as_script_data([math.nan])
