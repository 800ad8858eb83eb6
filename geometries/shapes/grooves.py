"""Choke grooves: what a rotating joint and a choke flange have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import positive_length

#: Gap beyond the last edge over the gap's height.
_BEYOND = 1.5


@dataclass(frozen=True)
class Groove:
    """A circular groove, open to the gap, in one of the two flanges.

    Parameters
    ----------
    inner_radius, outer_radius, depth : float
        [m].
    flange : {1, 2}
        Flange of port 1 or of port 2.
    """

    inner_radius: float
    outer_radius: float
    depth: float
    flange: int


def checked_grooves(part: Any, opening: float) -> tuple[Groove, ...]:
    """Return the grooves of a joint; a depth of 0 is no groove.

    Parameters
    ----------
    part : RotatingJoint or ChokeFlange
    opening : float
        Radius of the circle about the guide's opening [m]; grooves and rim lie outside it.

    Raises
    ------
    InvalidDimensionError
        If a radius is out of order, or two grooves of one flange meet.
    """
    for quantity in ("gap", "rim_radius"):
        object.__setattr__(part, quantity, positive_length(quantity, getattr(part, quantity)))
    if not part.rim_radius > opening:
        raise InvalidDimensionError(
            "rim_radius",
            part.rim_radius,
            f"above {opening * 1e3:.6g} mm, where the guide's opening ends",
            "give the flange a larger radius",
        )
    grooves = []
    for prefix, flange in (("", 2), ("second_", part.second_groove_flange)):
        depth = getattr(part, f"{prefix}groove_depth")
        if not depth:
            continue
        inner, outer, depth = (
            positive_length(f"{prefix}groove_{name}", getattr(part, f"{prefix}groove_{name}"))
            for name in ("inner_radius", "outer_radius", "depth")
        )
        _refuse_disorder(prefix, inner, outer, opening, part.rim_radius)
        grooves.append(Groove(inner, outer, depth, flange))
    if len(grooves) == 2 and grooves[0].flange == grooves[1].flange:
        nearer, farther = sorted(grooves, key=lambda groove: groove.inner_radius)
        if not nearer.outer_radius < farther.inner_radius:
            raise InvalidDimensionError(
                "second_groove_inner_radius",
                grooves[1].inner_radius,
                "clear of the other groove in the same flange",
                "leave metal between the grooves",
            )
    return tuple(grooves)


def last_edge(part: Any) -> float:
    """Return the radius of the outermost edge in the gap of a joint [m]."""
    return max([part.opening_radius, *(groove.outer_radius for groove in part.grooves)])


def gap_end(part: Any) -> float:
    """Return the radius to which the gap of a joint has to be meshed [m].

    The rim, or farther out, where waves that decay in the gap have done so; the matched line
    beyond is the same there.
    """
    if part.rim == "closed":
        return float(part.rim_radius)
    return max(part.rim_radius, last_edge(part) + _BEYOND * part.gap)


def _refuse_disorder(prefix: str, inner: float, outer: float, opening: float, rim: float) -> None:
    if not inner > opening:
        raise InvalidDimensionError(
            f"{prefix}groove_inner_radius",
            inner,
            f"above {opening * 1e3:.6g} mm, where the guide's opening ends",
        )
    if not inner < outer <= rim:
        raise InvalidDimensionError(
            f"{prefix}groove_outer_radius",
            outer,
            f"above the groove's inner radius, {inner * 1e3:.6g} mm, "
            f"and at most the rim radius, {rim * 1e3:.6g} mm",
        )
