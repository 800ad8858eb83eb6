import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.straights import Straight
from solver.errors import StudyError
from solver.studies.band import MOST_POINTS
from solver.studies.run_study import read_run
from solver.studies.study import read_study

GUIDE = 'guide = "WR-90"'
BEND = '[component]\nkind = "bend"\nplane = "E"\nangle_deg = 37.0\nmean_radius_mm = 45.0'
BAND = "[band]\nfrom_ghz = 8.2\nto_ghz = 12.4"


def write(tmp_path, *parts):
    path = tmp_path / "riser.toml"
    path.write_text("\n".join(parts), encoding="utf-8")
    return path


def message(path):
    with pytest.raises(StudyError) as caught:
        read_study(path)
    text = str(caught.value)
    assert text.isprintable()
    assert str(path) in text
    return text.replace(str(path), path.name)


def test_a_whole_study_is_read_in_si_units(tmp_path):
    study = read_study(
        write(
            tmp_path,
            'title = "riser offset"',
            GUIDE,
            BEND,
            BAND,
            "points = 11",
            "[limit]\nvswr = 1.05\nreturn_loss_db = 32\nleakage_db = -60.0",
            "[accuracy]\ns_error = 1e-5",
            "[walls]\nconductivity_s_per_m = 5.8e7",
        )
    )
    assert study.title == "riser offset"
    assert isinstance(study.component, Bend)
    assert study.component.angle == pytest.approx(math.radians(37.0), rel=1e-15)
    assert study.component.mean_radius == pytest.approx(0.045, rel=1e-15)
    # EIA RS-261-B: WR-90 is 0.900 in by 0.400 in inside.
    assert study.component.guide.broad_width == pytest.approx(0.9 * 0.0254, rel=1e-9)
    np.testing.assert_allclose(study.band.frequencies, np.linspace(8.2e9, 12.4e9, 11))
    assert study.limit.values == {"vswr": 1.05, "return_loss_db": 32.0, "leakage_db": -60.0}
    assert study.s_error == 1e-5
    assert study.walls.conductivity == 5.8e7


def test_optional_tables_have_their_defaults(tmp_path):
    study = read_study(write(tmp_path, GUIDE, BEND, BAND))
    assert (study.title, study.limit, study.walls) == ("riser", None, None)
    assert study.s_error == 1e-4
    assert study.band.points == 201


def test_listed_frequencies_and_own_guides(tmp_path):
    corner = '[component]\nkind = "corner"\nplane = "H"\nangle_deg = 90\ncut_mm = 3.5'
    band = "[band]\nfrequencies_ghz = [9.0, 10, 11.5]"
    study = read_study(write(tmp_path, "guide = {width_mm = 22, height_mm = 9.5}", corner, band))
    assert study.component == Corner(RectangularGuide(0.022, 0.0095), "H", math.radians(90), 0.0035)
    np.testing.assert_allclose(study.band.frequencies, [9e9, 10e9, 11.5e9])


def test_a_straight_circular_guide(tmp_path):
    straight = '[component]\nkind = "straight"\nlength_mm = 100'
    study = read_study(write(tmp_path, "guide = {diameter_mm = 27.0}", straight, BAND))
    assert study.component == Straight(CircularGuide(0.027), 0.1)


@pytest.mark.parametrize("spelling", ["WR90", "wr-90", "R100", "WG16"])
def test_guides_have_several_names(tmp_path, spelling):
    study = read_study(write(tmp_path, f'guide = "{spelling}"', BEND, BAND))
    assert study.component.guide.broad_width == pytest.approx(0.02286, rel=1e-9)


def changed(key, value):
    """The study with one line replaced, or taken out when the value is None."""
    lines = "\n".join([GUIDE, BEND, BAND]).splitlines()
    new = [] if value is None else [f"{key} = {value}"]
    at = next(i for i, line in enumerate(lines) if line.startswith(f"{key} ="))
    return "\n".join(lines[:at] + new + lines[at + 1 :])


