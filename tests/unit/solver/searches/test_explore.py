"""Grids over made-up parts: nothing is solved here."""

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
import xarray

from solver.errors import LinearSolveError, StudyError
from solver.output.exploration_wording import exploration_text
from solver.reports.exploration_files import (
    exploration_csv,
    exploration_files,
    exploration_result_of,
)
from solver.reports.exploration_plots import figures
from solver.searches.explore import explore
from solver.searches.part_curves import Refusal, as_record, fingerprint, from_record
from solver.searches.point_store import PointStore
from solver.searches.varied_keys import Span, Variation, sampled
from solver.studies.study import study_of
from solver.waves.scattering import PortMode
from tests.unit.solver.made_up_curves import made_up_curves

PATH = Path("joint.toml")
JOINT = {
    "title": "made-up joint & more",
    "guide": {"diameter_mm": 27.0},
    "component": {
        "kind": "rotating-joint",
        "gap_mm": 0.5,
        "rim_radius_mm": 50.0,
        "groove_inner_radius_mm": 20.0,
        "groove_outer_radius_mm": 24.0,
        "groove_depth_mm": 8.0,
    },
    "band": {"from_ghz": 9.0, "to_ghz": 10.0, "points": 21},
    "limit": {"vswr": 1.5, "leakage_db": -40.0},
}
GAP = Variation("component.gap_mm", (0.5, 1.0, 2.0))
DEPTH = Variation("component.groove_depth_mm", (6.0, 8.0, 10.0, 12.0))


def leaking(study):
    """Leaks -60 dB at 9.5 GHz and a gap of 1 mm, 20 dB a 100 MHz more away from there."""
    joint, frequency = study.component, study.band.frequencies
    away = np.abs(frequency - 9.5e9) / 1e9 + 50.0 * abs(joint.groove_depth - 0.008)
    leaked = 10.0 ** (-6.0 + 20.0 * away) * (joint.gap / 1e-3) ** 2
    s11 = 0.05 * np.exp(1j * frequency / 1e9)
    modes = (PortMode(1, "TM01", 8.5e9), PortMode(2, "TM01", 8.5e9))
    s21 = np.sqrt(np.maximum(1 - np.abs(s11) ** 2 - leaked, 0.0))
    return made_up_curves(frequency, modes, s11, 1e-5, np.minimum(leaked, 0.9), s21)


def explored(*variations, **options):
    return explore(JOINT, PATH, variations, **({"compute": leaking} | options))


def test_cells_stand_in_order_the_last_key_fastest():
    result = explored(GAP, DEPTH)
    assert [tuple(cell.values.values()) for cell in result.cells[:5]] == [
        (0.5, 6.0), (0.5, 8.0), (0.5, 10.0), (0.5, 12.0), (1.0, 6.0),
    ]  # fmt: skip
    assert result.leaks
    assert result.design == 9.5e9


def test_the_band_of_a_cell_is_that_of_its_leakage():
    cells = {cell.values["component.gap_mm"]: cell for cell in explored(GAP).cells}
    # 0.4 nepers of ten are -40 dB at 20 dB for 100 MHz: 100 MHz either side, less for wider gaps
    low, high = cells[1.0].held.sure
    assert (low.at, high.at) == pytest.approx((9.4e9, 9.6e9), abs=1e6)
    assert cells[0.5].held.width > cells[1.0].held.width > cells[2.0].held.width
    assert all(cell.outcome == "exceeds" for cell in cells.values())
    assert cells[1.0].leakage.at_hz in (9e9, 10e9)
    assert cells[1.0].reflection.value == pytest.approx(0.05)


def test_exit_codes_follow_the_best_combination():
    narrow = JOINT | {"band": {"from_ghz": 9.45, "to_ghz": 9.55, "points": 5}}
    assert explore(narrow, PATH, [GAP], compute=leaking).exit_code == 0
    assert explored(GAP).exit_code == 1
    loose = JOINT | {"limit": {"vswr": (1 + 0.05) / (1 - 0.05)}}
    assert explore(loose, PATH, [GAP], compute=leaking).exit_code == 3
    free = {name: table for name, table in JOINT.items() if name != "limit"}
    result = explore(free, PATH, [GAP], compute=leaking)
    assert result.exit_code == 0
    assert "No limit was set; 3 of 3 combinations were computed" in exploration_text(result)


