"""Every kind of component, from the keys of a study file and back to them."""

import math
import tomllib

import pytest

from geometries.shapes.dents import Dent
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from solver.errors import StudyError
from solver.studies.plain_values import described_component
from solver.studies.study import read_study

WR90, WR75 = standard_guide("WR-90"), standard_guide("WR-75")
OWN = RectangularGuide(28.499e-3, 12.624e-3)

KINDS = [
    ('kind = "twist"\nangle_deg = 90.0\nlength_mm = 40.0', Twist(WR90, math.pi / 2, 40e-3)),
    (
        'kind = "twist"\nangle_deg = 45\nlength_mm = 30\nprofile = "raised-cosine"',
        Twist(WR90, math.radians(45), 30e-3, "raised-cosine"),
    ),
    ('kind = "taper"\nto_guide = "WR-75"\nlength_mm = 50', Taper(WR90, WR75, 50e-3)),
    (
        'kind = "taper"\nto_guide = {width_mm = 28.499, height_mm = 12.624}\nlength_mm = 40\n'
        'profile = "hecken"',
        Taper(WR90, OWN, 40e-3, "hecken"),
    ),
    (
        'kind = "transition"\nto_diameter_mm = 27.0\nlength_mm = 40.0',
        Transition(WR90, 27e-3, 40e-3),
    ),
    (
        'kind = "offset"\nshift_x_mm = 0.4\nshift_y_mm = -0.2\nturn_deg = 1.5',
        Offset(WR90, 0.4e-3, -0.2e-3, math.radians(1.5)),
    ),
    ('kind = "offset"\nshift_y_mm = 0.2', Offset(WR90, 0.0, 0.2e-3, 0.0)),
    (
        'kind = "dent"\nwall = "broad"\ndepth_mm = 1.5\nlength_mm = 12\nwidth_mm = 8',
        Dent(WR90, "broad", 1.5e-3, 12e-3, 8e-3),
    ),
]


def study(tmp_path, component, from_ghz=10.0):
    path = tmp_path / "part.toml"
    text = (
        f'guide = "WR-90"\n[component]\n{component}\n[band]\nfrom_ghz = {from_ghz}\nto_ghz = 12.4'
    )
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("keys", "part"), KINDS)
def test_kind_is_read_in_si_units_and_described_by_its_keys(tmp_path, keys, part):
    component = read_study(study(tmp_path, keys)).component
    assert type(component) is type(part)
    assert described_component(component) == described_component(part)
    described = described_component(component)
    for key, value in tomllib.loads(keys).items():
        if isinstance(value, dict):
            assert value.items() <= described[key].items()
        elif key != "to_guide":
            assert described[key] == value


def test_round_guide_of_a_transition_has_the_diameter(tmp_path):
    component = read_study(study(tmp_path, KINDS[4][0])).component
    assert component.to_guide == CircularGuide(27e-3)


TAPER = 'kind = "taper"\nlength_mm = 50\nto_guide = '
SMOOTH = 'kind = "bend"\nplane = "H"\nangle_deg = 90\nmean_radius_mm = 20\nprofile = "smooth"\n'
BROKEN = [
    (KINDS[0][0].replace("90.0", "-90.0"), "component.angle_deg = -90.0: must be above 0"),
    (KINDS[0][0] + '\nprofile = "even"', "component.profile = \"even\": must be 'uniform', "),
    (KINDS[0][0] + '\nprofile = "smooth"', "component.onset: missing; must be from 0.05 to 0.5"),
    (KINDS[0][0] + "\nonset = 0.3", "component.onset = 0.3: must be 0 for a uniform profile"),
    (SMOOTH + "onset = 0.6", "component.onset = 0.6: must be from 0.05 to 0.5 of the length"),
    (SMOOTH + "onset = 0.04", "component.onset = 0.04: must be from 0.05 to 0.5 of the length"),
    (SMOOTH + "onset = nan", "component.onset = nan: must be a finite number"),
    (SMOOTH + 'onset = "0.3"', 'component.onset = "0.3": must be a number, without quotes'),
    (SMOOTH + "onset = [0.3]", "component.onset = a list: must be a number, without quotes"),
    (SMOOTH + "onset = 0.5", "raise the radius or lower the onset"),
    (SMOOTH.replace("smooth", "circle"), "component.profile = \"circle\": must be 'constant' or"),
    (TAPER + '"WR-76"', 'component.to_guide = "WR-76": no standard guide is called'),
    (TAPER + "{width_mm = 9, height_mm = 22}", "component.to_guide.height_mm = 22.0: must be at"),
    (TAPER + "{width_mm = 9}", "component.to_guide.height_mm: missing"),
    (TAPER + "{width_mm = 9, high_mm = 4}", "component.to_guide.high_mm = 4: unknown key"),
    (TAPER + "{diameter_mm = 27}", "component.to_guide = a table: must be a rectangular guide"),
    (TAPER + "3", "component.to_guide = 3: must be a size in quotes"),
    (TAPER + '"WR-42"', "band.from_ghz = 10.0: must be above the cutoff of TE10 in the guide to"),
    (KINDS[4][0].replace("27.0", "9.0"), "band.from_ghz = 10.0: must be above the cutoff of TE11"),
    (KINDS[4][0].replace("27.0", "0"), "component.to_diameter_mm = 0: must be above 0"),
    ('kind = "offset"\nshift_x_mm = 23', "component.shift_x_mm = 23.0: must be less than 22.86 mm"),
    ('kind = "offset"\nturn_deg = 91', "component.turn_deg = 91.0: must be from -90 to 90"),
    (KINDS[7][0].replace("1.5", "11"), "component.depth_mm = 11.0: must be less than 10.16 mm"),
    (KINDS[7][0].replace("= 8", "= 23"), "component.width_mm = 23.0: must be at most 22.86 mm"),
    (
        KINDS[7][0].replace("broad", "side"),
        "component.wall = \"side\": must be 'broad' or 'narrow'",
    ),
]


@pytest.mark.parametrize(("keys", "line"), BROKEN)
def test_what_cannot_be_built_gives_one_telling_line(tmp_path, keys, line):
    with pytest.raises(StudyError) as caught:
        read_study(study(tmp_path, keys))
    assert line in str(caught.value)
    assert str(caught.value).isprintable()
