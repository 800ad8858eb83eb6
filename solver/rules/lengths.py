"""Rules of thumb for the length of twists, tapers, transitions and the absorbers of loads."""

from __future__ import annotations

import math

from geometries.shapes.guides import RectangularGuide
from geometries.shapes.loads import Load
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from solver.rules.readings import RuleReading, at_least, table_twist, wavelengths
from solver.rules.sources import (
    LOAD_TAPER,
    ONE_WAVELENGTH,
    PER_RIGHT_ANGLE,
    TAPER_LENGTH,
    TWIST_TEXT,
)
from solver.studies.band import Band
from solver.waves.guide_modes import free_space_wavelength, guide_wavelength


def twist_rules(
    guide: RectangularGuide, angle: float, length: float, band: Band
) -> tuple[RuleReading, ...]:
    """Return every reading of every rule for a twist.

    Parameters
    ----------
    guide : RectangularGuide
    angle, length : float
        Angle through which the cross-section turns [rad], and length of the axis [m].
    band : Band

    Raises
    ------
    BelowCutoffError
    """
    readings = []
    for wave, unit in wavelengths(guide, band):
        reading = f"length at least 2 x the {wave}, at any angle"
        readings.append(
            at_least("two wavelengths", reading, TWIST_TEXT, "mean length", 2 * unit, length)
        )
    for wave, unit in wavelengths(guide, band):
        reading = f"length at least 2 x the {wave} per 90 degrees"
        required = 2 * unit * angle / (math.pi / 2)
        readings.append(
            at_least("two wavelengths", reading, PER_RIGHT_ANGLE, "mean length", required, length)
        )
    reading = "length at least the free-space wavelength at band centre"
    unit = float(free_space_wavelength(band.centre))
    readings.append(
        at_least("never under one wavelength", reading, ONE_WAVELENGTH, "mean length", unit, length)
    )
    readings += table_twist(guide, length)
    return tuple(readings)


def taper_rules(part: Taper | Transition, band: Band) -> tuple[RuleReading, ...]:
    """Return every reading of the rule for a taper or a rectangular-to-round transition.

    Parameters
    ----------
    part : Taper or Transition
    band : Band

    Raises
    ------
    BelowCutoffError
    """
    readings = []
    for count, words in ((1, "one guide wavelength"), (2, "two guide wavelengths")):
        for place, frequency in (("band centre", band.centre), ("the low edge", band.start)):
            required = count * float(guide_wavelength(part.guide, frequency))
            times = "" if count == 1 else f"{count} x "
            reading = f"length at least {times}the guide wavelength of the first guide at {place}"
            readings.append(
                at_least(words, reading, TAPER_LENGTH, "mean length", required, part.length)
            )
    return tuple(readings)


def load_rules(load: Load, band: Band) -> tuple[RuleReading, ...]:
    """Return every reading of the rule for the taper of an absorber.

    Parameters
    ----------
    load : Load
    band : Band

    Raises
    ------
    BelowCutoffError
    """
    readings = []
    for count, words in ((1, "one wavelength"), (2, "two wavelengths")):
        for wave, unit in wavelengths(load.guide, band):
            times = "" if count == 1 else f"{count} x "
            reading = f"taper length at least {times}the {wave}"
            required = count * unit
            readings.append(
                at_least(words, reading, LOAD_TAPER, "taper length", required, load.taper_length)
            )
    return tuple(readings)
