"""One reading of one rule of thumb, and what several rules are read with."""

from __future__ import annotations

from dataclasses import dataclass

from geometries.guides import RectangularGuide
from solver.band import Band
from solver.closed_forms.source import Source
from solver.guide_modes import free_space_wavelength, guide_wavelength
from solver.rule_sources import INCH, TABLE_I, TABLE_I_LENGTHS


@dataclass(frozen=True)
class RuleReading:
    """One reading of one rule, for one part.

    Parameters
    ----------
    name : str
        The rule.
    reading : str
        How its words are taken here.
    source : Source
    measure : str
        What is measured: ``"mean radius"``, ``"inner radius"``, ``"mean length"``, ``"spacing"``.
    required, actual : float
        The length that the rule asks for, and that of the part [m].
    satisfied : bool
        Whether the part keeps the rule.
    extra : float
        How far the part falls short; or, if it keeps the rule, how much longer it is than the rule
        asks [m].
    """

    name: str
    reading: str
    source: Source
    measure: str
    required: float
    actual: float
    satisfied: bool
    extra: float


def at_least(
    name: str, reading: str, source: Source, measure: str, required: float, actual: float
) -> RuleReading:
    """Return a reading that asks for at least a length; see `RuleReading`."""
    satisfied = actual >= required * (1 - 1e-12)
    return RuleReading(
        name, reading, source, measure, required, actual, satisfied, abs(required - actual)
    )


def wavelengths(guide: RectangularGuide, band: Band) -> tuple[tuple[str, float], ...]:
    """Every wavelength that a rule's "wavelength" can mean, with its name [m]."""
    return tuple(
        (f"{kind} wavelength at {place}", float(length(frequency)))
        for kind, length in (
            ("free-space", free_space_wavelength),
            ("guide", lambda frequency: guide_wavelength(guide, frequency)),
        )
        for place, frequency in (("band centre", band.centre), ("the low edge", band.start))
    )


def handbook_table(
    guide: RectangularGuide, entry: str, measure: str, actual: float
) -> list[RuleReading]:
    """Return the handbook's length for a guide, where it lists one.

    Parameters
    ----------
    guide : RectangularGuide
    entry : str
        ``"E"``, ``"H"`` or ``"twist"``.
    measure : str
        What of the part is compared.
    actual : float
        Its length [m].
    """
    required = TABLE_I_LENGTHS.get(guide.name, {}).get(entry)
    if required is None:
        return []
    what = "90 degree twist" if entry == "twist" else f"{entry} bend"
    reading = f"{measure} at least the table's {required / INCH:g} in for a {what} of {guide.name}"
    return [at_least("handbook table", reading, TABLE_I, measure, required, actual)]
