"""Where a formula or rule comes from, and where it holds, as data attached to its function."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

Mark = Literal["published", "derived", "common practice", "from memory"]


@dataclass(frozen=True)
class Source:
    """Origin of a formula, value or rule.

    Parameters
    ----------
    citation : str
        Author, title, year and place; or, for a derivation, where it is written down.
    mark : str
        ``"published"``: read in the cited text; ``"derived"``: derived here, the citation names
        the physics; ``"common practice"``: no source; ``"from memory"``: the cited text was not
        at hand.
    """

    citation: str
    mark: Mark

    def __str__(self) -> str:
        """Citation, then the mark unless it is plainly published."""
        return self.citation if self.mark == "published" else f"{self.citation} [{self.mark}]"


@dataclass(frozen=True)
class Validity:
    """Range in which a formula claims an accuracy.

    Parameters
    ----------
    text : str
        Range and accuracy, in words.
    holds : callable
        Takes the formula's own arguments, returns whether they all are in the range.
    """

    text: str
    holds: Callable[..., bool]


Formula = TypeVar("Formula", bound=Callable[..., Any])


def sourced(source: Source, validity: Validity) -> Callable[[Formula], Formula]:
    """Attach a source and a validity range to a formula (decorator)."""

    def attach(formula: Formula) -> Formula:
        formula.__dict__.update(source=source, validity=validity)
        return formula

    return attach


def source_of(formula: Callable[..., Any]) -> Source:
    """Return the source attached to a formula; KeyError if there is none."""
    source: Source = formula.__dict__["source"]
    return source


def validity_of(formula: Callable[..., Any]) -> Validity:
    """Return the validity range attached to a formula; KeyError if there is none."""
    validity: Validity = formula.__dict__["validity"]
    return validity
