"""Tapers, transitions, loads and flexible guides, as the rules for them want them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.loads import Load
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from solver.audits.case_parts import (
    POINTS_IN_SPACE,
    asked_lengths,
    guide_and_band,
    guide_table,
    rounded,
    scanned,
    spread,
    study_tables,
)
from solver.audits.rule_audit import Asked, Case
from solver.rules.rules_of_thumb import rules_for
from solver.studies.band import Band
from solver.waves.guide_modes import circular_cutoff_frequency, dominant_cutoff

#: Narrow heights at the second end over that at the first.
_HEIGHTS = (0.5, 0.25)
#: Neighbours among the standard sizes, the larger first; the band is what both carry.
_NEIGHBOURS = (("WR-284", "WR-229"), ("WR-112", "WR-90"), ("WR-90", "WR-75"), ("WR-62", "WR-51"))
_LENGTH, _TAPER = "component.length_mm", "component.taper_length_mm"
_PITCH, _COUNT = "component.pitch_mm", "component.count"
#: Lengths between the shortest and the largest that a rule asks for; transitions take a minute.
_LENGTHS, _FEW = 12, 2
_SHORTEST = 0.3
#: A bar of the hundredth of a VSWR; a transition takes four times as long for half of it.
_COARSE = 4e-3
#: Absorbers: permittivity and loss tangent, from nearly transparent to strong; no maker's.
_ABSORBERS = ((4.0, 0.2), (9.0, 0.4))
_PLACES = (("H", "centre"), ("H", "wall"), ("E", "wall"))
#: Depths of convolutions over the broad width, and length of the whole over it.
_DEPTHS, _WHOLE = (0.04,), 5.0


def taper_cases(sizes: Sequence[str], angles: Sequence[float] = ()) -> list[Case]:
    """Return linear tapers to lower guides, and between neighbours among the standard sizes."""
    cases = []
    for size in sizes or ("WR-90",):
        guide, band = guide_and_band(size, POINTS_IN_SPACE)
        for share in _HEIGHTS:
            lower = RectangularGuide(guide.broad_width, share * guide.narrow_height)
            words = f"{guide.label} to {share:g} of its height"
            cases.append(_taper(guide, lower, band, "height", words))
    for first, second in () if sizes else _NEIGHBOURS:
        (guide, wide), (other, narrow) = (
            guide_and_band(size, POINTS_IN_SPACE) for size in (first, second)
        )
        band = Band(max(wide.start, narrow.start), min(wide.stop, narrow.stop), POINTS_IN_SPACE)
        cases.append(_taper(guide, other, band, "width and height", f"{first} to {second}"))
    return cases


def _taper(
    guide: RectangularGuide, other: RectangularGuide, band: Band, group: str, words: str
) -> Case:
    asked = asked_lengths(rules_for(Taper(guide, other, guide.broad_width), band), _LENGTH)
    component: dict[str, Any] = {"kind": "taper", "to_guide": guide_table(other)}
    component["length_mm"] = rounded(guide.broad_width)
    return Case(
        kind="taper",
        group=group,
        about=words,
        band=band,
        tables=study_tables(guide, band, component, 3e-4),
        asked=asked,
        scanned=scanned(spread(_SHORTEST * guide.broad_width, asked, _LENGTHS), _LENGTH),
    )


def transition_cases(sizes: Sequence[str], angles: Sequence[float] = ()) -> list[Case]:
    """Return transitions to the round guide of the same cutoff."""
    cases = []
    for size in sizes or ("WR-90",):
        guide, band = guide_and_band(size, POINTS_IN_SPACE)
        unit = circular_cutoff_frequency(CircularGuide(1.0), "TE", 1, 1)
        diameter = unit / dominant_cutoff(guide)
        base = Transition(guide, diameter, guide.broad_width)
        asked = asked_lengths(rules_for(base, band), _LENGTH)
        component = {
            "kind": "transition",
            "to_diameter_mm": rounded(diameter),
            "length_mm": rounded(guide.broad_width),
        }
        cases.append(
            Case(
                kind="transition",
                group="",
                about=f"{guide.label} to {diameter * 1e3:.4g} mm, of the same cutoff",
                band=band,
                tables=study_tables(guide, band, component, _COARSE),
                asked=asked,
                scanned=scanned(spread(guide.broad_width, asked, _FEW), _LENGTH),
            )
        )
    return cases


def load_cases(sizes: Sequence[str], angles: Sequence[float] = ()) -> list[Case]:
    """Return loads of three absorbers, tapered in three ways; the base is one width long."""
    cases = []
    for size in sizes or ("WR-90",):
        guide, band = guide_and_band(size, POINTS_IN_SPACE)
        for plane, position in _PLACES:
            cases += [_load(guide, band, plane, position, *made_of) for made_of in _ABSORBERS]
    return cases


def _load(
    guide: RectangularGuide, band: Band, plane: Any, position: Any, permittivity: float, tan: float
) -> Case:
    width = guide.broad_width
    base = Load(guide, plane, position, width, width, permittivity=permittivity, loss_tangent=tan)
    asked = asked_lengths(rules_for(base, band), _TAPER)
    component = {
        "kind": "load",
        "plane": plane,
        "position": position,
        "taper_length_mm": rounded(width),
        "base_length_mm": rounded(width),
        "permittivity": permittivity,
        "loss_tangent": tan,
    }
    place = f"{plane}-plane, tip at the {position}"
    return Case(
        kind="load",
        group=place,
        about=f"{guide.label}, {place}, permittivity {permittivity:g}, loss tangent {tan:g}",
        band=band,
        tables=study_tables(guide, band, component, 3e-4),
        asked=asked,
        scanned=scanned(spread(_SHORTEST * width, asked, _LENGTHS), _TAPER),
    )


def flexible_cases(sizes: Sequence[str], angles: Sequence[float] = ()) -> list[Case]:
    """Return straight flexible guides of about one length and two depths of convolution."""
    return [
        _flexible(*guide_and_band(size, POINTS_IN_SPACE), share)
        for size in sizes or ("WR-90",)
        for share in _DEPTHS
    ]


def _flexible(guide: RectangularGuide, band: Band, share: float) -> Case:
    width = guide.broad_width
    base = Flexible(guide, pitch=width / 5, convolution_depth=share * width, count=10)
    asked = []
    for rule in rules_for(base, band):
        count = max(2, round(_WHOLE * width / rule.required))
        made = ({_PITCH: rounded(rule.required), _COUNT: float(count)},)
        asked.append(Asked(rule.name, rule.reading, None, made))
    component = {
        "kind": "flexible",
        "pitch_mm": rounded(base.pitch),
        "convolution_depth_mm": rounded(base.convolution_depth),
        "count": base.count,
    }
    return Case(
        kind="flexible",
        group="",
        about=f"{guide.label}, {_WHOLE:g} broad widths long, convolutions {share:g} of it deep",
        band=band,
        tables=study_tables(guide, band, component, 1e-3),
        asked=tuple(asked),
    )
