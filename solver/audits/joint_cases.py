"""Choke flanges and rotating joints whose grooves keep both rules of a quarter wave."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from geometries.errors import GeometryError
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.audits.case_parts import POINTS_IN_SPACE, guide_and_band, rounded, study_tables
from solver.audits.rule_audit import Asked, Case
from solver.closed_forms.choke_openings import opening_distance
from solver.rules.chokes import QUARTER_WAVE_TOLERANCE
from solver.rules.readings import RuleReading
from solver.rules.rules_of_thumb import rules_for
from solver.studies.band import Band

#: A rule kept exactly, and at both ends of what its tolerance lets through.
_SHARES = (1.0, 1.0 - QUARTER_WAVE_TOLERANCE, 1.0 + QUARTER_WAVE_TOLERANCE)
#: Either way from the band's middle, over it.
_NARROW = 0.05
#: Gaps and widths of grooves of choke flanges, over the broad width.
_FLANGE_GAP, _FLANGE_GROOVE, _FLANGE_RIM = 0.009, 0.09, 0.4
#: Round guide and middle of the band of TM01 joints; gaps, widths of grooves [m].
_DIAMETER, _MIDDLE = 27e-3, 10e9
_GAPS, _GROOVES, _RIM = (0.4e-3, 0.8e-3), (2e-3, 4e-3), 12e-3
_KEYS = ("groove_inner_radius_mm", "groove_outer_radius_mm", "groove_depth_mm", "rim_radius_mm")


def choke_flange_cases(sizes: Sequence[str], angles: Sequence[float] = ()) -> list[Case]:
    """Return choke flanges over a tenth of band."""
    cases = []
    for size in sizes or ("WR-90",):
        guide, whole = guide_and_band(size, POINTS_IN_SPACE)
        gap, width = _FLANGE_GAP * guide.broad_width, _FLANGE_GROOVE * guide.broad_width
        inner = guide.broad_width
        joint = ChokeFlange(guide, gap, 2 * inner, inner, inner + width, width)
        rim = _FLANGE_RIM * guide.broad_width
        cases.append(_case(joint, whole.centre, guide.label, rim, 1e-3))
    return cases


def rotating_joint_cases(sizes: Sequence[str], angles: Sequence[float] = ()) -> list[Case]:
    """Return TM01 joints of two gaps and two widths of groove over a tenth of band."""
    guide, inner = CircularGuide(_DIAMETER), _DIAMETER
    return [
        _case(
            RotatingJoint(guide, gap, 2 * inner, inner, inner + width, width, mode="TM01"),
            _MIDDLE,
            f"{guide.label}, TM01",
            _RIM,
            3e-4,
        )
        for gap in _GAPS
        for width in _GROOVES
    ]


def _case(joint: Any, middle: float, words: str, rim: float, s_error: float) -> Case:
    """A joint whose groove is left to the rules; `rim` is how far behind it the rim lies [m]."""
    band = Band((1 - _NARROW) * middle, (1 + _NARROW) * middle, POINTS_IN_SPACE)
    groove = joint.grooves[0]
    width = groove.outer_radius - groove.inner_radius
    component = {"kind": joint.kind, "gap_mm": rounded(joint.gap)}
    if isinstance(joint, RotatingJoint):
        component["mode"] = joint.mode
    component |= dict.fromkeys(_KEYS, 1.0)
    sizes = f"gap {joint.gap * 1e3:.3g} mm, groove {width * 1e3:.3g} mm wide"
    return Case(
        kind=joint.kind,
        group="",
        about=f"{words}, {sizes}",
        band=band,
        tables=study_tables(joint.guide, band, component, s_error),
        asked=tuple(_asked(joint, band, width, rim)),
    )


def _asked(joint: Any, band: Band, width: float, rim: float) -> Iterator[Asked]:
    """Every reading of the distance with every reading of the depth; exact, and at both ends."""
    for distance in rules_for(joint, band):
        if distance.measure != "distance of the groove":
            continue
        inners = [_inner(joint, distance, width, share) for share in _SHARES]
        placed = _placed(joint, inners[0], width, rim)
        for depth in rules_for(placed, band):
            if depth.measure != "groove depth":
                continue
            made = []
            for share, inner in zip(_SHARES, inners, strict=True):
                lengths = (inner, inner + width, share * depth.required, inner + width + rim)
                made.append(
                    {f"component.{k}": rounded(x) for k, x in zip(_KEYS, lengths, strict=True)}
                )
            words = f"{_plain(distance)}; {_plain(depth)}"
            yield Asked("groove a quarter wave away and deep", words, None, tuple(made))


def _inner(joint: Any, distance: RuleReading, width: float, share: float) -> float:
    """Inner radius of a groove at a share of the distance that a reading asks for [m]."""
    inner = opening_distance(joint) + share * distance.required
    return inner - width / 2 if "middle" in distance.reading else inner


def _placed(joint: Any, inner: float, width: float, rim: float) -> Any:
    """The joint with its groove there, of which the depth is read; or as it was."""
    radii = {"groove_inner_radius": inner, "groove_outer_radius": inner + width}
    try:
        return replace(joint, **radii, rim_radius=inner + width + rim)
    except GeometryError:
        return joint


def _plain(rule: RuleReading) -> str:
    return rule.reading.replace(" within 10 % of", "").removesuffix(" at band centre").rstrip(",")
