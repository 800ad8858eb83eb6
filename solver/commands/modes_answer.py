"""What ``guideproof modes`` says: cutoffs of a guide, or resonances of a closed part."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.output.result_json import SCHEMA
from solver.resonances.resolved_resonances import MOST_Q
from solver.resonances.trapped_resonances import LEAST_Q
from solver.studies.inches import guide_text
from solver.studies.plain_values import described_component, described_guide, plain

if TYPE_CHECKING:
    from solver.progress import Progress
    from solver.reports.table_report import TableAnswer
    from solver.resonances.cavity_modes import CavityMode
    from solver.studies.band import Band
    from solver.studies.study import Study

CLOSED = "electric walls at the reference planes"
OPEN = "open: waves leave through both guides and past the rim"


def cutoffs_answer(guide: RectangularGuide | CircularGuide, up_to_ghz: float | None) -> TableAnswer:
    """Return the modes of a guide up to a frequency.

    Raises
    ------
    click.UsageError
        If the list would be too long to read.
    """
    from solver.commands.options import MOST_CUTOFFS
    from solver.output.screen import modes_rows, modes_text
    from solver.reports.table_report import TableAnswer
    from solver.waves.guide_modes import dominant_cutoff, mode_cutoffs

    first = dominant_cutoff(guide)
    up_to = 3.0 * first if up_to_ghz is None else up_to_ghz * 1e9
    if up_to > MOST_CUTOFFS * first:
        raise click.UsageError(
            f"--up-to-ghz {up_to_ghz:g}: must be at most {MOST_CUTOFFS * first / 1e9:.6g}, "
            f"{MOST_CUTOFFS} times the first cutoff"
        )
    found = mode_cutoffs(guide, up_to)
    listed = [{"mode": mode.label, "cutoff_hz": mode.cutoff} for mode in found]
    heads, rows = modes_rows(guide, found)
    return TableAnswer(
        told=plain({"schema": SCHEMA, "guide": described_guide(guide), "modes": listed}),
        text=modes_text(guide, found),
        title=f"Modes of {guide_text(guide)}",
        part=f"guide {guide_text(guide)}",
        band=f"up to {up_to / 1e9:.6g} GHz",
        headline=f"{len(found)} modes; the first propagates from {first / 1e9:.6g} GHz",
        heads=heads,
        rows=rows,
    )


def resonances_answer(path: Path, count: int, progress: Progress) -> TableAnswer:
    """Return the resonances about the middle of a study's band.

    Raises
    ------
    StudyError, UnsupportedPartError, GeometryError, LinearSolveError
    """
    from threadpoolctl import threadpool_limits

    from solver.output.wording import band_text, part_text
    from solver.reports.table_report import TableAnswer
    from solver.studies.study import read_study

    study = read_study(path)
    part = study.component
    from solver.resonances.cavity_modes import cavity_modes

    conductivity = study.walls.conductivity if study.walls is not None else None
    with threadpool_limits(1, user_api="blas"):
        if isinstance(part, ChokeFlange | RotatingJoint):
            return _joint_answer(part, study, progress)
        found = cavity_modes(
            part,
            count,
            near=study.band.centre,
            conductivity=conductivity,
            progress=progress,
        )
    heads, rows = resonance_rows(found)
    return TableAnswer(
        told=resonances_of(part, found, conductivity),
        text=resonances_text(part, found),
        title=f"{study.title}: resonances",
        part=part_text(part),
        band=band_text(study.band),
        headline=f"{len(rows)} resonances about the middle of the band",
        heads=heads,
        rows=rows,
        notes=[f"Closed by {CLOSED}"],
        component=part,
    )


def _joint_answer(
    part: ChokeFlange | RotatingJoint, study: Study, progress: Progress
) -> TableAnswer:
    """Return the trapped resonances of a joint in the study's band."""
    from solver.output.result_json import described_resonance
    from solver.output.screen import table_text
    from solver.output.wording import band_text, part_text
    from solver.parts.joint_resonances import joint_resonances
    from solver.reports.page_frame import sentence
    from solver.reports.table_report import TableAnswer

    found = joint_resonances(part, study.band.frequencies, max(study.s_error, 1e-3), progress)
    estimates = joint_estimates(part, study.band)
    told = {
        "schema": SCHEMA,
        "component": described_component(part),
        "guide": described_guide(part.guide),
        "closed_by": OPEN,
        "resonances": [described_resonance(resonance) for resonance in found.listed],
        "not_resolved": found.not_resolved,
        "not_searched": found.not_searched,
        "estimates": estimates,
    }
    rows = [
        (
            f"{r.frequency / 1e9:.6g}",
            f"{r.error / 1e9:.1g}",
            f"{r.quality:.4g}" if r.quality < MOST_Q else f"above {MOST_Q:.0e}",
            r.about,
        )
        for r in found.listed
    ]
    heads = ("resonance / GHz", "error / GHz", "Q by what leaves", "fields")
    none = f"no trapped resonance of a Q above {LEAST_Q:g} in the band"
    left_out = f"left out, not resolved: {found.not_resolved}" if found.not_resolved else ""
    if found.not_searched:
        left_out = f"{left_out}; not searched: {'; '.join(found.not_searched)}".lstrip("; ")
    closed = joint_estimates_text(estimates)
    head = f"{part_text(part)}; {band_text(study.band)}; {OPEN}\n\n"
    shown = table_text(heads, rows, (0, 1, 2)) if rows else none
    return TableAnswer(
        told=plain(told),
        text=head + shown + (f"\n\n{left_out}" if left_out else "") + closed,
        title=f"{study.title}: trapped resonances",
        part=part_text(part),
        band=band_text(study.band),
        headline=f"{len(rows)} trapped resonances in the band" if rows else sentence(none),
        heads=heads,
        rows=rows,
        notes=[OPEN, *filter(None, [left_out]), *closed.strip().split("\n")],
        component=part,
    )


