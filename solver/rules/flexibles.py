"""The rule of thumb for the pitch of flexible guides, in every reading of its words."""

from __future__ import annotations

from geometries.shapes.flexibles import Flexible
from solver.rules.readings import RuleReading
from solver.rules.sources import FINE_PITCH
from solver.studies.band import Band
from solver.waves.guide_modes import free_space_wavelength, guide_wavelength


def flexible_rules(part: Flexible, band: Band) -> tuple[RuleReading, ...]:
    """Return every reading of "the pitch small against the wavelength".

    Parameters
    ----------
    part : Flexible
    band : Band

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    What small means is not said: a tenth, a quarter, or less than the half at which the
    convolutions' reflections add up.
    """
    waves = [
        ("free-space wavelength at the high edge", float(free_space_wavelength(band.stop))),
        ("guide wavelength at the high edge", float(guide_wavelength(part.guide, band.stop))),
        ("guide wavelength at band centre", float(guide_wavelength(part.guide, band.centre))),
    ]
    readings = []
    for words, share in (("a tenth", 0.1), ("a quarter", 0.25), ("half", 0.5)):
        for wave, length in waves:
            most = share * length
            readings.append(
                RuleReading(
                    "fine pitch",
                    f"pitch at most {words} of the {wave}",
                    FINE_PITCH,
                    "pitch",
                    most,
                    part.pitch,
                    part.pitch <= most,
                    abs(most - part.pitch),
                )
            )
    return tuple(readings)