def test_a_combination_that_cannot_be_built_is_refused_with_its_reason():
    radius = Variation("component.groove_inner_radius_mm", (5.0, 20.0, 23.0))
    result = explored(radius)
    assert [cell.outcome for cell in result.cells] == ["refused", "exceeds", "exceeds"]
    reason = result.cells[0].reason
    assert reason.startswith("component.groove_inner_radius_mm = 5.0: must be")
    assert "\n" not in reason
    assert "joint.toml" not in reason


def test_a_combination_that_cannot_be_solved_is_refused_with_its_reason():
    def sometimes(study):
        if study.component.gap > 1.5e-3:
            raise LinearSolveError("the residual is 3e-4")
        return leaking(study)

    result = explored(GAP, compute=sometimes)
    assert [cell.reason for cell in result.cells] == ["", "", "the residual is 3e-4"]


def test_all_refused_is_an_error():
    radius = Variation("component.groove_inner_radius_mm", (1.0, 5.0))
    with pytest.raises(StudyError, match=r"joint\.toml: .*= 1\.0: must be .*all are refused"):
        explored(radius)

    def never(study):
        raise LinearSolveError("no")

    with pytest.raises(StudyError, match="all are refused"):
        explored(GAP, compute=never)


@pytest.mark.parametrize(
    ("variations", "options", "words"),
    [
        ((), {}, "0 keys"),
        ((GAP,) * 9, {}, "9 keys to vary; give one to 8"),
        ((GAP, DEPTH), {"sampled": True}, "make the lists equal"),
        ((GAP, GAP), {}, "twice"),
        ((GAP,), {"design": 8e9}, "must lie in the band"),
        (
            (Variation("component.gap_mm", tuple(range(1, 402))),
             Variation("component.groove_depth_mm", tuple(range(1, 402)))),
            {},
            "160801 combinations",
        ),
    ],
)  # fmt: skip
def test_unusable_grids(variations, options, words):
    with pytest.raises(StudyError, match=words):
        explored(*variations, **options)


def test_finished_points_are_not_computed_again(tmp_path):
    asked = []

    def counting(study):
        asked.append(study.component.gap)
        if len(asked) == 3:
            raise KeyboardInterrupt
        return leaking(study)

    folder = tmp_path / "out"
    store = PointStore(folder)
    with pytest.raises(KeyboardInterrupt):
        explored(GAP, compute=counting, store=store)
    assert ": 2; the same command goes on" in store.kept_text
    assert not folder.exists()
    points = tmp_path / "out.partial" / "points.jsonl"
    # a run that is killed can leave half a line
    points.write_bytes(points.read_bytes() + b'{"fingerprint": "ab')
    result = explored(GAP, compute=counting, store=PointStore(folder))
    assert asked == [0.5e-3, 1e-3, 2e-3, 2e-3]
    again = explored(GAP, compute=counting, store=PointStore(folder))
    assert len(asked) == 4
    assert exploration_result_of(again) == exploration_result_of(result)
    assert exploration_result_of(result) == exploration_result_of(explored(GAP))
    # a finer grid takes what is there
    explored(Variation(GAP.key, (0.5, 0.75, 1.0)), compute=counting, store=PointStore(folder))
    assert asked[4:] == [0.75e-3]


def test_points_of_another_version_or_study_are_not_taken(tmp_path, monkeypatch):
    folder = tmp_path / "out"
    explored(GAP, store=PointStore(folder))

    def never(study):
        raise LinearSolveError("computed")

    changed = JOINT | {"accuracy": {"s_error": 1e-5}}
    with pytest.raises(StudyError, match="computed"):
        explore(changed, PATH, [GAP], compute=never, store=PointStore(folder))
    # the limit changes no curve
    looser = JOINT | {"limit": {"vswr": 2.0}}
    assert explore(looser, PATH, [GAP], compute=never, store=PointStore(folder)).exit_code == 0
    for module in (
        "solver.searches.part_curves",
        "solver.searches.point_store",
        "solver.searches.explore",
    ):
        monkeypatch.setattr(f"{module}.installed_version", lambda: "99")
    with pytest.raises(StudyError, match="computed"):
        explored(GAP, compute=never, store=PointStore(folder))
    # old points do not pile up, those of the run just made stay
    (lines,) = PointStore(folder).files().values()
    assert lines.count(b"\n") == 3
    assert lines.count(b"computed") == 3