def joint_estimates(part: ChokeFlange | RotatingJoint, band: Band) -> list[dict[str, Any]]:
    """Return the closed form's resonances in a band and 10 % about it, for each order."""
    from solver.closed_forms.choke_resonances import trapped_resonances
    from solver.closed_forms.estimates import source_of, validity_of

    low, high = 0.9 * band.start, 1.1 * band.stop
    source, validity = source_of(trapped_resonances), validity_of(trapped_resonances)
    listed = []
    for order in (0, 1, 2):
        found = trapped_resonances(part, order, high)
        listed.append(
            {
                "order": order,
                "frequencies_hz": found[found >= low].tolist(),
                "within_validity": bool(validity.holds(part, order, high)),
                "range": validity.text,
                "source": str(source),
            }
        )
    return listed


def joint_estimates_text(estimates: Iterable[dict[str, Any]]) -> str:
    """Return what the closed form says as lines to set below the resonances."""
    listed = list(estimates)
    lines = [
        f"  lowest order m = {each['order']}: "
        + (", ".join(f"{f / 1e9:.4g} GHz" for f in each["frequencies_hz"]) or "none near the band")
        for each in listed
    ]
    outside = "" if listed[0]["within_validity"] else "; outside its range"
    return "\n\n" + "\n".join(
        [f"closed form of gap and groove ({listed[0]['range']}){outside}:", *lines]
    )


def resonances_of(
    part: Any, modes: Iterable[CavityMode], conductivity: float | None
) -> dict[str, Any]:
    """Return the resonances of a part as plain lists, numbers and text."""
    return plain(
        {
            "schema": SCHEMA,
            "component": described_component(part),
            "guide": described_guide(part.guide),
            "closed_by": CLOSED,
            "conductivity_s_per_m": conductivity,
            "resonances": [
                {
                    "frequency_hz": mode.frequency,
                    "error_hz": mode.error,
                    "multiplicity": mode.multiplicity,
                    "q_walls": mode.q_walls,
                }
                for mode in modes
            ],
        }
    )


def resonance_rows(modes: Iterable[CavityMode]) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return heads and rows of a table of resonances."""
    rows: list[tuple[str, ...]] = [
        (
            f"{mode.frequency / 1e9:.9g}",
            f"{mode.error / 1e9:.1g}",
            f"{mode.multiplicity}",
            "no [walls] given" if mode.q_walls is None else f"{mode.q_walls:.5g}",
        )
        for mode in modes
    ]
    return ("resonance / GHz", "error / GHz", "independent fields", "Q by the walls"), rows


def resonances_text(part: Any, modes: Iterable[CavityMode]) -> str:
    """Return the resonances of a part as text, one line each."""
    from solver.output.screen import table_text
    from solver.output.wording import part_text

    heads, rows = resonance_rows(modes)
    return f"{part_text(part)}; {CLOSED}\n\n" + table_text(heads, rows, (0, 1, 2, 3))
