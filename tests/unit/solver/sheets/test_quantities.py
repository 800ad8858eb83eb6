"""Values of a sheet with their bounds, read from made-up answers; a sheet computed again."""

import json
import math
from types import SimpleNamespace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import CircularGuide, standard_guide
from solver.closed_forms.source import Source
from solver.errors import StudyError
from solver.sheets.quantities import QUANTITIES, Solved, Wanted
from solver.sheets.second_path import SecondPath, second_of_guide, second_of_part
from solver.sheets.sheet import SheetValue
from solver.sheets.sheet_check import Checked, SheetCheck, check_sheet, check_text
from solver.sheets.sheet_wording import agreement
from solver.waves.resonances import Resonance
from solver.waves.scattering import PortMode, ScatteringMatrix

WR90 = standard_guide("WR-90")
#: Cutoff of WR-90: c/(2 a).
CUTOFF = 299792458.0 / 2 / 22.86e-3


def matrix(s11, s21, error, leaked=0.0):
    s11, s21 = (np.asarray(x, dtype=complex) for x in (s11, s21))
    n = len(s11)
    s = np.array([[s11, s21], [s21, s11]]).transpose(2, 0, 1)
    modes = tuple(PortMode(port, "TE10", CUTOFF) for port in (1, 2))
    frequency = np.linspace(9e9, 10e9, n)
    return ScatteringMatrix(frequency, modes, s, np.full(n, error), np.full(n, leaked), np.zeros(n))


def read(quantity, source, frequency=None, mode=""):
    return QUANTITIES[quantity].read(source, Wanted("", quantity, frequency, mode))


def test_worst_values_over_the_band():
    solved = Solved(matrix([0.1, 0.2j, 0.15], [0.9] * 3, 0.01))
    assert read("s11_abs", solved) == pytest.approx((0.2, 0.01))
    value, bound = read("vswr", solved)
    # (1 + S)/(1 - S), whose upper side is the wider
    assert value == pytest.approx(1.5)
    assert bound == pytest.approx(1.21 / 0.79 - 1.5)
    value, bound = read("return_loss_db", solved)
    assert value == pytest.approx(-20 * math.log10(0.2))
    assert bound == pytest.approx(20 * math.log10(0.2 / 0.19))


def test_the_bound_of_a_worst_value_holds_every_frequencys():
    over = matrix([0.2, 0.195], [0.9] * 2, 0.0)
    over.error[:] = [0.001, 0.02]
    # the second may be the worst, as high as 0.215
    assert read("s11_abs", Solved(over)) == pytest.approx((0.2, 0.015))


def test_values_at_a_frequency():
    at = matrix([0.1, 0.2 * np.exp(0.5j), 0.3], [0.9, 0.8 * np.exp(-3.0j), 0.7], 0.01)
    solved = Solved(at, at)
    assert read("s11_abs_at", solved, 9.5e9) == pytest.approx((0.2, 0.01))
    assert read("s21_abs_at", solved, 9.5e9) == pytest.approx((0.8, 0.01))
    value, bound = read("s11_phase_deg", solved, 9.5e9)
    # a circle of 0.01 about a point 0.2 away is seen within asin(0.05)
    assert value == pytest.approx(math.degrees(0.5))
    assert bound == pytest.approx(math.degrees(math.asin(0.05)))
    value, bound = read("insertion_loss_db", solved, 9.5e9)
    assert value == pytest.approx(-20 * math.log10(0.8))
    assert bound == pytest.approx(20 * math.log10(0.8 / 0.79))


def test_a_value_smaller_than_its_bar_has_no_phase():
    at = matrix([1e-3], [0.9], 0.01)
    assert read("s11_phase_deg", Solved(at, at), 9e9)[1] == pytest.approx(180.0)


def test_the_sharpest_driven_resonance_is_read():
    rings = (
        Resonance(9.1e9, 1e5, 300.0, ""),
        Resonance(9.7e9, 2e5, 900.0, ""),
        Resonance(9.8e9, 3e5, 1e9, "", driven=False),
    )
    solved = Solved(matrix([0.1], [0.9], 0.0), resonances=rings)
    assert read("resonance_ghz", solved) == pytest.approx((9.7, 2e-4))
    with pytest.raises(StudyError, match="widen the band"):
        read("resonance_ghz", Solved(matrix([0.1], [0.9], 0.0), resonances=rings[2:]))


def test_a_search_that_found_nothing_has_no_value():
    found = SimpleNamespace(smallest=31e-3, uncertainty=1e-5)
    solved = Solved(matrix([0.1], [0.9], 0.0), gradual=found)
    assert read("smallest_size_mm", solved) == pytest.approx((31.0, 0.01))
    found.smallest = None
    with pytest.raises(StudyError, match="no size was found"):
        read("smallest_size_mm", solved)


def test_values_of_a_guide():
    assert read("cutoff_ghz", WR90) == (pytest.approx(CUTOFF / 1e9), 0.0)
    assert read("cutoff_ghz", WR90, mode="TE20")[0] == pytest.approx(2 * CUTOFF / 1e9)
    # TM01: 2.404826 c/(2 pi r), r = 12 mm
    exact = 2.404826 * 299792458.0 / (2 * math.pi * 12e-3) / 1e9
    assert read("cutoff_ghz", CircularGuide(24e-3), mode="TM01")[0] == pytest.approx(exact, 1e-6)
    with pytest.raises(StudyError, match="no mode TE99"):
        read("cutoff_ghz", WR90, mode="TE99")
    free = 299792458.0 / 10e9 * 1e3
    assert read("wavelength_mm", WR90, 10e9)[0] == pytest.approx(free)
    guided = free / math.sqrt(1 - (CUTOFF / 10e9) ** 2)
    assert read("guide_wavelength_mm", WR90, 10e9)[0] == pytest.approx(guided)
    with pytest.raises(StudyError, match="above the cutoff"):
        read("guide_wavelength_mm", WR90, 6e9)


