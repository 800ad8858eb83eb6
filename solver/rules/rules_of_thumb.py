"""Rules of thumb, each with its source and in every reading of its words.

The rules are compared with the computed part; none of them decides the verdict.
"""

from __future__ import annotations

import math
from functools import singledispatch

from geometries.shapes.bends import Bend, width_in_plane
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.flexibles import Flexible
from geometries.shapes.horns import Horn
from geometries.shapes.loads import Load
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from solver.rules.chokes import choke_rules
from solver.rules.flexibles import flexible_rules
from solver.rules.lengths import horn_rules, load_rules, taper_rules, twist_rules
from solver.rules.readings import (
    OUTSIDE_RADIUS,
    RuleReading,
    at_least,
    outside_radius,
    table_bend,
    wavelengths,
)
from solver.rules.sources import (
    CORNER_SPACING,
    GUIDE_WIDTHS,
    HALF_WAVES,
    ONE_WAVELENGTH,
    PER_RIGHT_ANGLE,
    SHARP_BEND,
    TRAINING_TEXTS,
)
from solver.studies.band import Band
from solver.waves.guide_modes import free_space_wavelength, guide_wavelength

__all__ = ["RuleReading", "required_radius", "rules_for", "taper_rules", "twist_rules"]

#: A mean length counts as a multiple of half a wavelength within this part of a wavelength.
HALF_WAVE_TOLERANCE = 1 / 16


def required_radius(reading: RuleReading, bend: Bend) -> float:
    """Return the mean radius that a reading asks of a bend of the same guide and angle [m].

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> bend = Bend(standard_guide("WR-90"), "E", math.pi / 2, 30e-3)
    >>> widths = rules_for(bend, Band(8.2e9, 12.4e9))[10]
    >>> widths.reading, round(1e3 * required_radius(widths, bend), 2)
    ('mean radius at least 1.5 b', 15.24)
    """
    if reading.measure == "mean length":
        return reading.required / bend.angle
    smallest = reading.required
    if reading.measure == "inner radius":
        smallest += bend.width_in_plane / 2
    if reading.measure == OUTSIDE_RADIUS:
        smallest -= outside_radius(bend.guide, bend.plane, 0.0)
    return smallest / (1.0 - bend.onset)


@singledispatch
def rules_for(component: object, band: Band) -> tuple[RuleReading, ...]:
    """Return every reading of every rule that speaks of a component.

    Parameters
    ----------
    component : Bend, Corner, Twist, Taper, Transition, RotatingJoint, ChokeFlange or any other
        Kinds without a rule give an empty tuple.
    band : Band

    Raises
    ------
    BelowCutoffError
        If the guide does not carry TE10, or the joint its own mode, at the low edge.

    Notes
    -----
    To add a kind, register one function here.
    """
    return ()


@rules_for.register
def _(component: Bend, band: Band) -> tuple[RuleReading, ...]:
    return (
        *_two_wavelengths(component, band),
        *_one_wavelength(component, band),
        _guide_widths(component),
        *_made_for_arcs(component, band),
    )


def _made_for_arcs(component: Bend, band: Band) -> tuple[RuleReading, ...]:
    """Rules of the two ends of an arc, and standard bends; none for a smooth profile."""
    if component.profile != "constant":
        return ()
    return (
        *_half_waves(component, band),
        *table_bend(component.guide, component.plane, component.mean_radius),
    )


def _two_wavelengths(bend: Bend, band: Band) -> list[RuleReading]:
    name, readings = "two wavelengths", []
    for wave, length in wavelengths(bend.guide, band):
        reading = f"mean radius at least 2 x the {wave}, at any angle"
        readings.append(at_least(name, reading, TRAINING_TEXTS, *_radius(bend, 2 * length)))
    for wave, length in wavelengths(bend.guide, band):
        reading = f"mean length at least 2 x the {wave} per 90 degrees"
        required = 2 * length * bend.angle / (math.pi / 2)
        readings.append(
            at_least(name, reading, PER_RIGHT_ANGLE, "mean length", required, bend.arc_length)
        )
    return readings


