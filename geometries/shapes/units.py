"""What each dimension of a part is measured in, declared where the dimension is.

A field of a part says so in its metadata: ``length: float = field(metadata=LENGTH)``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import Field
from typing import Any, Final

from geometries.errors import UndeclaredUnitError
from geometries.shapes.part import kind_of

Declared = Mapping[str, str]

_MEASURE, _UNSAID = "measure", "unsaid"

#: A length [m].
LENGTH: Final[Declared] = {_MEASURE: "length"}
#: An angle [rad].
ANGLE: Final[Declared] = {_MEASURE: "angle"}
#: A number without a unit [-].
RATIO: Final[Declared] = {_MEASURE: "ratio"}
#: A name, or a number that picks one of several things.
NAME: Final[Declared] = {_MEASURE: "name"}
#: A waveguide, which has dimensions of its own.
GUIDE: Final[Declared] = {_MEASURE: "guide"}

_KNOWN = (LENGTH, ANGLE, RATIO, NAME, GUIDE)


def unsaid(measure: Declared) -> Declared:
    """Return the declaration of a dimension that is left unsaid while it has its default."""
    return {**measure, _UNSAID: "at its default"}


def goes_unsaid(owner: object, item: Field[Any]) -> bool:
    """Whether a field of a part is one of `unsaid` and has its default."""
    return _UNSAID in item.metadata and getattr(owner, item.name) == item.default


def measure_of(owner: object, item: Field[Any]) -> Declared:
    """Return what a field of a part is measured in.

    Parameters
    ----------
    owner : object
        The part, for the message.
    item : dataclasses.Field

    Returns
    -------
    mapping
        `LENGTH`, `ANGLE`, `RATIO`, `NAME` or `GUIDE`.

    Raises
    ------
    UndeclaredUnitError
        If the field does not say so.
    """
    for known in _KNOWN:
        if item.metadata.get(_MEASURE) == known[_MEASURE]:
            return known
    raise UndeclaredUnitError(
        f"the field {item.name} of a {kind_of(owner)} does not say what it is measured in: "
        "declare it by field(metadata=LENGTH) or another of geometries.shapes.units"
    )