# Which line is changed, to what, and what the message must contain.
BROKEN_VALUES = [
    ("mean_radius_mm", "-45.0", ["component.mean_radius_mm = -45.0: must be above 0"]),
    ("mean_radius_mm", "0", ["component.mean_radius_mm = 0: must be above 0"]),
    ("mean_radius_mm", "nan", ["component.mean_radius_mm = nan: must be a finite number"]),
    ("mean_radius_mm", "inf", ["component.mean_radius_mm = inf: must be"]),
    ("mean_radius_mm", '"45"', ['component.mean_radius_mm = "45": must be a number']),
    ("mean_radius_mm", "true", ["component.mean_radius_mm = true: must be a number"]),
    ("mean_radius_mm", "[45]", ["component.mean_radius_mm = a list: must be a number"]),
    ("mean_radius_mm", "1e300", ["component.mean_radius_mm = 1e+300: must be at most"]),
    ("mean_radius_mm", "1e6", ["component.mean_radius_mm = 1000000.0: must be at most 100000"]),
    ("mean_radius_mm", "9" * 400, ["component.mean_radius_mm = a whole number with too many"]),
    ("mean_radius_mm", "2026-01-01", ["component.mean_radius_mm = 2026-01-01: must be a number"]),
    ("mean_radius_mm", "4.0", ["component.mean_radius_mm = 4.0: must be more than", "5.08 mm"]),
    ("mean_radius_mm", None, ["component.mean_radius_mm: missing; add it"]),
    ("angle_deg", "0.5", ["component.angle_deg = 0.5: must be from 1 to 180 degrees"]),
    ("angle_deg", "181.0", ["component.angle_deg = 181.0: must be from 1 to 180 degrees"]),
    ("plane", '"G"', ["component.plane = \"G\": must be 'E' or 'H'"]),
    ("kind", '"wormhole"', ['component.kind = "wormhole": must be one of: ', "bend", "corner"]),
    ("kind", "3", ["component.kind = 3: must be one of"]),
    ("kind", None, ["component.kind: missing; must be one of: straight, bend"]),
    ("guide", '"WR-91"', ['guide = "WR-91": ', "WR-90"]),
    ("guide", '""', ['guide = "": must not be empty']),
    ("guide", "90", ["guide = 90: must be a size in quotes"]),
    ("guide", None, ["guide: missing"]),
    ("guide", "{width_mm = 22.86}", ["guide.height_mm: missing; add it"]),
    ("guide", "{width_mm = 9, height_mm = 22}", ["guide.height_mm = 22.0: must be at most"]),
    ("guide", "{diameter_mm = -1}", ["guide.diameter_mm = -1: must be above 0"]),
    ("guide", "{diameter_mm = 27.0}", ['component.kind = "bend": needs a rectangular guide']),
    ("from_ghz", "6.0", ["band.from_ghz = 6.0: must be above the cutoff", "6.55714 GHz"]),
    ("from_ghz", "12.4", ["band.to_ghz = 12.4: must be above from_ghz (12.4)"]),
    ("from_ghz", "13.0", ["band.to_ghz = 12.4: must be above from_ghz (13)"]),
    ("plane", "E", ["not a TOML file", 'line 4: text stands in quotes: plane = "E"']),
    ("mean_radius_mm", "30,5", ["not a TOML file", "write a decimal point: 30.5"]),
    ("kind", '"elbow"', ['component.kind = "elbow": here that is a "bend" (swept) or a "corner"']),
    ("guide", '"10.16x22.86"', ['guide = "10.16x22.86"', "the broad side comes first"]),
    ("from_ghz", "8200.0", ["band.from_ghz = 8200.0: is in GHz", "for 8200 MHz write 8.2"]),
    ("from_ghz", "8.2e9", ["band.from_ghz = 8200000000.0: is in GHz", "Hz write 8.2"]),
    ("to_ghz", "12400.0", ["band.to_ghz = 12400.0: is in GHz", "for 12400 MHz write 12.4"]),
    ("to_ghz", None, ["band.to_ghz: missing; give from_ghz and to_ghz"]),
]


@pytest.mark.parametrize(("key", "value", "words"), BROKEN_VALUES)
def test_one_broken_value_gives_one_telling_line(tmp_path, key, value, words):
    text = message(write(tmp_path, changed(key, value)))
    assert text.startswith(f"riser.toml: {words[0]}")
    for word in words[1:]:
        assert word in text


