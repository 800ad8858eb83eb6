"""The kinds of parts whose rules can be audited, and the parts that an audit takes of each."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from solver.audits.gradual_cases import (
    flexible_cases,
    load_cases,
    taper_cases,
    transition_cases,
)
from solver.audits.joint_cases import choke_flange_cases, rotating_joint_cases
from solver.audits.rule_audit import Case
from solver.audits.turning_cases import bend_cases, corner_cases, twist_cases
from solver.errors import StudyError

#: By kind: gives the cases of some guides, and of some angles in degrees; all that are taken by
#: default where none are given.
KINDS: dict[str, Callable[[Sequence[str], Sequence[float]], list[Case]]] = {
    "bend": bend_cases,
    "corner": corner_cases,
    "twist": twist_cases,
    "taper": taper_cases,
    "transition": transition_cases,
    "load": load_cases,
    "flexible": flexible_cases,
    "choke-flange": choke_flange_cases,
    "rotating-joint": rotating_joint_cases,
}
_TURNING = ("bend", "corner", "twist")
_ROUND = ("rotating-joint",)


def cases_of(
    kinds: Sequence[str], sizes: Sequence[str] = (), angles: Sequence[float] = ()
) -> list[Case]:
    """Return what an audit computes.

    Parameters
    ----------
    kinds : sequence of str
    sizes : sequence of str
        Standard guides in place of those that are taken by default.
    angles : sequence of float
        Of bends, corners and twists, in place of those that are taken by default [degrees].

    Raises
    ------
    StudyError
        When a kind takes no guide, or no angle, of its own.
    UnknownGuideError
    """
    for kind in kinds:
        if sizes and kind in _ROUND:
            raise StudyError(f"{kind}: is audited in a round guide of 27 mm; leave out the guide")
        if angles and kind not in _TURNING:
            raise StudyError(f"{kind}: turns by no angle; leave out the angle")
    return [case for kind in kinds for case in KINDS[kind](sizes, angles)]
