"""What to do next about a verdict, with the line to run for this very part."""

from __future__ import annotations

import math
import shlex
from dataclasses import dataclass
from functools import singledispatch
from typing import TYPE_CHECKING, Any

from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.loads import Load
from geometries.shapes.profiles import PLAIN_PROFILES
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.judgement.quantities import EXCEEDS, MEETS, UNDECIDED
from solver.studies.inches import length_number, length_unit

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment
    from solver.studies.band import Band
    from solver.studies.limits import Limit

#: A study that has no name on disk.
_STUDY = "STUDY.toml"


@dataclass(frozen=True)
class NextStep:
    """One thing to do.

    Parameters
    ----------
    text : str
        A sentence without its full stop.
    command : str
        The line that does it; empty where it is no command.
    """

    text: str
    command: str = ""


def next_steps(assessment: Assessment, study: str = "") -> list[NextStep]:
    """Return what to change or to try next.

    Parameters
    ----------
    assessment : Assessment
    study : str
        Name of the study file, for lines that take one.
    """
    verdict, limit = assessment.verdict, assessment.limit
    if verdict.outcome == UNDECIDED and not assessment.provenance.accuracy_reached:
        finest = "the finest accuracy was not reached: a larger part of the band, or a simpler part"
        return [NextStep(f"Change the part: {finest}, may decide it")]
    if verdict.outcome == UNDECIDED:
        wanted = f"{assessment.wanted_error / 10:.1g}"
        return [NextStep(f"Ask for a smaller s_error in the study, for example s_error = {wanted}")]
    if limit is None or verdict.outcome not in (EXCEEDS, MEETS):
        return []
    reflects = any(q != "leakage_db" for q in limit.values)
    if verdict.outcome == MEETS:
        line = _gradual_line(assessment.component, assessment.band, limit) if reflects else ""
        size = "radius" if isinstance(assessment.component, Bend) else "length"
        return [NextStep(f"The least {size} that meets the limit", line)] if line else []
    return _what_to_change(assessment.component, assessment, study or _STUDY)


@singledispatch
def _what_to_change(component: Any, assessment: Assessment, study: str) -> list[NextStep]:
    """Steps for a part that exceeds its limit; kinds without a search of their own get none."""
    return []


@_what_to_change.register(Bend)
@_what_to_change.register(Twist)
@_what_to_change.register(Taper)
def _(component: Bend | Twist | Taper, assessment: Assessment, study: str) -> list[NextStep]:
    assert assessment.limit is not None
    line = _gradual_line(component, assessment.band, assessment.limit)
    if not line and not isinstance(component, Bend):
        ends = f"{_length('length', component.length, 3 * component.length)}:9"
        line = f"guideproof explore {shlex.quote(study)} --vary {ends}"
        return [NextStep("Try longer ones", line)]
    if not line and component.profile != "constant":
        line = f"guideproof gradual {shlex.quote(study)}"
    if not line:
        return []
    size = "mean radius" if isinstance(component, Bend) else "length"
    return [NextStep(f"Find the {size} from which every larger one meets the limit", line)]


@_what_to_change.register(Load)
def _(component: Load, assessment: Assessment, study: str) -> list[NextStep]:
    text = "Find the length of the taper from which every longer one meets the limit"
    return [NextStep(text, f"guideproof gradual {shlex.quote(study)}")]


@_what_to_change.register(Corner)
def _(component: Corner, assessment: Assessment, study: str) -> list[NextStep]:
    varied = _length("cut", 0.0, 0.9 * component.largest_cut)
    return [_seek("cut", varied, "reflection", study)]


@_what_to_change.register(ChokeFlange)
@_what_to_change.register(RotatingJoint)
def _(component: ChokeFlange | RotatingJoint, assessment: Assessment, study: str) -> list[NextStep]:
    least = "leakage" if assessment.verdict.quantity == "leakage_db" else "reflection"
    if not component.grooves:
        return [NextStep("Give the joint a choke groove a quarter wavelength deep")]
    depth = component.grooves[0].depth
    varied = _length("groove_depth", 0.7 * depth, 1.3 * depth)
    return [_seek("groove depth", varied, least, study)]


def _length(field: str, low: float, high: float) -> str:
    """A range of a length [m] as --vary takes it, in the user's unit."""
    ends = f"{length_number(low, 3)}:{length_number(high, 3)}"
    return f"component.{field}_{length_unit()}={ends}"


def _seek(name: str, varied: str, least: str, study: str) -> NextStep:
    line = f"guideproof seek {shlex.quote(study)} --vary {varied} --least {least}"
    return NextStep(f"Find the {name} with the least {least}", line)


def _gradual_line(component: Any, band: Band, limit: Limit) -> str:
    """The line that searches for the most compact part; empty for kinds without that search."""
    usual = getattr(component, "profile", "linear") in PLAIN_PROFILES
    if not isinstance(component, Bend | Twist | Taper) or not usual:
        return ""
    wanted = [
        f"--{name.replace('_', '-')} {value:g}"
        for name, value in limit.values.items()
        if name != "leakage_db"
    ]
    if not wanted or band.start == band.stop:
        return ""
    if isinstance(component, Bend):
        own = f"--plane {component.plane} --angle-deg {math.degrees(component.angle):.10g}"
    elif isinstance(component, Twist):
        own = f"--kind twist --angle-deg {math.degrees(component.angle):.10g}"
    else:
        own = f"--kind taper --to-guide {guide_option(component.to_guide)}"
    ends = f"--from-ghz {band.start / 1e9:.10g} --to-ghz {band.stop / 1e9:.10g}"
    guide = guide_option(component.guide)
    return f"guideproof gradual --guide {guide} {own} {ends} {' '.join(wanted)}"


def guide_option(guide: RectangularGuide | CircularGuide) -> str:
    """Return a guide as an option of the command line takes it."""
    if guide.name:
        return shlex.quote(guide.name)
    unit = "" if length_unit() == "mm" else length_unit()
    if isinstance(guide, CircularGuide):
        return length_number(guide.diameter, 10) + unit
    sides = guide.broad_width, guide.narrow_height
    return "x".join(length_number(side, 10) for side in sides) + unit
