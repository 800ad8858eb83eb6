"""Rules of thumb for the length of twists, tapers, transitions and the absorbers of loads."""

from __future__ import annotations

import math

from geometries.shapes.guides import RectangularGuide
from geometries.shapes.horns import ConicalHorn, Horn, phase_errors
from geometries.shapes.loads import Load
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from solver.rules.readings import RuleReading, at_least, table_twist, wavelengths
from solver.rules.sources import (
    FLAT_HORN,
    LOAD_TAPER,
    ONE_WAVELENGTH,
    OPTIMUM_HORN,
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
    readings += table_twist(guide, angle, length)
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


def horn_rules(horn: Horn, band: Band) -> tuple[RuleReading, ...]:
    """Return every reading of how long a horn of its aperture has to be.

    Parameters
    ----------
    horn : RectangularHorn or ConicalHorn
    band : Band

    Notes
    -----
    The path difference across an aperture of width A over a guide of width a goes as
    (A - a) A/(8 length). A mean size of the guide's wavelength says nothing of it, and no rule
    says how long a horn is for a VSWR.
    """
    if horn.length == 0:
        return ()
    round_about = isinstance(horn, ConicalHorn)
    planes = (("E", 3 / 8 if round_about else 1 / 4), ("H", 3 / 8))
    readings = []
    for plane, part in planes[:1] if round_about else planes:
        longer = phase_errors(horn)[plane] * horn.length
        across = "" if round_about else f" across the {plane} plane"
        for words, source, share in (
            ("no longer path than in an optimum horn", OPTIMUM_HORN, part),
            ("a plane wave in the aperture", FLAT_HORN, 1 / 16),
        ):
            for place, f in (("band centre", band.centre), ("the high edge", band.stop)):
                wave = float(free_space_wavelength(f))
                reading = f"paths{across} differ by at most {share:g} of a wavelength at {place}"
                required = max(longer, 0.0) / (share * wave)
                readings.append(
                    at_least(words, reading, source, "mean length", required, horn.length)
                )
    return tuple(readings)
