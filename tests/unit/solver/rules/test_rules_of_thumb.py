"""Rules of thumb: lengths worked out by hand, every reading present, thresholds exact."""

import math
from dataclasses import replace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.horns import RectangularHorn
from geometries.shapes.loads import Load
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from solver.errors import BelowCutoffError
from solver.rules.rules_of_thumb import required_radius, rules_for, twist_rules
from solver.studies.band import Band

C = 299792458.0
BAND = Band(8.2e9, 12.4e9)
WR90 = standard_guide("WR-90")


def guided(frequency, cutoff=C / (2 * 22.86e-3)):
    return C / math.sqrt(frequency**2 - cutoff**2)


def named(readings, name, word=""):
    return [r for r in readings if r.name == name and word in r.reading]


def test_two_wavelengths_has_eight_readings_of_a_bend():
    bend = Bend(WR90, "E", math.radians(45), 70e-3)
    readings = named(rules_for(bend, BAND), "two wavelengths")
    waves = [C / 10.3e9, C / 8.2e9, guided(10.3e9), guided(8.2e9)]
    expected = [2 * wave for wave in waves] + [2 * wave / 2 for wave in waves]
    assert [r.required for r in readings] == pytest.approx(expected)
    assert [r.actual for r in readings] == pytest.approx([70e-3] * 4 + [70e-3 * math.pi / 4] * 4)
    assert [r.satisfied for r in readings] == [
        actual >= required
        for actual, required in zip([70e-3] * 4 + [54.98e-3] * 4, expected, strict=True)
    ]
    assert len({r.reading for r in readings}) == 8
    for r in readings:
        assert r.extra == pytest.approx(abs(r.required - r.actual))


def test_one_wavelength_measured_to_the_axis_and_to_the_inner_wall():
    at_limit = Bend(WR90, "E", 1.0, C / 10.3e9)
    mean, inner = named(rules_for(at_limit, BAND), "never under one wavelength")
    assert (mean.satisfied, inner.satisfied) == (True, False)
    assert inner.extra == pytest.approx(5.08e-3)
    assert required_radius(inner, at_limit) == pytest.approx(C / 10.3e9 + 5.08e-3)


@pytest.mark.parametrize(("plane", "required"), [("E", 15.24e-3), ("H", 34.29e-3)])
def test_one_and_a_half_guide_widths(plane, required):
    for radius, satisfied in ((required, True), (required * (1 - 1e-6), False)):
        (reading,) = named(
            rules_for(Bend(WR90, plane, 1.0, radius), BAND), "one and a half guide widths"
        )
        assert reading.required == pytest.approx(required)
        assert reading.satisfied is satisfied


def test_half_waves_as_in_the_handbooks_example():
    """MIL-HDBK-660B, Example A: WR-284, 1.8815 in; 7 half waves are 13.170 in, radius 8.39 in."""
    guide, band, inch = standard_guide("WR-284"), Band(C / 0.1152906, C / 0.0758698), 0.0254
    bend = Bend(guide, "E", math.pi / 2, 8.39 * inch)
    free, guide_waves = named(rules_for(bend, band), "multiple of half a wavelength")
    assert free.required / inch == pytest.approx(13.170, abs=2e-3)
    assert required_radius(free, bend) / inch == pytest.approx(8.39, abs=6e-3)
    assert free.satisfied
    waves = [guided(f, C / (2 * 72.136e-3)) for f in (band.start, band.stop)]
    assert guide_waves.required % (sum(waves) / 4) == pytest.approx(0, abs=1e-9)


def test_half_waves_ask_for_at_least_one():
    readings = named(rules_for(Bend(WR90, "E", 0.1, 7e-3), BAND), "multiple of half a wavelength")
    assert readings[0].required == pytest.approx((C / 8.2e9 + C / 12.4e9) / 4)
    assert not readings[0].satisfied