@pytest.mark.slow
def test_a_cutoff_from_the_resonance_of_a_closed_guide():
    found = second_of_guide(Wanted("cutoff_ghz", "cutoff_ghz", None), WR90)
    assert abs(found.value - CUTOFF / 1e9) <= found.uncertainty < 1e-5


def test_only_te10_of_a_rectangle_has_a_second_way():
    assert second_of_guide(Wanted("", "cutoff_ghz", None, "TE20"), WR90) is None
    assert second_of_guide(Wanted("", "cutoff_ghz", None), CircularGuide(24e-3)) is None


def form(s11, holds=True, leaked=None):
    return SimpleNamespace(
        name="a form",
        source=Source(citation="a book", mark="published"),
        s11_abs=np.asarray(s11),
        within_validity=holds,
        leaked_power=leaked,
    )


def test_the_first_closed_form_that_holds_is_the_second_way():
    bend = Bend(WR90, "E", 1.0, 0.03)
    forms = (form([0.9], holds=False), form([np.nan]), form([0.1, 0.2], leaked=np.array([1e-4])))
    assessment = SimpleNamespace(component=bend, estimates=forms)

    def second(quantity, frequency=None):
        return second_of_part(Wanted("", quantity, frequency), assessment, None)

    found = second("s11_abs")
    assert (found.way, found.value) == ("a form (a book)", 0.2) and math.isnan(found.uncertainty)
    assert second("vswr").value == pytest.approx(1.5)
    assert second("leakage_db").value == pytest.approx(-40.0)
    assert second("resonance_ghz") is None
    # a gentle bend is as long as its axis, nearly: beta R angle, beyond whole turns
    beta = 2 * math.pi / 299792458.0 * math.sqrt(10e9**2 - CUTOFF**2)
    phase = second("s21_phase_deg", 10e9).value
    assert phase == pytest.approx(math.degrees(math.remainder(-beta * 0.03, 2 * math.pi)), abs=3.0)


def test_a_solution_in_space_goes_before_closed_forms():
    assessment = SimpleNamespace(component=None, estimates=())
    in_space = Solved(matrix([0.1, 0.2], [0.9] * 2, 0.01))
    found = second_of_part(Wanted("", "s11_abs", None), assessment, in_space)
    assert (found.value, found.uncertainty) == pytest.approx((0.2, 0.01))
    assert "in space" in found.way


def test_angles_are_apart_by_the_short_way_round():
    def value(quantity, here, there, known=math.nan):
        second = SecondPath("a way", there, known)
        return SheetValue(Wanted("", quantity, 9e9), here, 0.1, second)

    assert value("s21_phase_deg", 179.0, -179.5).apart == pytest.approx(1.5)
    assert value("s11_abs", 0.3, 0.1).apart == pytest.approx(0.2)
    assert SheetValue(Wanted("", "s11_abs", None), 0.3, 0.1).apart is None
    assert agreement(value("s21_phase_deg", 179.0, -179.5)) == "a way: -179.5 deg, 1.5 deg off"
    known = agreement(value("wavelength_mm", 30.0, 30.25, known=0.5))
    assert known == "a way: agrees within 0.25 mm, itself known to 0.5 mm"


@pytest.mark.parametrize(
    ("before", "now", "unit", "uncertainty", "holds"),
    [
        (1.0, 1.009, "", 0.01, True),
        (1.0, 1.011, "", 0.01, False),
        (179.9, -179.9, "deg", 0.25, True),
        (179.9, -179.9, "deg", 0.15, False),
        # an exact value may move by round-off
        (6.557, 6.557 * (1 + 1e-13), "GHz", 0.0, True),
        (6.557, 6.557 * (1 + 1e-10), "GHz", 0.0, False),
        (1.0, math.nan, "", 10.0, False),
    ],
)
def test_a_value_holds_if_it_moved_by_no_more_than_was_stated(
    before, now, unit, uncertainty, holds
):
    checked = Checked("a bend", "vswr", unit, before, now, uncertainty)
    assert checked.holds is holds
    found = SheetCheck("a sheet", "0.1.0", (checked,))
    assert (found.moved == ()) is holds
    lines = check_text(found).splitlines()
    assert lines[0].startswith(
        f"a sheet: {int(holds)} of 1 values hold (written by guideproof 0.1.0"
    )
    assert len(lines) == 1 + (not holds)


@pytest.mark.parametrize(
    "content", [None, "no json", "[1, 2]", "{}", '{"sheet": {}, "values": [{"case": 1}]}', "é"]
)
def test_what_is_no_sheet_is_refused_in_one_line(tmp_path, content):
    if content is not None:
        (tmp_path / "sheet.json").write_text(content, encoding="utf-8")
    with pytest.raises(StudyError) as told:
        check_sheet(tmp_path)
    assert "\n" not in str(told.value)
    assert ("not a reference sheet" if content is not None else "sheet.json") in str(told.value)


def test_a_value_that_is_gone_does_not_hold(tmp_path):
    sheet = {
        "title": "guides",
        "case": [{"name": "X band", "guide": "WR-90", "values": ["cutoff_ghz"]}],
    }
    values = [
        {"case": 0, "wanted": text, "value": CUTOFF / 1e9, "uncertainty": 0.0}
        for text in ("cutoff_ghz", "cutoff_ghz of TE20")
    ]
    written = {"version": "0.0.1", "sheet": sheet, "values": values}
    (tmp_path / "sheet.json").write_text(json.dumps(written), encoding="ascii")
    found = check_sheet(tmp_path)
    assert [value.holds for value in found.values] == [True, False]
