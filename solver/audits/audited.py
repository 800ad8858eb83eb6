"""What an audit of rules found: part by part, and of each reading over all parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solver.searches.exploration import Worst
from solver.studies.band import Band
from solver.studies.limits import amplitude_of

#: Standing-wave ratios against which rules are held.
LEVELS = (1.02, 1.05, 1.10)
HOLDS, FAILS, CANNOT_TELL, IMPOSSIBLE = "holds", "fails", "cannot tell", "cannot be made"


@dataclass(frozen=True)
class Reading:
    """One reading of a rule for one part.

    Parameters
    ----------
    name, reading : str
    size : float or None
        That it asks for [m]; None where it speaks of more than one size.
    worst : Worst or None
        Reflection over the band of the part made exactly so, or at an end of the rule's tolerance
        where that cannot be; None where there is no such part.
    loosest : Worst or None
        Of the worst part that the rule lets through with its tolerance, this one included.
    leakage : Worst or None
        Root of the leaked power of that part which leaks most; None where nothing leaks.
    """

    name: str
    reading: str
    size: float | None
    worst: Worst | None
    loosest: Worst | None
    leakage: Worst | None = None

    def outcome(self, vswr: float) -> str:
        """``"holds"``, ``"fails"``, ``"cannot tell"`` within its bar, or ``"cannot be made"``."""
        if self.worst is None:
            return IMPOSSIBLE
        allowed = amplitude_of("vswr", vswr)
        if self.worst.high <= allowed:
            return HOLDS
        return FAILS if self.worst.low > allowed else CANNOT_TELL


@dataclass(frozen=True)
class AuditedPart:
    """A part of which one size is left to the rules, and what they make of it.

    Parameters
    ----------
    kind : str
    group : str
        What its rules are counted apart by, as the plane of a bend; may be empty.
    about : str
        All else of the part, in words.
    band : Band
    readings : tuple of Reading
    smallest : dict of float to (float, float) or None
        By VSWR: size from which every larger one that was computed meets it, and how far below it
        the next one lies [m]. Empty where a rule asks for no length.
    per_size : float
        Length of the axis over the size [-].
    """

    kind: str
    group: str
    about: str
    band: Band
    readings: tuple[Reading, ...]
    smallest: dict[float, tuple[float, float] | None]
    per_size: float = 1.0

    def wasted(self, reading: Reading, vswr: float) -> float | None:
        """Axis length beyond what the limit needs; None where it is not met or not known [m]."""
        least = self.smallest.get(vswr)
        if least is None or reading.size is None or reading.outcome(vswr) != HOLDS:
            return None
        return max(0.0, (reading.size - least[0]) * self.per_size)


@dataclass(frozen=True)
class RuleRecord:
    """One reading over all parts.

    Parameters
    ----------
    kind, group, name, reading : str
    parts : int
    impossible : int
        Of them that cannot be made.
    holds, cannot_tell : dict of float to int
        Parts made as it says that meet each VSWR, and those whose bar leaves it open.
    worst_vswr : float or None
        That it lets through; None where no part can be made.
    worst_leakage : float or None
        Root of the leaked power that it lets through [-].
    wasted : dict of float to (float, float) or None
        Mean and largest axis length beyond what each VSWR needs, of parts that meet it [m].
    """

    kind: str
    group: str
    name: str
    reading: str
    parts: int
    impossible: int
    holds: dict[float, int]
    cannot_tell: dict[float, int]
    worst_vswr: float | None
    worst_leakage: float | None
    wasted: dict[float, tuple[float, float] | None]


def records_of(parts: Sequence[AuditedPart]) -> tuple[RuleRecord, ...]:
    """Return each reading over all parts of a kind and group, in the order of the rules."""
    gathered: dict[tuple[str, str, str, str], list[tuple[AuditedPart, Reading]]] = {}
    for part in parts:
        for reading in part.readings:
            key = (part.kind, part.group, reading.name, reading.reading)
            gathered.setdefault(key, []).append((part, reading))
    return tuple(_record(key, pairs) for key, pairs in gathered.items())


def _record(
    key: tuple[str, str, str, str], pairs: Sequence[tuple[AuditedPart, Reading]]
) -> RuleRecord:
    readings = [reading for _, reading in pairs]
    reflected = [r.loosest.value for r in readings if r.loosest is not None]
    leaked = [r.leakage.value for r in readings if r.leakage is not None]
    wasted: dict[float, tuple[float, float] | None] = {}
    for level in LEVELS:
        extra = [w for part, r in pairs if (w := part.wasted(r, level)) is not None]
        wasted[level] = (float(np.mean(extra)), max(extra)) if extra else None
    return RuleRecord(
        *key,
        parts=len(pairs),
        impossible=sum(reading.worst is None for reading in readings),
        holds={v: sum(r.outcome(v) == HOLDS for r in readings) for v in LEVELS},
        cannot_tell={v: sum(r.outcome(v) == CANNOT_TELL for r in readings) for v in LEVELS},
        worst_vswr=_vswr(max(reflected)) if reflected else None,
        worst_leakage=max(leaked) if leaked else None,
        wasted=wasted,
    )


def _vswr(reflected: float) -> float:
    return (1 + reflected) / (1 - min(reflected, 1 - 1e-12))