def test_handbook_table_applies_to_its_own_sizes_only():
    wr112 = standard_guide("WR-112")
    line, axis = named(rules_for(Bend(wr112, "H", 1.0, 0.3), Band(7.05e9, 10e9)), "handbook table")
    assert line.required == pytest.approx(12 * 0.0254) and not line.satisfied
    assert axis.required == pytest.approx((12 + 1.25 / 2) * 0.0254) and not axis.satisfied
    assert not named(rules_for(Bend(WR90, "H", 1.0, 0.3), BAND), "handbook table")
    band = Band(7.05e9, 10e9)
    (twist,) = named(twist_rules(wr112, math.pi / 2, 0.5, band), "handbook table")
    # the table is headed by 90 degrees
    assert not named(twist_rules(wr112, math.pi / 4, 0.5, band), "handbook table")
    assert twist.required == pytest.approx(18 * 0.0254) and twist.satisfied


@pytest.mark.parametrize(
    ("plane", "axis_in", "line_in", "satisfied"),
    [
        ("E", 7.2, 6.44, False),
        ("E", 8.39, 7.64, True),
        ("E", 9.588, 8.838, True),
        ("H", 8.39, 6.89, False),
        ("H", 9.588, 8.09, True),
    ],
)
def test_handbook_table_is_measured_outside_the_inner_wall(plane, axis_in, line_in, satisfied):
    """MIL-HDBK-660B, p. 4: RL and R of WR-284, and which of them may be used with its 7.5 in."""
    inch, guide = 0.0254, standard_guide("WR-284")
    bend = Bend(guide, plane, math.pi / 2, axis_in * inch)
    line, axis = named(rules_for(bend, Band(2.6e9, 3.95e9)), "handbook table")
    digits = 0.05 if axis_in == 7.2 else 0.005
    assert line.actual / inch == pytest.approx(line_in, abs=digits + 0.005)
    assert line.required == pytest.approx(7.5 * inch)
    assert axis.actual == bend.mean_radius
    assert (line.satisfied, axis.satisfied) == (satisfied, satisfied)
    least = {"E": 8.25, "H": 9.0}[plane]
    for reading in (line, axis):
        assert required_radius(reading, bend) / inch == pytest.approx(least)


def test_corner_is_advised_to_become_two():
    free, guide_wave = rules_for(Corner(WR90, "H", math.pi / 2), BAND)
    assert free.required == pytest.approx(C / 10.3e9 / 4)
    assert guide_wave.required == pytest.approx(guided(10.3e9) / 4)
    assert "two corners of 45 degrees" in free.reading
    assert not free.satisfied and free.actual == 0 and free.extra == free.required


def test_twist_readings():
    readings = twist_rules(WR90, math.pi, 0.1, BAND)
    two = named(readings, "two wavelengths")
    waves = np.array([C / 10.3e9, C / 8.2e9, guided(10.3e9), guided(8.2e9)])
    assert [r.required for r in two] == pytest.approx([*(2 * waves), *(4 * waves)])
    (one,) = named(readings, "never under one wavelength")
    assert one.required == pytest.approx(C / 10.3e9) and one.satisfied


def test_twists_and_tapers_are_looked_up_as_components():
    assert rules_for(Twist(WR90, math.pi, 0.1), BAND) == twist_rules(WR90, math.pi, 0.1, BAND)
    waves = [guided(10.3e9), guided(8.2e9)]
    for part in (Taper(WR90, standard_guide("WR-75"), 0.05), Transition(WR90, 0.027, 0.05)):
        readings = rules_for(part, BAND)
        assert [r.required for r in readings] == pytest.approx([*waves, *(2 * w for w in waves)])
        assert [r.satisfied for r in readings] == [r.required <= 0.05 for r in readings]
        assert {r.source.mark for r in readings} == {"common practice"}


def test_the_taper_of_a_load_in_free_space_and_in_the_guide():
    load = Load(WR90, "H", "wall", 0.05, 0.01, permittivity=4.0, loss_tangent=0.2)
    waves = [C / 10.3e9, C / 8.2e9, guided(10.3e9), guided(8.2e9)]
    readings = rules_for(load, BAND)
    assert [r.required for r in readings] == pytest.approx([*waves, *(2 * w for w in waves)])
    assert [r.satisfied for r in readings] == [r.required <= 0.05 for r in readings]
    assert {r.measure for r in readings} == {"taper length"}
    assert {r.source.mark for r in readings} == {"common practice"}


