"""The keys of a run file: those of a study, and one table for each part from the transmitter on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, Field, TypeAdapter, ValidationError, field_validator

from solver.studies.component_keys import KNOWN_KINDS, ComponentTable
from solver.studies.guide_keys import GuideEntry
from solver.studies.kind_keys import ComponentKeys
from solver.studies.messages import (
    MISSING,
    first_problem,
    key_path,
    kinds_text,
    refusal,
    shown_value,
)
from solver.studies.study_keys import (
    LONGEST_TITLE,
    AccuracyKeys,
    BandKeys,
    LimitKeys,
    WallKeys,
    one_line_of_text,
)
from solver.studies.tables import Millimetres, RefusedKeyError, SignedDegrees, Table

#: A run of more parts than this has no single report that anybody reads.
MOST_PARTS = 200
_LONGEST_NAME = 80
#: Of the run, not of the kind; an offset has a `turn_deg` of its own.
_OWN_KEYS = ("name", "turn_deg", "guide")

_COMPONENTS: TypeAdapter[Any] = TypeAdapter(ComponentTable)


class PlaceKeys(Table):
    """What a part of a run has beside the keys of its kind."""

    name: Annotated[
        str, Field(min_length=1, max_length=_LONGEST_NAME), AfterValidator(one_line_of_text)
    ] = ""
    turn_deg: SignedDegrees = 0.0
    guide: GuideEntry | None = None


class MeasuredKeys(Table):
    """A measured part."""

    file: Annotated[str, Field(min_length=1, max_length=1000)]


class BackwardsTransitionKeys(Table):
    """A transition run from its circular end: from the circle to a rectangle."""

    kind: str
    to_guide: GuideEntry
    length_mm: Millimetres


class EndKeys(Table):
    """What the run ends in."""

    vswr: Annotated[float, Field(ge=1.0, le=1e6)]


class RunKeys(Table):
    """A whole run file but for its parts, which are read one by one."""

    title: Annotated[
        str, Field(min_length=1, max_length=LONGEST_TITLE), AfterValidator(one_line_of_text)
    ] = ""
    guide: GuideEntry
    part: Annotated[list[Any], Field(min_length=1, max_length=MOST_PARTS)]
    band: BandKeys
    limit: LimitKeys | None = None
    accuracy: AccuracyKeys = AccuracyKeys()
    walls: WallKeys | None = None
    end: EndKeys | None = None

    @field_validator("part", mode="after")
    @classmethod
    def _are_tables(cls, parts: list[Any]) -> list[Any]:
        for number, part in enumerate(parts):
            if not isinstance(part, dict):
                raise ValueError(f"part[{number}] must be a table of keys: write [[part]]")
        return parts


PartKeys = ComponentKeys | MeasuredKeys | BackwardsTransitionKeys


def part_keys(table: Mapping[str, Any], number: int) -> tuple[PlaceKeys, PartKeys]:
    """Check the table of one part.

    Parameters
    ----------
    table : mapping
    number : int
        Its place in the file, counted from 0.

    Returns
    -------
    PlaceKeys, PartKeys

    Raises
    ------
    RefusedKeyError
        With a line that is complete: it has no key of its own.
    """
    where = key_path(["part", number])
    kind = table.get("kind", MISSING)
    own = [key for key in _OWN_KEYS if not (key == "turn_deg" and kind == "offset")]
    place = {key: table[key] for key in own if key in table}
    rest = {key: value for key, value in table.items() if key not in own}
    measured = "file" in rest and kind is MISSING
    if not measured and kind not in KNOWN_KINDS:
        text = f"{kinds_text(kind, KNOWN_KINDS)}; a measured part has a file and no kind"
        raise WholeLineError(refusal(f"{where}.kind", kind, text))
    try:
        keys: PartKeys
        if measured:
            keys = MeasuredKeys.model_validate(rest)
        elif kind == "transition" and "to_guide" in rest:
            keys = BackwardsTransitionKeys.model_validate(rest)
        else:
            keys = _COMPONENTS.validate_python(rest)
        return PlaceKeys.model_validate(place), keys
    except ValidationError as error:
        line = first_problem(error)
        # pydantic names the chosen kind first; the file does not
        line = line.removeprefix(f"{shown_value(kind).strip(chr(34))}.")
        raise WholeLineError(f"{where}.{line}") from error


class WholeLineError(RefusedKeyError):
    """A refusal whose line names its key already.

    Parameters
    ----------
    line : str
    """

    def __init__(self, line: str) -> None:
        super().__init__("", None, line)
        self.line = line


#: A run to start from, every table of it active or a comment.
RUN_START = """\
# A run of parts, from the transmitter on. Change the numbers, then: guideproof run FILE
# Every length in _mm may be written in inches: length_in = 33.07.
title = "run, to start from"
guide = "WR-90"                 # of the transmitter; each part goes on in the guide before it
band = {from_ghz = 9.2, to_ghz = 9.6}
limit = {vswr = 1.3}            # at the transmitter; also return_loss_db, leakage_db
end = {vswr = 1.15}             # what the run ends in, of any phase; without it matched

[[part]]                        # the keys of each kind: guideproof study KIND
kind = "straight"
length_mm = 840.0

[[part]]
name = "riser bend"             # what the report calls it
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = 40.0

[[part]]
kind = "straight"
length_mm = 300.0

[[part]]
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = 40.0
turn_deg = 180.0                # turned about the axis, with all that follows

# [[part]]
# file = "window.s2p"           # measured: a Touchstone file of one mode

# [walls]                       # The metal of the walls
# conductivity_s_per_m = 5.8e7  # copper; without this table the walls are lossless
"""
