"""Rules of thumb for choke joints: quarter waves, in every reading of the word."""

from __future__ import annotations

import math

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.grooves import Groove
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_openings import DRIVEN_ORDER, mode_factor, opening_distance
from solver.closed_forms.coaxial_grooves import groove_wavelength
from solver.closed_forms.radial_lines import radial_quarter_wave
from solver.closed_forms.source import Source
from solver.rules.readings import RuleReading
from solver.rules.sources import CHOKE_GLOSSARY, CHOKE_LINES, CHOKE_TEXT
from solver.studies.band import Band
from solver.waves.guide_modes import free_space_wavelength

#: A length counts as a quarter wave within this part of it; common practice, no source.
QUARTER_WAVE_TOLERANCE = 0.1


def choke_rules(joint: RotatingJoint | ChokeFlange, band: Band) -> tuple[RuleReading, ...]:
    """Return every reading of the two quarter-wave rules for a choke joint.

    Parameters
    ----------
    joint : RotatingJoint or ChokeFlange
    band : Band

    Returns
    -------
    tuple of RuleReading
        Empty without a groove. The depth is asked of every groove, the distance of the one next to
        the guide.

    Raises
    ------
    BelowCutoffError
        If the joint's mode does not travel at the low edge.
    """
    mode_factor(joint, band.start)
    grooves = joint.grooves
    if not grooves:
        return ()
    nearest = min(grooves, key=lambda groove: groove.inner_radius)
    readings = []
    for number, groove in enumerate(grooves, start=1):
        place = f", groove {number}" if len(grooves) > 1 else ""
        readings += _depth(joint, groove, band.centre, place)
    return (*readings, *_distance(joint, nearest, band.centre))


def _order(joint: RotatingJoint | ChokeFlange) -> int:
    """Azimuthal order that the joint's mode drives first."""
    return 1 if isinstance(joint, ChokeFlange) else DRIVEN_ORDER[joint.mode]


def _depth(
    joint: RotatingJoint | ChokeFlange, groove: Groove, centre: float, place: str
) -> list[RuleReading]:
    free = float(free_space_wavelength(centre))
    waves = [
        ("free-space wavelength", CHOKE_TEXT, free),
        ("guide wavelength", CHOKE_GLOSSARY, free / float(mode_factor(joint, centre))),
    ]
    if _order(joint):
        # Wider than the guide, the groove carries TE11 wherever the guide carries its mode.
        inner, outer = groove.inner_radius, groove.outer_radius
        along = float(groove_wavelength(_order(joint), inner, outer, centre))
        waves.append(("groove's wavelength, that of coaxial TE11,", CHOKE_LINES, along))
    return [
        _near(
            "groove a quarter wave deep",
            f"depth within 10 % of a quarter of the {wave} at band centre{place}",
            source,
            "groove depth",
            length / 4,
            groove.depth,
        )
        for wave, source, length in waves
    ]


def _distance(
    joint: RotatingJoint | ChokeFlange, groove: Groove, centre: float
) -> list[RuleReading]:
    wall = opening_distance(joint)
    name = "the broad wall" if isinstance(joint, ChokeFlange) else "the guide's wall"
    middle = (groove.inner_radius + groove.outer_radius) / 2 - wall
    edge = groove.inner_radius - wall
    free = float(free_space_wavelength(centre)) / 4
    guided = free / float(mode_factor(joint, centre))
    radial = radial_quarter_wave(_order(joint), 2 * math.pi / (4 * free), wall)
    whole, near = f"from {name} to the middle of the groove", f"from {name} to the groove's edge"
    readings = (
        (whole, "of the free-space wavelength", CHOKE_TEXT, free, middle),
        (near, "of the free-space wavelength", CHOKE_TEXT, free, edge),
        (whole, "of the guide wavelength", CHOKE_GLOSSARY, guided, middle),
        (near, f"wave of the radial line of order {_order(joint)}", CHOKE_LINES, radial, edge),
    )
    return [
        _near(
            f"groove a quarter wave from {name}",
            f"{measure} within 10 % of a quarter {of} at band centre",
            source,
            "distance of the groove",
            required,
            actual,
        )
        for measure, of, source, required, actual in readings
    ]


def _near(
    name: str, reading: str, source: Source, measure: str, required: float, actual: float
) -> RuleReading:
    miss = abs(required - actual)
    satisfied = miss <= QUARTER_WAVE_TOLERANCE * required * (1 + 1e-12)
    return RuleReading(name, reading, source, measure, required, actual, satisfied, miss)