def _one_wavelength(bend: Bend, band: Band) -> list[RuleReading]:
    length = float(free_space_wavelength(band.centre))
    return [
        at_least(
            "never under one wavelength",
            f"{measure} at least the free-space wavelength at band centre",
            ONE_WAVELENGTH,
            *(_radius(bend, length) if measure == "mean radius" else (measure, length, actual)),
        )
        for measure, actual in (
            ("mean radius", bend.smallest_radius),
            ("inner radius", bend.inner_radius),
        )
    ]


def _guide_widths(bend: Bend) -> RuleReading:
    letter = "b" if bend.plane == "E" else "a"
    required = 1.5 * width_in_plane(bend.guide, bend.plane)
    reading = f"mean radius at least 1.5 {letter}"
    return at_least("one and a half guide widths", reading, GUIDE_WIDTHS, *_radius(bend, required))


def _radius(bend: Bend, required: float) -> tuple[str, float, float]:
    """Measure, what is required and what is; of a smooth bend where it is tightest [m]."""
    measure = "mean radius" if bend.profile == "constant" else "least radius"
    return measure, required, bend.smallest_radius


def _half_waves(bend: Bend, band: Band) -> list[RuleReading]:
    """Mean length a multiple of half a wavelength, at the mean of the edges' wavelengths."""
    readings = []
    for kind, at_start, at_stop in (
        ("free-space", free_space_wavelength(band.start), free_space_wavelength(band.stop)),
        (
            "guide",
            guide_wavelength(bend.guide, band.start),
            guide_wavelength(bend.guide, band.stop),
        ),
    ):
        wave = float(at_start + at_stop) / 2
        required = max(1, round(bend.arc_length / (wave / 2))) * wave / 2
        miss = abs(bend.arc_length - required)
        readings.append(
            RuleReading(
                "multiple of half a wavelength",
                f"mean length within 1/16 of a wavelength of a multiple of half the {kind} "
                "wavelength, mean of the band edges; the nearest multiple is asked",
                HALF_WAVES,
                "mean length",
                required,
                bend.arc_length,
                miss <= HALF_WAVE_TOLERANCE * wave,
                miss,
            )
        )
    return readings


@rules_for.register
def _(component: Corner, band: Band) -> tuple[RuleReading, ...]:
    half_angle = math.degrees(component.angle) / 2
    advice = (
        f"two corners of {half_angle:.4g} degrees in place of one, their mean distance a quarter "
    )
    free, guided = (
        float(free_space_wavelength(band.centre)) / 4,
        float(guide_wavelength(component.guide, band.centre)) / 4,
    )
    readings = (
        ("of the free-space wavelength at band centre", SHARP_BEND, free),
        ("of the guide wavelength at band centre, or an odd multiple", CORNER_SPACING, guided),
    )
    return tuple(
        at_least("two corners a quarter wavelength apart", advice + of, source, "spacing", d, 0.0)
        for of, source, d in readings
    )


@rules_for.register
def _(component: Twist, band: Band) -> tuple[RuleReading, ...]:
    return twist_rules(component.guide, component.angle, component.length, band)


@rules_for.register(Taper)
@rules_for.register(Transition)
def _(component: Taper | Transition, band: Band) -> tuple[RuleReading, ...]:
    return taper_rules(component, band)


@rules_for.register
def _(component: Load, band: Band) -> tuple[RuleReading, ...]:
    return load_rules(component, band)


@rules_for.register
def _(component: Horn, band: Band) -> tuple[RuleReading, ...]:
    return horn_rules(component, band)


@rules_for.register
def _(component: Flexible, band: Band) -> tuple[RuleReading, ...]:
    return flexible_rules(component, band)


@rules_for.register(RotatingJoint)
@rules_for.register(ChokeFlange)
def _(component: RotatingJoint | ChokeFlange, band: Band) -> tuple[RuleReading, ...]:
    return choke_rules(component, band)
