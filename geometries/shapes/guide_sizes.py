"""A guide from one word: a standard name, or its inside dimensions."""

from __future__ import annotations

import re

from geometries.errors import UnknownGuideError
from geometries.shapes.guides import (
    MILLIMETRES_PER_INCH,
    CircularGuide,
    RectangularGuide,
    standard_guide,
)

_NUMBER = r"\d*\.?\d+|\d+\."
_UNIT = r"(mm|in|\")?"
_SIZE = re.compile(rf"({_NUMBER}) *{_UNIT}(?: *[x×X*] *({_NUMBER}) *{_UNIT})?", re.IGNORECASE)
_COMMA = re.compile(r"\d,\d")


def guide_of(text: str) -> RectangularGuide | CircularGuide:
    """Return the guide that a word names or measures.

    Parameters
    ----------
    text : str
        A standard name; ``"22.86x10.16"``, or ``"27.0"`` for a circle, in mm; or either with
        ``in`` behind it, in inches. A unit behind one of two sides is that of both.

    Returns
    -------
    RectangularGuide or CircularGuide

    Raises
    ------
    UnknownGuideError, InvalidDimensionError

    Examples
    --------
    >>> guide_of("WG16").label, guide_of("22.86x10.16").label, guide_of("0.9x0.4in").label
    ('WR-90', '22.86 x 10.16 mm', '22.86 x 10.16 mm')
    """
    if _COMMA.search(text):
        raise UnknownGuideError(
            f"{text!r}: write a decimal point, as {_COMMA.sub(_with_a_point, text)}"
        )
    size = _SIZE.fullmatch(text.strip())
    if size is None:
        return standard_guide(text)
    metric = {unit.lower() == "mm" for unit in (size[2], size[4]) if unit}
    if len(metric) > 1:
        raise UnknownGuideError(f"{text!r}: write both sides in mm, or both in inches")
    scale = MILLIMETRES_PER_INCH if metric == {False} else 1.0
    width, *height = (float(f"{float(n) * scale:.12g}") / 1000 for n in (size[1], size[3]) if n)
    if height and height[0] > width:
        raise UnknownGuideError(f"{text!r}: the broad side comes first: exchange the two")
    return RectangularGuide(width, height[0]) if height else CircularGuide(width)


def inches_hint(guide: RectangularGuide | CircularGuide, cutoff: float, frequency: float) -> str:
    """Say that a size was read in mm where only the same number of inches fits a frequency.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    cutoff : float
        First cutoff of the guide [Hz].
    frequency : float
        What is to pass it [Hz].

    Returns
    -------
    str
        Empty where inches would not do either.
    """
    if guide.name or not cutoff / MILLIMETRES_PER_INCH < frequency <= cutoff:
        return ""
    return f" ({guide.label} was read as millimetres; for inches write in behind the size, or _in)"


def _with_a_point(comma: re.Match[str]) -> str:
    return comma[0].replace(",", ".")
