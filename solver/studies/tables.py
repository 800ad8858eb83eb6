"""What every table of a study file has in common: exact types, no unknown keys, one refusal."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from solver.studies.inches import table_in_mm

Millimetres = Annotated[float, Field(ge=1e-6, le=1e5)]
MillimetresFromZero = Annotated[float, Field(ge=0.0, le=1e5)]
SignedMillimetres = Annotated[float, Field(ge=-1e5, le=1e5)]
#: Each kind of part has its own range, and says it itself.
Degrees = float
SignedDegrees = Annotated[float, Field(ge=-360.0, le=360.0)]
#: One in Hz passes here; it is refused where the guide tells that it must be one.
Gigahertz = Annotated[float, Field(ge=1e-3, le=1e15)]


class RefusedKeyError(ValueError):
    """A value that its own type allows but the study does not.

    Parameters
    ----------
    key : str
        Key path below the table that refuses it.
    shown : object
        The value, as the file gives it; `MISSING` leaves it out of the message.
    text : str
        Limit and what to change.
    """

    def __init__(self, key: str, shown: object, text: str) -> None:
        self.key, self.shown, self.text = key, shown, text
        super().__init__(f"{key}: {text}")


class Table(BaseModel):
    """A table of the file: exact types, no unknown keys, finite numbers."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _in_mm_without_unknown_keys(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            return data
        data = table_in_mm(data, cls.model_fields)
        for key in data:
            if key not in cls.model_fields:
                raise PydanticCustomError(
                    "unknown_key",
                    "unknown key",
                    {"key": key, "value": data[key], "known": list(cls.model_fields)},
                )
        return data
