"""What a search over profiles found: each profile, and the proof of the best."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from solver.studies.band import Band
from solver.studies.limits import Limit


@dataclass(frozen=True)
class Shape:
    """One profile, and the least size from which every larger part of it meets the limit.

    Parameters
    ----------
    profile : str
    onset : float
        0 where the profile has none [-].
    size : float or None
        Mean radius of a bend, length of the others [m]; None where it was not followed up.
    length : float or None
        Length of the axis at that size [m].
    uncertainty : float or None
        Bound on the error of `length` [m].
    note : str
        Why it was not followed up.
    """

    profile: str
    onset: float
    size: float | None = None
    length: float | None = None
    uncertainty: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Proof:
    """A fresh solution of a found part, more accurate than the search.

    Parameters
    ----------
    part : Any
        It is longer than the least size by that size's uncertainty.
    worst, bar : float
        Its worst |S11| over the band, and the bound on its error [-].
    s_error : float
        What was asked of it [-].
    holds : bool
        Whether the upper end of the bar meets the limit.
    """

    part: Any
    worst: float
    bar: float
    s_error: float
    holds: bool


@dataclass(frozen=True, eq=False)
class ShortestResult:
    """What a search over profiles found.

    Parameters
    ----------
    part : Any
        One of the parts, of any size and profile.
    band : Band
    limit : Limit
    plain : Shape
        The plain profile.
    best : Shape or None
        The profile of the shortest part; None where no size of any meets the limit.
    plain_proof, best_proof : Proof or None
        The same object where the plain profile is the best.
    tried : tuple of Shape
        Every profile, in the order of the search.
    parts : int
        Parts that were looked at, those kept from before included.
    """

    part: Any
    band: Band
    limit: Limit
    plain: Shape
    best: Shape | None
    plain_proof: Proof | None
    best_proof: Proof | None
    tried: tuple[Shape, ...]
    parts: int

    @property
    def gain(self) -> float | None:
        """Length of the plain part less that of the best one, both as they were verified [m]."""
        if self.plain_proof is None or self.best_proof is None:
            return None
        return float(self.plain_proof.part.axis_length - self.best_proof.part.axis_length)

    @property
    def exit_code(self) -> int:
        """0 found and verified; 3 not."""
        return 0 if self.best_proof is not None and self.best_proof.holds else 3