# Text added to a good study, and what the message must contain.
BROKEN_ADDITIONS = [
    ("points = 1000000", f"band.points = 1000000: must be at most {MOST_POINTS}"),
    ("points = 1", "band.points = 1: must be at least 2"),
    ("points = 20.5", "band.points = 20.5: must be a whole number"),
    ("frequencies_ghz = [9.0]", "band.from_ghz = 8.2: cannot stand beside frequencies_ghz"),
    ("from_mhz = 1", "band.from_mhz = 1: unknown key; did you mean from_ghz?"),
    ("[limit]\nvswr = 1.0", "limit.vswr = 1.0: must be above 1"),
    ("[limit]\nreturn_loss_db = -20.0", "limit.return_loss_db = -20.0: must be above 0"),
    ("[limit]\nleakage_db = 0.0", "limit.leakage_db = 0.0: must be below 0"),
    ("[limit]\nswr = 1.1", "limit.swr = 1.1: unknown key; did you mean vswr?"),
    ("[accuracy]\ns_error = 0.5", "accuracy.s_error = 0.5: must be at most 0.1"),
    ("[accuracy]\ns_error = 1e-12", "accuracy.s_error = 1e-12: must be at least 1e-09"),
    ("[walls]\nconductivity_s_per_m = 0", "walls.conductivity_s_per_m = 0: must be at least"),
    ("[walls]", "walls.conductivity_s_per_m: missing; add it"),
    ("[colour]\nhue = 3", "colour = a table: unknown key"),
    ('["a\\nb"]\nhue = 3', "a\\nb = a table: unknown key"),
    ('[limit]\nvswr = "a\\nb"', 'limit.vswr = "a\\nb": must be a number'),
]


@pytest.mark.parametrize(("addition", "words"), BROKEN_ADDITIONS)
def test_one_broken_addition_gives_one_telling_line(tmp_path, addition, words):
    text = message(write(tmp_path, GUIDE, BEND, BAND, addition))
    assert text.startswith(f"riser.toml: {words}")


@pytest.mark.parametrize(
    ("component", "words"),
    [
        (
            'kind = "load"\nplane = "H"\nposition = "centre"\ntaper_length_mm = 60.0\n'
            "base_length_mm = 20.0\npermittivity = 4.0\nloss_tangent = 0.2",
            "has no meaning for a load, which is closed",
        ),
        (
            'kind = "horn"\naperture_width_mm = 40.0\naperture_height_mm = 30.0\nlength_mm = 30.0',
            "has no meaning for a horn, which radiates on purpose",
        ),
    ],
)
def test_no_leakage_is_asked_of_a_part_that_has_none(tmp_path, component, words):
    limit = "[limit]\nleakage_db = -60.0"
    text = message(write(tmp_path, GUIDE, f"[component]\n{component}", BAND, limit))
    assert text.startswith(f"riser.toml: limit.leakage_db = -60.0: {words}")


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ((GUIDE, BEND, BAND.replace("[band]", "")), ("component.from_ghz = 8.2", "under [band]")),
        ((GUIDE, BEND.replace("[component]", ""), BAND), ('kind = "bend"', "under [component]")),
        ((BEND, BAND, "[limit]\n" + GUIDE), ('limit.guide = "WR-90"', "above the first table")),
        ((GUIDE, BEND, BAND, "[accuracy]\nvswr = 1"), ("accuracy.vswr = 1", "under [limit]")),
    ],
)
def test_a_key_in_the_wrong_table_is_sent_home(tmp_path, parts, words):
    text = message(write(tmp_path, *parts))
    assert text.startswith(f"riser.toml: {words[0]}: unknown key here; it stands {words[1]}")


def test_a_key_of_another_kind_is_not_sent_to_the_table_where_it_stands(tmp_path):
    text = message(write(tmp_path, GUIDE, BEND + "\nwall = 1.0", BAND))
    assert "component.wall = 1.0: unknown key; remove it; known here" in text


@pytest.mark.parametrize(
    ("reads", "text", "command"),
    [
        (read_study, "[[part]]\nkind = 'straight'", "guideproof run"),
        (read_study, "[[case]]\nname = 'x'", "guideproof reference"),
        (read_run, f"{GUIDE}\n{BEND}", "guideproof assess"),
    ],
)
def test_a_file_of_another_sort_is_sent_to_its_command(tmp_path, reads, text, command):
    with pytest.raises(StudyError, match=f"take it to {command}"):
        reads(write(tmp_path, text))


def test_an_empty_list_is_shown_as_the_file_has_it(tmp_path):
    text = message(write(tmp_path, GUIDE, BEND, BAND, "[picture]\nfrequencies_ghz = []"))
    assert text.startswith("riser.toml: picture.frequencies_ghz = []: must not be empty")


