"""The table of tolerances of a study: how far each dimension may be off."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from geometries.errors import InvalidDimensionError
from solver.studies.inches import millimetres, twin_in_mm
from solver.studies.messages import one_line, unknown_key
from solver.studies.plain_values import dimensions_of
from solver.studies.tables import RefusedKeyError

#: From the unit of a key to SI; a number without a unit stays as it is.
_SCALES = {"mm": 1e-3, "deg": math.pi / 180, "": 1.0}


@dataclass(frozen=True)
class Tolerance:
    """How far one dimension of a part may be off, either way.

    Parameters
    ----------
    name : str
        Field of the part.
    unit : {"mm", "deg", ""}
        Of the study file.
    amount : float
        [m], [rad] or a plain number.
    """

    name: str
    unit: str
    amount: float

    @property
    def key(self) -> str:
        """Key of a study file."""
        return f"{self.name}_{self.unit}" if self.unit else self.name

    @property
    def scale(self) -> float:
        """One unit of the study file in SI."""
        return _SCALES[self.unit]

    def moved(self, part: Any, by: float) -> Any:
        """Return the part with this dimension changed [m, rad or a plain number].

        Raises
        ------
        InvalidDimensionError
            If no part has that dimension.
        """
        return dataclasses.replace(part, **{self.name: getattr(part, self.name) + by})


def tolerances_of(part: Any, table: Mapping[str, float]) -> tuple[Tolerance, ...]:
    """Check the table of tolerances against a part.

    Parameters
    ----------
    part : Part
    table : mapping of str to float
        Keys of the component to the amount either way, in the unit of the key.

    Raises
    ------
    RefusedKeyError
        If the part has no such dimension, or cannot be that far off.
    """
    known = {d.key: d for d in dimensions_of(part) if isinstance(d.value, float)}
    found = []
    for key, amount in table.items():
        twin = twin_in_mm(key)
        if twin not in known:
            path = f"tolerance.{key}"
            raise RefusedKeyError(path, amount, unknown_key(key, list(known)))
        size = millimetres(amount) if twin != key else amount
        dimension = known[twin]
        tolerance = Tolerance(dimension.name, dimension.unit, size * _SCALES[dimension.unit])
        for by in (tolerance.amount, -tolerance.amount):
            try:
                tolerance.moved(part, by)
            except InvalidDimensionError as error:
                raise RefusedKeyError(
                    f"tolerance.{key}",
                    amount,
                    one_line(f"a part so far off cannot be made: {error}; reduce it"),
                ) from error
        found.append(tolerance)
    return tuple(found)
