"""One reading of one rule of thumb, and what several rules are read with."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geometries.shapes.guides import RectangularGuide
from solver.closed_forms.source import Source
from solver.rules.sources import INCH, TABLE_I, TABLE_I_LENGTHS, TABLE_I_OUTSIDE
from solver.studies.band import Band
from solver.waves.guide_modes import free_space_wavelength, guide_wavelength

#: What the handbook's table measures in a bend.
OUTSIDE_RADIUS = "radius to the outside of the inner wall"


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
        What is measured: ``"mean radius"``, ``"inner radius"``, `OUTSIDE_RADIUS`,
        ``"mean length"``, ``"taper length"``, ``"spacing"``.
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


def outside_radius(guide: RectangularGuide, plane: str, mean_radius: float) -> float:
    """Return the radius of a bend to the outside of its inner wall, the handbook's R [m].

    Parameters
    ----------
    guide : RectangularGuide
        One of the handbook's table.
    plane : str
        ``"E"`` or ``"H"``.
    mean_radius : float
        To the axis, the handbook's RL [m].

    Raises
    ------
    KeyError
        If the table does not list the guide.

    Notes
    -----
    R = RL - c/2, c the outside dimension in the plane; MIL-HDBK-660B, p. 4.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> round(outside_radius(standard_guide("WR-284"), "H", 8.39 * INCH) / INCH, 2)
    6.89
    """
    return mean_radius - TABLE_I_OUTSIDE[guide.name][plane] / 2


def table_bend(guide: RectangularGuide, plane: str, mean_radius: float) -> list[RuleReading]:
    """Return the handbook's least radius of a bend, on both of its lines.

    Parameters
    ----------
    guide : RectangularGuide
    plane : str
    mean_radius : float
        To the axis [m].

    Returns
    -------
    list of RuleReading
        On the line of the table and on the axis; they hold or fail together. None where the
        table does not list the guide.
    """
    required = TABLE_I_LENGTHS.get(guide.name, {}).get(plane)
    if required is None:
        return []
    half = TABLE_I_OUTSIDE[guide.name][plane] / 2
    name, table = "handbook table", f"the table's {required / INCH:g} in for an {plane} bend"
    axis = f"mean radius at least {table} of {guide.name}, and half the outside dimension"
    line = f"{OUTSIDE_RADIUS}, mean radius less half the outside dimension, at least {table} of "
    actual = outside_radius(guide, plane, mean_radius)
    return [
        at_least(name, line + guide.name, TABLE_I, OUTSIDE_RADIUS, required, actual),
        at_least(name, axis, TABLE_I, "mean radius", required + half, mean_radius),
    ]


def table_twist(guide: RectangularGuide, angle: float, length: float) -> list[RuleReading]:
    """Return the handbook's length of a 90 degree twist, where it lists the guide.

    Parameters
    ----------
    guide : RectangularGuide
    angle : float
        Of the twist [rad]; the handbook says nothing of any but a right angle.
    length : float
        Of the twist's axis [m].
    """
    required = TABLE_I_LENGTHS.get(guide.name, {}).get("twist")
    if required is None or abs(angle - math.pi / 2) > 1e-9:
        return []
    table = f"mean length at least the table's {required / INCH:g} in for a 90 degree twist of "
    reading = table + guide.name
    return [at_least("handbook table", reading, TABLE_I, "mean length", required, length)]