def test_misspelt_key_is_named_before_the_missing_one(tmp_path):
    bend = BEND.replace("mean_radius_mm", "radius_mm")
    text = message(write(tmp_path, GUIDE, bend, BAND))
    assert "component.radius_mm = 45.0: unknown key; did you mean mean_radius_mm?" in text


@pytest.mark.parametrize(
    ("frequencies", "words"),
    [
        ("[]", "band.frequencies_ghz = []: must not be empty"),
        ("[9.0, 9.0]", "band.frequencies_ghz[1] = 9.0: must be above the one before"),
        ("[10.0, 9.0]", "band.frequencies_ghz[1] = 9.0: must be above the one before"),
        ('[9.0, "10"]', 'band.frequencies_ghz[1] = "10": must be a number'),
        ("[5.0, 9.0]", "band.frequencies_ghz[0] = 5.0: must be above the cutoff"),
    ],
)
def test_broken_frequency_lists(tmp_path, frequencies, words):
    text = message(write(tmp_path, GUIDE, BEND, f"[band]\nfrequencies_ghz = {frequencies}"))
    assert text.startswith(f"riser.toml: {words}")


def test_a_band_that_starts_exactly_at_cutoff_is_refused(tmp_path):
    # c / 2a for a = 22 mm, computed as a user would.
    cutoff_ghz = 299792458 / (2 * 0.022) / 1e9
    guide = "guide = {width_mm = 22.0, height_mm = 10.0}"
    text = message(write(tmp_path, guide, BEND, f"[band]\nfrom_ghz = {cutoff_ghz!r}\nto_ghz = 12"))
    assert "must be above the cutoff of TE10 in this guide, 6.81346 GHz" in text


@pytest.mark.parametrize("title", ["a\\nb", "\\u001b[31mred", "x" * 300, ""])
def test_titles_that_would_break_a_terminal_or_a_page_are_refused(tmp_path, title):
    text = message(write(tmp_path, f'title = "{title}"', GUIDE, BEND, BAND))
    assert "title = " in text
    assert len(text) < 300


def test_files_that_are_no_study(tmp_path):
    assert "does not exist" in message(tmp_path / "none.toml")
    assert "is a folder" in message(tmp_path)
    assert "not a TOML file" in message(write(tmp_path, "guide = = 3"))
    assert "missing" in message(write(tmp_path, ""))
    assert "nested too deep" in message(write(tmp_path, "a = " + "[" * 5000))
    binary = tmp_path / "riser.toml"
    binary.write_bytes(b"guide = '\xff\xfe'")
    assert "byte 9 is not UTF-8" in message(binary)
    binary.write_bytes(b"#" * 2_000_000)
    assert "2000000 bytes" in message(binary)
    binary.write_bytes(b"a = " + b"9" * 5000)
    assert "not a TOML file" in message(binary)


def test_a_path_with_a_line_break_still_gives_one_line(tmp_path):
    with pytest.raises(StudyError) as caught:
        read_study(tmp_path / "a\nb.toml")
    assert str(caught.value).isprintable()
    with pytest.raises(StudyError, match="not a"):
        read_study("a\0b")


def test_a_title_may_hold_signs_that_a_page_escapes(tmp_path):
    study = read_study(write(tmp_path, 'title = "VSWR < 1.05 & > 1"', GUIDE, BEND, BAND))
    assert study.title == "VSWR < 1.05 & > 1"


def test_the_field_is_shown_where_the_study_says(tmp_path):
    picture = "[picture]\nfrequencies_ghz = [9.0, 12.4]"
    assert read_study(write(tmp_path, GUIDE, BEND, BAND)).picture_at == ()
    assert read_study(write(tmp_path, GUIDE, BEND, BAND, picture)).picture_at == (9e9, 12.4e9)


@pytest.mark.parametrize(
    ("frequencies", "words"),
    [
        ("[9.0, 12.5]", "picture.frequencies_ghz[1] = 12.5: must lie in the band, 8.2 to 12.4 GHz"),
        ("[]", "picture.frequencies_ghz"),
        ("[9.0]\nfrequency = 9.0", "picture.frequency"),
    ],
)
def test_a_picture_outside_the_band_is_refused(tmp_path, frequencies, words):
    picture = f"[picture]\nfrequencies_ghz = {frequencies}"
    assert words in message(write(tmp_path, GUIDE, BEND, BAND, picture))
