"""Which studies share a basis, and what holds its answers to account; nothing is solved here."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from solver.errors import LinearSolveError
from solver.families.arc_parts import arcs_among
from solver.output.exploration_wording import exploration_text
from solver.reports.exploration_files import exploration_result_of
from solver.searches import explore as explore_module
from solver.searches import shared_maps
from solver.searches.explore import explore
from solver.searches.part_curves import as_record, from_record
from solver.searches.point_store import PointStore
from solver.searches.shared_maps import FEWEST, apart, families_of
from solver.searches.varied_keys import Variation
from solver.searches.varied_parts import built_part
from solver.waves.scattering import PortMode
from tests.unit.solver.made_up_curves import made_up_curves

PATH = Path("choke.toml")
CHOKE = {
    "title": "made-up choke",
    "guide": "WR-90",
    "component": {
        "kind": "choke-flange",
        "gap_mm": 0.2,
        "rim_radius_mm": 25.0,
        "groove_inner_radius_mm": 14.0,
        "groove_outer_radius_mm": 16.0,
        "groove_depth_mm": 8.2,
    },
    "band": {"from_ghz": 8.2, "to_ghz": 12.4, "points": 9},
    "limit": {"vswr": 1.05, "leakage_db": -40.0},
    "accuracy": {"s_error": 1e-3},
}
GAP = Variation("component.gap_mm", (0.1, 0.2, 0.3, 0.4, 0.5, 0.6))
DEPTH = Variation("component.groove_depth_mm", (7.0, 7.5, 8.0, 8.5, 9.0))
#: Deepest and tallest of the grid.
LARGEST = (0.6, 9.0)


def studies(changes, tables=CHOKE):
    return {str(n): built_part(tables, PATH, values) for n, values in enumerate(changes)}


def grid(**more):
    return [{GAP.key: gap, DEPTH.key: depth} | more for gap in GAP.values for depth in DEPTH.values]


def curves(study, shift=0.0, error=1e-4):
    """Least reflection where the gap is least, and least leakage at a depth of 8 mm."""
    part, frequency = study.component, study.band.frequencies
    s11 = np.full(len(frequency), 20.0 * part.gap + shift, dtype=complex)
    leaked = np.full(len(frequency), 1e-6 + 10.0 * abs(part.groove_depth - 8e-3) ** 2)
    modes = (PortMode(1, "TE10", 6.5e9), PortMode(2, "TE10", 6.5e9))
    return made_up_curves(frequency, modes, s11, error, leaked, np.sqrt(1 - np.abs(s11) ** 2))


@pytest.fixture
def basis(monkeypatch):
    """A basis whose answers are off by `shift`; tells which joints were solved alone."""
    told = SimpleNamespace(shift=0.0, error=1e-4, alone=[], fails=False)

    def prepared(family, report=None):
        if told.fails:
            raise LinearSolveError("no basis")
        level = SimpleNamespace(unknowns=4321)
        return SimpleNamespace(
            family=SimpleNamespace(levels=(level,), order=4), snapshots=10, factorisations=50
        )

    def in_family(family, study):
        large = (study.component.gap * 1e3, study.component.groove_depth * 1e3) == LARGEST
        found = curves(study, told.shift, 1.0 if large else told.error)
        return replace(found, shared=True, reached=not large)

    def alone(study):
        told.alone.append(study.component)
        return curves(study)

    monkeypatch.setattr(shared_maps, "prepared", prepared)
    monkeypatch.setattr(shared_maps, "curves_in_family", in_family)
    monkeypatch.setattr(explore_module, "curves_of", alone)
    told.explored = lambda *keys, **options: explore(CHOKE, PATH, keys, compute=alone, **options)
    return told


def test_joints_of_one_topology_share_a_basis_where_it_pays():
    assert [len(group) for group in families_of(studies(grid()))] == [30]
    assert families_of(studies(grid()[: FEWEST - 1])) == []
    rims = grid(**{"component.rim_radius_mm": 25.0}) + grid(**{"component.rim_radius_mm": 26.0})
    assert [len(group) for group in families_of(studies(rims))] == [30, 30]


def test_other_parts_and_single_frequencies_share_none():
    single = CHOKE | {"band": {"frequencies_ghz": [9.0]}}
    assert families_of(studies(grid(), single)) == []
    joint = CHOKE["component"] | {"kind": "rotating-joint", "mode": "TM01"}
    joint |= {"groove_inner_radius_mm": 16.0, "groove_outer_radius_mm": 18.0}
    for mode, groups in (("TM01", []), ("TE11", [30])):
        round_ = CHOKE | {"guide": {"diameter_mm": 27.0}, "component": joint | {"mode": mode}}
        round_ |= {"band": {"from_ghz": 9.0, "to_ghz": 10.0, "points": 9}}
        found = families_of(studies(grid(), round_))
        assert [len(group) for group in found] == groups


def test_what_is_pointed_out_and_what_has_too_large_a_bar_is_solved_alone(basis):
    result = basis.explored(GAP, DEPTH)
    alone = [(round(p.gap * 1e3, 6), round(p.groove_depth * 1e3, 6)) for p in basis.alone]
    assert LARGEST in alone
    assert (0.1, 8.0) in alone
    assert len(alone) <= 6
    told = result.shared
    assert (told.answered, told.alone, told.order, told.snapshots) == (29, 1, 4, 10)
    assert told.confirmed == len(alone) - 1
    assert told.apart == 0.0
    best = min(result.cells, key=lambda cell: cell.reflection.value)
    assert not best.curves.shared
    assert sum(cell.curves.shared for cell in result.cells) == 30 - len(alone)


def test_a_basis_that_disagrees_is_not_kept(basis):
    basis.shift = 3e-4  # more than both bars of 1e-4
    result = basis.explored(GAP, DEPTH)
    assert result.shared is None
    assert len(basis.alone) == 30
    assert not any(cell.curves.shared for cell in result.cells)


def test_bars_that_hold_are_kept(basis):
    basis.shift = 1.5e-4
    result = basis.explored(GAP, DEPTH)
    assert result.shared.apart == pytest.approx(0.75, rel=1e-3)


def test_where_no_basis_can_be_had_all_are_solved_alone(basis):
    basis.fails = True
    result = basis.explored(GAP, DEPTH)
    assert result.shared is None
    assert len(basis.alone) == 30


def test_the_answer_says_what_came_from_a_basis(basis):
    result = basis.explored(GAP, DEPTH)
    text = exploration_text(result)
    assert "29 parts were solved together on one basis of 10 snapshots, elements of order 4" in text
    assert "1 more, whose error was too large for that, were solved alone" in text
    told = exploration_result_of(result)
    assert told["shared_basis"]["answered"] == 29
    assert told["shared_basis"]["unknowns"] == 4321
    assert {point["shared"] for point in told["points"]} == {True, False}


def test_a_run_goes_on_from_kept_answers(basis, tmp_path):
    first = basis.explored(GAP, DEPTH, store=PointStore(tmp_path / "map"))
    basis.alone.clear()
    basis.fails = True
    again = basis.explored(GAP, DEPTH, store=PointStore(tmp_path / "map"))
    assert basis.alone == []
    assert [c.curves.shared for c in again.cells] == [c.curves.shared for c in first.cells]


def test_a_record_says_whether_a_basis_answered():
    study = built_part(CHOKE, PATH, {})
    for shared in (True, False):
        assert from_record(as_record(replace(curves(study), shared=shared))).shared is shared


def test_the_distance_of_two_answers_is_in_bars():
    study = built_part(CHOKE, PATH, {})
    assert apart(curves(study), curves(study, 2e-4)) == pytest.approx(1.0, rel=1e-4)
    assert apart(curves(study), None) == np.inf


def test_joints_left_over_have_a_basis_of_their_own_where_they_lie_closer_together(
    basis, monkeypatch
):
    boxes = []
    prepared = shared_maps.prepared

    def seen(family, report=None):
        boxes.append((family.box.least.gap, family.box.largest.gap))
        return prepared(family, report)

    def in_family(family, study):
        # the first basis serves narrow gaps alone
        fits = len(boxes) > 1 or study.component.gap < 0.45e-3
        return replace(curves(study), shared=True, reached=fits)

    monkeypatch.setattr(shared_maps, "prepared", seen)
    monkeypatch.setattr(shared_maps, "curves_in_family", in_family)
    depths = Variation(DEPTH.key, tuple(np.linspace(7.0, 9.0, 15)))
    result = basis.explored(GAP, depths)
    assert boxes == [(pytest.approx(0.1e-3), pytest.approx(0.6e-3)),
                     (pytest.approx(0.5e-3), pytest.approx(0.6e-3))]  # fmt: skip
    assert (result.shared.answered, result.shared.alone) == (90, 0)
    assert result.shared.snapshots == 20


BEND = {
    "title": "arc",
    "guide": "WR-90",
    "component": {"kind": "bend", "plane": "H", "angle_deg": 60.0, "mean_radius_mm": 25.0},
    "band": {"from_ghz": 8.2, "to_ghz": 12.4, "points": 9},
    "limit": {"vswr": 1.05},
    "accuracy": {"s_error": 1e-4},
}
RADIUS = Variation("component.mean_radius_mm", tuple(np.linspace(14.0, 32.0, 12)))


def test_arcs_are_answered_for_by_modes_and_confirmed():
    result = explore(BEND, PATH, [RADIUS])
    told = result.shared
    assert (told.answered, told.alone, told.by_modes) == (12, 0, True)
    assert 0.0 < told.apart <= 1.0
    assert told.confirmed >= 3
    best = min(result.cells, key=lambda cell: cell.reflection.value)
    assert not best.curves.shared
    assert sum(cell.curves.shared for cell in result.cells) == 12 - told.confirmed
    text = exploration_text(result)
    assert "12 bends were solved by modes of the curved guide" in text
    assert exploration_result_of(result)["shared_basis"]["by_modes"] is True


def test_arcs_whose_modes_disagree_are_all_solved_alone(monkeypatch):
    solved_arc = shared_maps.solved_arc

    def off(*given):
        solved = solved_arc(*given)
        return replace(solved, s=solved.s + 2e-4)

    monkeypatch.setattr(shared_maps, "solved_arc", off)
    result = explore(BEND, PATH, [RADIUS])
    assert result.shared is None
    assert not any(cell.curves.shared for cell in result.cells)


def test_arcs_for_which_modes_do_not_answer_are_solved_alone(monkeypatch):
    solved_arc = shared_maps.solved_arc
    monkeypatch.setattr(
        shared_maps,
        "solved_arc",
        lambda bend, *given: solved_arc(bend, *given) if bend.mean_radius < 27e-3 else None,
    )
    result = explore(BEND, PATH, [RADIUS])
    assert (result.shared.answered, result.shared.alone) == (8, 4)
    assert "4 more, whose error was too large for that" in exploration_text(result)


def test_bends_that_are_no_arcs_lossy_or_few_are_solved_alone():
    values = [{RADIUS.key: radius} for radius in RADIUS.values]
    assert len(arcs_among(studies(values, BEND))) == 12
    smooth = BEND["component"] | {"profile": "smooth", "onset": 0.2, "mean_radius_mm": 40.0}
    assert not arcs_among(studies([{}], BEND | {"component": smooth}))
    assert not arcs_among(studies([{}], BEND | {"walls": {"conductivity_ms_per_m": 30.0}}))
    assert not arcs_among(studies(grid()))
    few = Variation(RADIUS.key, RADIUS.values[: shared_maps.FEWEST_ARCS - 1])
    assert explore(BEND, PATH, [few]).shared is None
