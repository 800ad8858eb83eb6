"""Bends, corners and twists, as the rules for them want them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from geometries.shapes.bends import Bend, width_in_plane
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Plane
from geometries.shapes.twists import Twist
from solver.audits.case_parts import (
    POINTS,
    POINTS_IN_SPACE,
    asked_lengths,
    band_table,
    degrees,
    guide_and_band,
    guide_table,
    rounded,
    scanned,
    spread,
    study_tables,
)
from solver.audits.rule_audit import Asked, Case
from solver.rules.rules_of_thumb import required_radius, rules_for
from solver.studies.band import Band
from solver.waves.guide_modes import free_space_wavelength

#: One of each class of ratio a/b among the common sizes.
GUIDES = ("WR-284", "WR-112", "WR-90", "WR-62")
#: Those of which a handbook lists twists among them.
TWIST_GUIDES = ("WR-137", "WR-112", "WR-90", "WR-62")
ANGLES, CORNER_ANGLES, TWIST_ANGLES = (30.0, 60.0, 90.0), (60.0, 90.0), (45.0, 90.0)
_PLANES: tuple[Plane, Plane] = ("E", "H")
#: Radii of bends, lengths of twists, between the shortest and the largest that a rule asks for.
_RADII, _LENGTHS = 20, 12
#: Inner radius of the tightest bend, over the width in the plane.
_TIGHTEST = 0.05
_RADIUS, _LENGTH, _SPACING = "component.mean_radius_mm", "component.length_mm", "part.2.length_mm"
#: Least straight guide between two corners, over the width in the plane.
_APART = 0.02


def bend_cases(sizes: Sequence[str], angles: Sequence[float]) -> list[Case]:
    """Return bends of standard guides in both planes; angles in degrees."""
    return [
        _bend(*guide_and_band(size, POINTS), plane, math.radians(angle))
        for size in sizes or GUIDES
        for plane in _PLANES
        for angle in angles or ANGLES
    ]


def _bend(guide: RectangularGuide, band: Band, plane: Plane, angle: float) -> Case:
    # about it a rule that asks for the nearest of several lengths is read
    radius = max(float(free_space_wavelength(band.centre)), 0.6 * guide.broad_width)
    base = Bend(guide, plane, angle, radius)
    asked = []
    for rule in rules_for(base, band):
        wanted = required_radius(rule, base)
        asked.append(Asked(rule.name, rule.reading, wanted, ({_RADIUS: rounded(wanted)},)))
    component = {"kind": "bend", "plane": plane, "angle_deg": degrees(angle)}
    component["mean_radius_mm"] = rounded(radius)
    return Case(
        kind="bend",
        group=f"{plane}-plane",
        about=f"{guide.label}, {plane}-plane, {degrees(angle):g} degrees",
        band=band,
        tables=study_tables(guide, band, component, 1e-5),
        asked=tuple(asked),
        scanned=scanned(spread((0.5 + _TIGHTEST) * base.width_in_plane, asked, _RADII), _RADIUS),
        per_size=angle,
    )


def corner_cases(sizes: Sequence[str], angles: Sequence[float]) -> list[Case]:
    """Return two square corners of half an angle in place of one; angles in degrees."""
    return [
        _corners(*guide_and_band(size, POINTS), plane, math.radians(angle))
        for size in sizes or GUIDES
        for plane in _PLANES
        for angle in angles or CORNER_ANGLES
    ]


def _corners(guide: RectangularGuide, band: Band, plane: Plane, angle: float) -> Case:
    # the axes of the arms meet so far before and behind the planes of reference
    ends = width_in_plane(guide, plane) * math.tan(angle / 4)
    least = ends + _APART * width_in_plane(guide, plane)
    asked = []
    for rule in rules_for(Corner(guide, plane, angle, 0.0), band):
        spacing = rule.required
        while "odd multiple" in rule.reading and spacing < least:
            spacing += 2 * rule.required
        words = "mean distance a quarter " + rule.reading.partition("a quarter ")[2]
        made = ({_SPACING: rounded(spacing - ends)},)
        asked.append(Asked(rule.name, words, spacing, made))
    corner = {"kind": "corner", "plane": plane, "angle_deg": degrees(angle / 2), "cut_mm": 0.0}
    return Case(
        kind="corner",
        group=f"{plane}-plane",
        about=f"{guide.label}, {plane}-plane, {degrees(angle):g} degrees in two",
        band=band,
        tables={
            "title": "audit",
            "guide": guide_table(guide),
            "part": [corner, {"kind": "straight", "length_mm": 10.0}, corner],
            "band": band_table(band),
            "accuracy": {"s_error": 1e-4},
        },
        asked=tuple(asked),
    )


def twist_cases(sizes: Sequence[str], angles: Sequence[float]) -> list[Case]:
    """Return uniform twists of standard guides; angles in degrees."""
    return [
        _twist(*guide_and_band(size, POINTS_IN_SPACE), math.radians(angle))
        for size in sizes or TWIST_GUIDES
        for angle in angles or TWIST_ANGLES
    ]


def _twist(guide: RectangularGuide, band: Band, angle: float) -> Case:
    base = Twist(guide, angle, float(free_space_wavelength(band.centre)))
    asked = asked_lengths(rules_for(base, band), _LENGTH)
    component = {"kind": "twist", "angle_deg": degrees(angle), "length_mm": rounded(base.length)}
    case = Case(
        kind="twist",
        group="",
        about=f"{guide.label}, {degrees(angle):g} degrees",
        band=band,
        tables=study_tables(guide, band, component, 3e-4),
        asked=asked,
    )
    lengths = spread(0.5 * guide.broad_width, asked, _LENGTHS)
    return replace(case, scanned=scanned(lengths, _LENGTH))