def test_a_lack_of_memory_is_tried_again(tmp_path):
    store = PointStore(tmp_path / "out")
    store.add("a", Refusal("too little memory", lasting=False))
    store.add("b", Refusal("no such part"))
    again = PointStore(tmp_path / "out")
    assert again.get("a") is None
    assert again.get("b") == Refusal("no such part")


def test_a_record_gives_back_every_digit():
    curves = leaking(study_of(JOINT, PATH))
    back = from_record(json.loads(json.dumps(as_record(curves))))
    for name in ("frequency", "s11", "s21", "error", "leaked_power", "dissipated_power"):
        np.testing.assert_array_equal(getattr(back, name), getattr(curves, name))
    assert (back.port_modes, back.reached) == (curves.port_modes, True)


def test_a_fingerprint_changes_with_whatever_changes_a_curve():
    seen = {fingerprint(study_of(JOINT, PATH))}
    for table, change in (
        ("component", {"gap_mm": 0.51}),
        ("component", {"mode": "TE11"}),
        ("guide", {"diameter_mm": 27.1}),
        ("band", {"points": 22}),
        ("accuracy", {"s_error": 1e-5}),
        ("walls", {"conductivity_s_per_m": 1e7}),
    ):
        seen.add(fingerprint(study_of(JOINT | {table: JOINT.get(table, {}) | change}, PATH)))
    assert len(seen) == 7
    assert fingerprint(study_of(JOINT | {"title": "other"}, PATH)) in seen


def test_one_key_gives_curves_and_two_keys_give_maps():
    assert set(figures(explored(GAP))) == {
        "reflection_curves", "worst_reflection", "leakage_curves", "worst_leakage", "band_edges",
    }  # fmt: skip
    maps = {"reflection_map", "leakage_map", "bandwidth_map"}
    assert set(figures(explored(GAP, DEPTH))) == maps
    # a second key with one value only is a curve
    assert "band_edges" in figures(explored(GAP, Variation(DEPTH.key, (8.0,))))
    # holes, descending values, many curves, one frequency
    radius = Variation("component.groove_inner_radius_mm", (23.0, 20.0, 18.0, 5.0))
    assert set(figures(explored(radius, DEPTH))) == maps
    many = Variation(GAP.key, tuple(np.linspace(0.1, 1.0, 12)))
    single = JOINT | {"band": {"frequencies_ghz": [9.5]}}
    assert len(figures(explore(single, PATH, [many], compute=leaking))) == 5


def test_figures_name_their_axes_with_units_and_draw_the_limit():
    drawn = figures(explored(GAP, DEPTH))
    axes = drawn["leakage_map"].axes[0]
    assert axes.get_xlabel() == "gap / mm"
    assert axes.get_ylabel() == "groove depth / mm"
    curves = figures(explored(GAP))["leakage_curves"].axes[0]
    assert curves.get_xlabel() == "frequency / GHz"
    (limit,) = [line for line in curves.get_lines() if line.get_label() == "limit"]
    assert limit.get_ydata()[0] == pytest.approx(-40.0)
    worst = figures(explored(GAP))["worst_reflection"].axes[0]
    (limit,) = [line for line in worst.get_lines() if line.get_label() == "limit"]
    assert limit.get_ydata()[0] == pytest.approx(20 * np.log10(0.2))  # VSWR 1.5


def test_the_table_has_a_row_for_each_combination():
    radius = Variation("component.groove_inner_radius_mm", (5.0, 20.0))
    rows = list(csv.DictReader(io.StringIO(exploration_csv(explored(radius)))))
    assert [row["outcome"] for row in rows] == ["refused", "exceeds"]
    assert rows[0]["reason"]
    assert rows[0]["worst_s11_db"] == ""
    assert float(rows[1]["worst_s11_db"]) == pytest.approx(20 * np.log10(0.05), abs=1e-3)
    assert rows[1]["holds_to_at_least"] == "no"


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open = []

    def handle_starttag(self, tag, attrs):
        if tag not in {"meta", "img", "br", "link"}:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_the_page_stands_alone_with_its_cautions():
    files = exploration_files(explored(GAP, DEPTH))
    html = files["report.html"].decode()
    tags = Tags()
    tags.feed(html)
    assert tags.open == []
    assert "made-up joint &amp; more" in html
    assert not re.search(r"https?://", html)
    assert "never a clearance" in html
    assert "Never look into an open guide" in html
    assert files["leakage_map.svg"].startswith(b"<?xml")
    assert b'xmlns="http://www.w3.org/2000/svg"' in files["leakage_map.svg"]
    assert json.loads(files["result.json"])["outcomes"]["exceeds"] == 12


