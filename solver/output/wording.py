"""Parts, bands and answers in words, for the terminal and for reports alike."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from geometries.shapes.profiles import PLAIN_PROFILES
from solver.studies.inches import guide_text, length_text
from solver.studies.plain_values import Dimension, dimensions_of
from solver.waves.guide_power import CATALOGUE_SHARE

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment
    from solver.judgement.verdict import Verdict
    from solver.parts.peak_field import PeakField
    from solver.searches.gradual import GradualResult
    from solver.studies.band import Band
    from solver.waves.scattering import ScatteringMatrix

#: Parts of a band that are listed, and a standing-wave ratio so far off that it says nothing.
_MOST_HELD, _FAR = 4, 1e3
#: A margin above this is that of a closed part to a leakage limit [dB].
_NOTHING_LEAKS = 200.0

HEADLINES = {
    "meets": "Meets the limit",
    "exceeds": "Exceeds the limit",
    "undecided": "Undecided",
    "no limit": "No limit was set",
}


def in_mm(length: float) -> str:
    """Return a length [m] as text, in mm unless the user writes inches."""
    return length_text(length)


def headline(verdict: Verdict) -> str:
    """Return the outcome in a few words."""
    return HEADLINES[verdict.outcome]


def band_text(band: Band) -> str:
    """Return a band as text, ``"8.2 to 12.4 GHz, 201 points"``."""
    if band.points == 1:
        return f"{band.start / 1e9:.6g} GHz"
    return f"{band.start / 1e9:.6g} to {band.stop / 1e9:.6g} GHz, {band.points} points"


def part_text(component: Any) -> str:
    """Return a part in words, ``"bend in WR-90: plane E, angle 37 deg, mean radius 45 mm"``."""
    sizes = ", ".join(f"{name} {text}" for name, text in shown_dimensions(component))
    return f"{component.kind} in {guide_text(component.guide)}: {sizes}"


def shown_dimensions(component: Any) -> list[tuple[str, str]]:
    """Return name and value of each dimension that the part really has, in words."""
    absent = tuple(
        prefix
        for prefix, there in (
            ("groove_", getattr(component, "groove_depth", 1.0)),
            ("second_groove_", getattr(component, "second_groove_depth", 1.0)),
            ("gasket_", getattr(component, "gasket_permittivity", 2.0) > 1.0),
            ("plane", getattr(component, "plane", "E")),
            ("angle", getattr(component, "plane", "E")),
        )
        if not there
    )
    return [
        (dimension.words, _in_words(component, dimension))
        for dimension in dimensions_of(component)
        if not dimension.name.startswith(absent) and getattr(component, dimension.name) is not None
    ]


def _in_words(component: Any, dimension: Dimension) -> str:
    value = getattr(component, dimension.name)
    if isinstance(dimension.value, dict):
        return guide_text(value, sized=True)
    if isinstance(value, tuple):
        return ", ".join(str(item) for item in value) or "the rest"
    return dimension.text


def peak_text(peak: PeakField) -> str:
    """Return the largest electric field and the power at which it reaches breakdown, in words."""
    edges = (
        "; sharp edges: the value depends on their radius" if peak.depends_on_edge_radius else ""
    )
    return (
        f"{peak.ratio:.3g} times that of the straight guide, at {peak.frequency / 1e9:.6g} GHz"
        f"{edges}; field limit, {peak.breakdown_field / 1e5:.3g} kV/cm as in dry air at sea level: "
        f"{_power_text(peak.field_limit)} at {peak.field_limit_frequency / 1e9:.6g} GHz; "
        f"the quarter that catalogues use: {_power_text(CATALOGUE_SHARE * peak.field_limit)}"
    )


def _power_text(watts: float) -> str:
    for unit, size in (("MW", 1e6), ("kW", 1e3)):
        if watts >= size:
            return f"{watts / size:.3g} {unit}"
    return f"{watts:.3g} W"


def margin_text(verdict: Verdict, band: Band) -> str:
    """Return the room to the limit and the part of the band in which it holds, in words.

    Empty where no limit was set.
    """
    room = room_text(verdict)
    if not room:
        return ""
    return f"Margin, bar included: {room}; the limit holds {held_band_text(verdict, band)}"


def room_text(verdict: Verdict) -> str:
    """Return the room to the limit with the bar counted, in words; empty without a limit."""
    if verdict.margin is None or verdict.margin_db is None:
        return ""
    own = f"{verdict.margin:+.4g} in VSWR, " if verdict.quantity == "vswr" else ""
    if verdict.margin < -_FAR:
        own = ""
    if verdict.margin_db > _NOTHING_LEAKS:
        return "unlimited, for nothing leaks"
    short = f"{verdict.margin_db:+.2f}"
    digits = short if float(short) else f"{verdict.margin_db:+.1e}"
    return f"{own}{digits} dB"


def held_band_text(verdict: Verdict, band: Band) -> str:
    """Return where in the band the limit holds, in words that follow "the limit holds"."""
    if verdict.holds == ((band.start, band.stop),):
        return "over the whole band"
    if not verdict.holds:
        return "nowhere in the band"

    def at(edge: float) -> str:
        # an edge inside the band is not to read as the band's end
        short, ends = f"{edge / 1e9:.6g}", (band.start, band.stop)
        hidden = any(edge != end and short == f"{end / 1e9:.6g}" for end in ends)
        return f"{edge / 1e9:.10g}" if hidden else short

    held = ", ".join(
        f"from {at(low)} to {at(high)} GHz" if high > low else f"at {at(low)} GHz"
        for low, high in verdict.holds[:_MOST_HELD]
    )
    more = f" and {len(verdict.holds) - _MOST_HELD} more" if len(verdict.holds) > _MOST_HELD else ""
    return held + more


def loss_text(scattering: ScatteringMatrix, absorber: bool = False) -> str:
    """Return the worst insertion loss and the most heat, in the walls or an absorber, in words."""
    heat = float(scattering.dissipated_power.max())
    parts = []
    if scattering.transmitted is not None:
        walls = "" if heat > 0.0 else " with lossless walls"
        most = decibels_text(float(scattering.insertion_loss_db.max()))
        parts.append(f"insertion loss {most}{walls}")
    if heat > 0.0:
        place = "the absorber" if absorber else "the walls"
        parts.append(f"at most {100 * heat:.3g} % of the power turns to heat in {place}")
    return "; ".join(parts)


def decibels_text(loss: float) -> str:
    """Return the largest loss [dB] in words; what nobody can measure is no number.

    Examples
    --------
    >>> decibels_text(0.0123), decibels_text(3e-6)
    ('at most 0.0123 dB', 'under 0.001 dB')
    """
    return "under 0.001 dB" if loss < 1e-3 else f"at most {loss:.3g} dB"


def assessment_lines(assessment: Assessment) -> list[str]:
    """Return an assessment in a few lines: part, band, verdict, margin, error."""
    verdict, error = assessment.verdict, float(assessment.scattering.error.max())
    lines = [
        assessment.title,
        part_text(assessment.component),
        band_text(assessment.band),
        f"{headline(verdict)}: {verdict.text}",
        margin_text(verdict, assessment.band),
        f"error of every S-parameter at most {error:.2g}",
    ]
    return [line for line in lines if line]


def size_name(kind: str) -> str:
    """Return what a search varies: a bend's mean radius, a load's taper, or else the length."""
    return {"bend": "mean radius", "load": "taper length"}.get(kind, "length")


def gradual_text(result: GradualResult) -> str:
    """Return what a search was for, in words."""
    turn = f"{math.degrees(result.angle):.6g} deg {result.kind}" if result.angle else result.kind
    plane = f" in the {result.plane}-plane" if result.kind in ("bend", "load") else ""
    profile = profile_text(result.part)
    return f"{turn}{plane}{profile}, {guide_text(result.guide)}; wanted: {result.limit.text}"


def profile_text(part: Any) -> str:
    """Return the profile of a bend, twist or taper in words, with a comma before; or nothing."""
    profile, onset = getattr(part, "profile", "constant"), getattr(part, "onset", 0.0)
    return "" if profile in PLAIN_PROFILES else f", {profile_words(profile, onset)}"


def profile_words(profile: str, onset: float) -> str:
    """Return a profile in words, with its onset if it has one."""
    return f"{profile} profile" + (f" with onset {onset:.4g}" if onset else "")


def smallest_text(result: GradualResult) -> str:
    """Return what a search found, in words."""
    size = size_name(result.kind)
    if result.smallest is None:
        return f"No {size} was found from which every larger one meets the limit"
    if not result.uncertainty:
        return f"Every {size} from {length_text(result.smallest, 5)} up meets the limit"
    sure = result.smallest + result.uncertainty
    enough, bar = length_text(math.ceil(sure * 1e6) / 1e6, 6), length_text(result.uncertainty, 2)
    return (
        f"Every {size} from {enough} up meets the limit; it is passed at "
        f"{length_text(result.smallest, 5)} (within {bar})"
    )
