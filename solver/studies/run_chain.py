"""Parts at their places in a run, and whether each fits the one before."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar

from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.straights import Straight
from geometries.user_files.user_meshes import MeshPart
from solver.errors import StudyError
from solver.studies.guide_keys import Guide

#: Sizes of two guides that differ by less than this are one guide, relative.
_SAME_SIZE = 1e-3


@dataclass(frozen=True)
class MeasuredPart:
    """A part of which a Touchstone file is known, and nothing else.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
        At both of its ports.
    file : Path
    """

    kind: ClassVar[str] = "measured"

    guide: Guide
    file: Path

    @property
    def guides(self) -> tuple[Guide, Guide]:
        """Guide at each port."""
        return self.guide, self.guide


@dataclass(frozen=True)
class RunPart:
    """A part at its place in a run.

    Parameters
    ----------
    component : Part or MeasuredPart
    name : str
        By default its kind and its number, which `named` gives.
    turn : float
        By which it is turned about the axis, as it comes, relative to the part before [rad].
    backwards : bool
        Whether the wave enters its port 2.
    """

    component: Any
    name: str = ""
    turn: float = 0.0
    backwards: bool = False

    @property
    def guides(self) -> tuple[Guide, ...]:
        """Guide at each port, in the direction of the run."""
        guides = tuple(self.component.guides)
        return guides[::-1] if self.backwards else guides


def named(parts: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
    """Give every part without a name its kind and number, and no two parts one name."""
    taken: set[str] = set()
    found = []
    for number, part in enumerate(parts, start=1):
        name = part.name or f"{number} {part.component.kind}"
        if name in taken:
            name = f"{name} ({number})"
        taken.add(name)
        found.append(replace(part, name=name))
    return tuple(found)


def check_run(parts: tuple[RunPart, ...], guide: Guide) -> None:
    """Refuse parts that do not fit together.

    Parameters
    ----------
    parts : tuple of RunPart
        With their names.
    guide : RectangularGuide or CircularGuide
        At the transmitter.

    Raises
    ------
    StudyError
        With one line that names both parts.
    """
    before, mode = "the transmitter", ""
    for number, part in enumerate(parts):
        who = f"part[{number}] ({part.name})"
        if not _same(part.guides[0], guide):
            raise StudyError(
                f"{who} has the guide {_size(part.guides[0])}, but {before} ends in "
                f"{_size(guide)}; put a taper or a transition between them"
            )
        if isinstance(guide, RectangularGuide) and not _half_turns(part.turn):
            raise StudyError(
                f"{who}: turn_deg = {math.degrees(part.turn):g}: a rectangular guide fits the one "
                "before it only turned by 0 or 180 degrees; put a twist between them, or an "
                "offset that turns"
            )
        mode = _carried(part, mode, who, before)
        if len(part.guides) == 1 and number < len(parts) - 1:
            raise StudyError(
                f"{who}: a {part.component.kind} has one port, so that nothing can follow it; "
                "make it the last part"
            )
        before, guide = f"part[{number}] ({part.name})", part.guides[-1]


def _carried(part: RunPart, mode: str, who: str, before: str) -> str:
    """Mode that carries the power after a part; refuse one that takes another."""
    first = part.guides[0]
    if isinstance(first, RectangularGuide):
        return "TE11" if isinstance(part.guides[-1], CircularGuide) else ""
    if isinstance(part.component, Straight | MeasuredPart | MeshPart):
        return mode
    wanted = "TE11" if part.backwards else part.component.entering_mode
    if mode and wanted != mode:
        raise StudyError(
            f"{who} takes {wanted}, but {before} brings {mode}; choose parts of one mode"
        )
    return "" if isinstance(part.guides[-1], RectangularGuide) else wanted


def _half_turns(turn: float) -> bool:
    return abs(math.remainder(turn, math.pi)) < 1e-9


def _same(one: Guide, other: Guide) -> bool:
    sides = _sides(one), _sides(other)
    return len(sides[0]) == len(sides[1]) and all(
        abs(x - y) <= _SAME_SIZE * max(x, y) for x, y in zip(*sides, strict=True)
    )


def _sides(guide: Guide) -> tuple[float, ...]:
    if isinstance(guide, CircularGuide):
        return (guide.diameter,)
    return guide.broad_width, guide.narrow_height


def _size(guide: Guide) -> str:
    sides = " x ".join(f"{side * 1e3:.6g}" for side in _sides(guide))
    return f"{guide.label} ({sides} mm)" if guide.name else f"{guide.label}"