def test_the_text_says_what_was_found():
    text = exploration_text(explored(GAP))
    assert "0 of 3 combinations meet" in text
    assert "Least worst reflection: -26.02 dB" in text
    assert "Widest band about 9.5 GHz" in text
    assert "between the points too" in text


RIM = Variation("component.rim_radius_mm", (50.0, 55.0))


def test_three_keys_are_shown_against_each():
    result = explored(GAP, DEPTH, RIM)
    assert len(result.cells) == 24 and result.scattered
    files = exploration_files(result)
    assert {"reflection_scatter.svg", "leakage_scatter.svg"} < set(files)
    assert b"rim radius" in files["leakage_scatter.svg"]


def test_sample_fills_its_intervals_and_grows():
    spans = (Span("component.gap_mm", 0.5, 2.0), Span("component.groove_depth_mm", 6.0, 12.0))
    few, many = sampled(spans, 16), sampled(spans, 64)
    for small, large, span in zip(few, many, spans, strict=True):
        assert large.values[:16] == small.values
        places = (np.array(large.values) - span.low) / (span.high - span.low)
        # every eighth of the interval holds its share of 64 points, within two
        assert np.abs(np.histogram(places, 8, (0, 1))[0] - 8).max() <= 2
    result = explored(*few, sampled=True)
    assert [tuple(cell.values.values()) for cell in result.cells] == list(
        zip(few[0].values, few[1].values, strict=True)
    )
    assert exploration_result_of(result)["sampled"] is True


@pytest.mark.parametrize("as_sample", [False, True])
def test_dataset_opens_in_one_line_with_units(tmp_path, as_sample):
    pairs = (GAP, Variation("component.groove_depth_mm", (6.0, 8.0, 10.0)))
    result = explored(*(pairs if as_sample else (GAP, DEPTH)), sampled=as_sample)
    path = tmp_path / "dataset.nc"
    path.write_bytes(exploration_files(result)["dataset.nc"])
    with xarray.open_dataset(path) as found:
        shape = (3,) if as_sample else (3, 4)
        assert found["worst_s11"].shape == shape and found["s11_re"].shape == (*shape, 21)
        assert found["gap_mm"].attrs["units"] == "mm" and found["frequency"].attrs["units"] == "Hz"
        meanings = found["outcome"].attrs["flag_meanings"].split()
        outcomes = [meanings[int(flag)] for flag in found["outcome"].values.flat]
        assert outcomes == [cell.outcome.replace(" ", "_") for cell in result.cells]
        s11 = (found["s11_re"] + 1j * found["s11_im"]).values.reshape(len(result.cells), -1)
        np.testing.assert_array_equal(s11[1], result.cells[1].curves.s11)


def test_page_to_look_through_stands_alone():
    page = exploration_files(explored(GAP, DEPTH))["index.html"].decode()
    assert page.count("<tr tabindex") == 12 and page.count("<button") == 6
    # nothing is fetched: the only address is the report beside it
    assert re.findall(r"""(?:src|href)=["']([^"']+)""", page) == ["report.html"]
    assert "//" not in page.replace("<!doctype", "")
    text = re.search(r'<script type="application/json" id="data">(.*?)</script>', page)[1]
    assert not set("<>&") & set(text)
    data = json.loads(text)
    assert len(data["curves"]) == 12 and len(data["curves"][0]) == len(data["ghz"]) == 21
    assert data["worst"][0] == pytest.approx(20 * np.log10(0.05), abs=0.01)
    # VSWR 1.5 is |S11| = 0.2
    assert data["limit"] == pytest.approx(20 * np.log10(0.2), abs=0.01)