def test_every_reading_names_a_source_and_its_words():
    for part in (
        Bend(WR90, "E", 1.0, 0.05),
        Corner(WR90, "E", 1.0),
        Twist(WR90, 1.0, 0.05),
        Transition(WR90, 0.027, 0.05),
        Load(WR90, "E", "wall", 0.05, 0.01, permittivity=4.0, loss_tangent=0.2),
    ):
        readings = rules_for(part, BAND)
        assert len({(r.name, r.reading) for r in readings}) == len(readings)
        for r in readings:
            assert r.source.citation and r.source.mark
            assert all(isinstance(v, float) for v in (r.required, r.actual, r.extra))
            assert isinstance(r.satisfied, bool)


def test_parts_without_rules_and_bands_below_cutoff():
    assert rules_for(object(), BAND) == ()
    with pytest.raises(BelowCutoffError, match="5 GHz"):
        rules_for(Bend(WR90, "E", 1.0, 0.05), Band(5e9, 12e9))


def test_rules_scale_with_the_guide():
    """Twice the guide at half the frequency asks for twice the length."""
    big = RectangularGuide(2 * 22.86e-3, 2 * 10.16e-3)
    small = rules_for(Bend(WR90, "E", 1.0, 0.05), BAND)
    large = rules_for(Bend(big, "E", 1.0, 0.1), Band(4.1e9, 6.2e9))
    for one, two in zip(small, large, strict=True):
        assert two.required == pytest.approx(2 * one.required)
        assert two.satisfied == one.satisfied


def test_horns_are_long_enough_where_their_paths_differ_little():
    band = Band(9e9, 11e9)
    wave = C / 10e9
    guide = RectangularGuide(22.86e-3, 10.16e-3)
    # in the E plane (B - b) B/(8 L) of a quarter of a wavelength: the optimum
    length = (60e-3 - 10.16e-3) * 60e-3 / (8 * 0.25 * wave)
    rules = rules_for(RectangularHorn(guide, 22.86e-3, 60e-3, length), band)
    optimum = {r.reading: r for r in rules if r.name.startswith("no longer path")}
    told = "paths across the E plane differ by at most 0.25 of a wavelength at"
    centre = optimum[f"{told} band centre"]
    assert centre.required == pytest.approx(length, rel=1e-12)
    assert centre.satisfied
    # at the high edge the wavelength is shorter
    edge = optimum[f"{told} the high edge"]
    assert edge.required == pytest.approx(1.1 * length, rel=1e-12)
    assert not edge.satisfied
    # parallel walls make no difference of path
    assert optimum[
        "paths across the H plane differ by at most 0.375 of a wavelength at band centre"
    ].required == pytest.approx(0.0, abs=1e-12)
    assert rules_for(RectangularHorn(guide, 22.86e-3, 10.16e-3, 0.0), band) == ()


def test_rules_for_a_smooth_bend_speak_of_where_it_is_tightest():
    guide = standard_guide("WR-90")
    bend = Bend(guide, "E", math.pi / 2, 40e-3, "smooth", 0.25)
    arc = Bend(guide, "E", math.pi / 2, 30e-3)
    readings, of_arc = rules_for(bend, BAND), {r.reading: r for r in rules_for(arc, BAND)}
    assert {r.measure for r in readings} == {"least radius", "mean length", "inner radius"}
    for r in readings:
        assert r.required == of_arc[r.reading].required
        wanted = 40e-3 * math.pi / 2 if r.measure == "mean length" else of_arc[r.reading].actual
        assert r.actual == pytest.approx(wanted)
        # a bend of the radius that a reading asks for meets it, and no smaller one does
        radius = required_radius(r, bend)
        for factor, met in ((1.001, True), (0.999, False)):
            again = rules_for(replace(bend, mean_radius=factor * radius), BAND)
            assert next(x.satisfied for x in again if x.reading == r.reading) is met
