"""The keys of a study file, and what each may hold; one class for each table of the file.

Units appear only in the names of keys.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
from pydantic import AfterValidator, Field, field_validator
from pydantic_core import PydanticCustomError

from geometries.shapes.guide_sizes import inches_hint
from solver.studies.band import MOST_POINTS, Band, hertz
from solver.studies.component_keys import KNOWN_KINDS, ComponentTable
from solver.studies.cooling import Cooling
from solver.studies.guide_keys import GuideEntry
from solver.studies.limits import Limit
from solver.studies.messages import MISSING, kinds_text
from solver.studies.tables import Gigahertz, RefusedKeyError, Table
from solver.waves.guide_modes import entering_cutoff

if TYPE_CHECKING:
    from collections.abc import Sequence

LONGEST_TITLE = 200
#: An amount by which a dimension may be off, in the unit of its key.
Tolerated = Annotated[float, Field(gt=0.0, le=1e5)]
#: A guide is never used this many times above its cutoff: the frequency has another unit.
MOST_CUTOFFS_ABOVE = 100.0
#: More pictures than this make a report hard to open.
MOST_PICTURES = 8


def one_line_of_text(title: str) -> str:
    """Return a title; a ValueError unless it is one plain line without markup."""
    if not title.isprintable():
        raise ValueError("must be one line of plain text without control characters")
    return title


class BandKeys(Table):
    """The frequencies: from_ghz, to_ghz and points, or frequencies_ghz."""

    from_ghz: Gigahertz | None = None
    to_ghz: Gigahertz | None = None
    points: Annotated[int, Field(ge=2, le=MOST_POINTS)] | None = None
    frequencies_ghz: (
        Annotated[list[Gigahertz], Field(min_length=1, max_length=MOST_POINTS)] | None
    ) = None

    def build(self) -> Band:
        """Return the band."""
        if self.frequencies_ghz is not None:
            for key in ("from_ghz", "to_ghz", "points"):
                if getattr(self, key) is not None:
                    raise RefusedKeyError(
                        key, getattr(self, key), "cannot stand beside frequencies_ghz; remove one"
                    )
            return self._listed(self.frequencies_ghz)
        for key, value in (("from_ghz", self.from_ghz), ("to_ghz", self.to_ghz)):
            if value is None:
                raise RefusedKeyError(key, MISSING, "give from_ghz and to_ghz, or frequencies_ghz")
        start, stop = self.from_ghz or 0.0, self.to_ghz or 0.0
        if start >= stop:
            raise RefusedKeyError(
                "to_ghz", stop, f"must be above from_ghz ({start:g}), or the band is empty"
            )
        return Band(hertz(start), hertz(stop), self.points if self.points is not None else 201)

    @staticmethod
    def _listed(frequencies: Sequence[float]) -> Band:
        for index in range(1, len(frequencies)):
            if frequencies[index] <= frequencies[index - 1]:
                raise RefusedKeyError(
                    f"frequencies_ghz[{index}]",
                    frequencies[index],
                    f"must be above the one before it ({frequencies[index - 1]:g}); "
                    "list each frequency once, ascending",
                )
        return Band.at(hertz(f) for f in frequencies)


class LimitKeys(Table):
    """What is asked of the part."""

    vswr: Annotated[float, Field(gt=1.0, le=1e6)] | None = None
    return_loss_db: Annotated[float, Field(gt=0.0, le=200.0)] | None = None
    leakage_db: Annotated[float, Field(lt=0.0, ge=-300.0)] | None = None

    def build(self) -> Limit:
        """Return the limit."""
        return Limit(self.vswr, self.return_loss_db, self.leakage_db)


class AccuracyKeys(Table):
    """How sure the S-parameters have to be."""

    s_error: Annotated[float, Field(ge=1e-9, le=0.1)] = 1e-4


class WallKeys(Table):
    """The metal of the walls."""

    conductivity_s_per_m: Annotated[float, Field(ge=1e3, le=1e12)]


class PictureKeys(Table):
    """Where the field is shown; by default at the worst frequency and in the middle."""

    frequencies_ghz: Annotated[list[Gigahertz], Field(min_length=1, max_length=MOST_PICTURES)]


class CoolingKeys(Table):
    """What cools a load, for the temperature of its fins."""

    input_power_w: Annotated[float, Field(gt=0.0, le=1e9)]
    fin_area_cm2: Annotated[float, Field(gt=0.0, le=1e8)]
    convection_w_per_m2_k: Annotated[float, Field(gt=0.0, le=1e5)]
    air_celsius: Annotated[float, Field(ge=-100.0, le=200.0)]

    def build(self) -> Cooling:
        """Return the cooling, in SI units."""
        area = self.fin_area_cm2 * 1e-4
        return Cooling(self.input_power_w, area, self.convection_w_per_m2_k, self.air_celsius)


class StudyKeys(Table):
    """A whole study file."""

    title: Annotated[
        str, Field(min_length=1, max_length=LONGEST_TITLE), AfterValidator(one_line_of_text)
    ] = ""
    guide: GuideEntry
    component: ComponentTable
    band: BandKeys
    limit: LimitKeys | None = None
    accuracy: AccuracyKeys = AccuracyKeys()
    walls: WallKeys | None = None
    cooling: CoolingKeys | None = None
    tolerance: Annotated[dict[str, Tolerated], Field(min_length=1, max_length=12)] | None = None
    picture: PictureKeys | None = None

    @field_validator("component", mode="before")
    @classmethod
    def _know_the_kind(cls, table: Any) -> Any:
        if isinstance(table, dict) and table.get("kind") not in KNOWN_KINDS:
            raise PydanticCustomError(
                "unknown_kind",
                "unknown kind",
                {
                    "kind": table.get("kind", MISSING),
                    "known": kinds_text(table.get("kind"), KNOWN_KINDS),
                },
            )
        return table


def band_for(keys: BandKeys, part: Any) -> Band:
    """Return the band of a study, checked against the part's own guide.

    Parameters
    ----------
    keys : BandKeys
    part : Component

    Raises
    ------
    RefusedKeyError
    """
    cutoff = entering_cutoff(part)
    for key, ghz in _given(keys):
        if far_above(cutoff, ghz):
            raise RefusedKeyError(f"band.{key}", ghz, far_above(cutoff, ghz))
    try:
        band = keys.build()
    except RefusedKeyError as error:
        raise RefusedKeyError(f"band.{error.key}", error.shown, error.text) from error
    check_cutoff(keys, part, band)
    return band


def _given(keys: BandKeys) -> list[tuple[str, float]]:
    found = [("from_ghz", keys.from_ghz), ("to_ghz", keys.to_ghz)]
    listed = keys.frequencies_ghz or []
    found += [(f"frequencies_ghz[{number}]", ghz) for number, ghz in enumerate(listed)]
    return [(key, ghz) for key, ghz in found if ghz is not None]


def far_above(cutoff: float, ghz: float) -> str:
    """Return what to say of a frequency meant in MHz or Hz; empty for any other.

    Parameters
    ----------
    cutoff : float
        First cutoff of the guide [Hz].
    ghz : float
        The frequency [GHz].

    Examples
    --------
    >>> far_above(6.557e9, 12.4)
    ''
    """
    if ghz * 1e9 <= MOST_CUTOFFS_ABOVE * cutoff:
        return ""
    unit, scale = ("Hz", 1e9) if ghz > cutoff else ("MHz", 1e3)
    fits = ghz * 1e9 / scale > cutoff
    meant = f"for {ghz:g} {unit} write {ghz / scale:g}" if fits else "lower it"
    return (
        f"is in GHz, and more than {MOST_CUTOFFS_ABOVE:g} times the cutoff of the guide, "
        f"{cutoff / 1e9:.6g} GHz; {meant}"
    )


def check_cutoff(keys: BandKeys, part: Any, band: Band, which: str = "") -> None:
    """Refuse a band that starts at or below the cutoff of the mode that enters a part.

    Parameters
    ----------
    keys : BandKeys
    part : Component
    band : Band
    which : str
        Words that tell its guide from that of the study.

    Raises
    ------
    RefusedKeyError
    """
    cutoff = entering_cutoff(part)
    # At cutoff itself the guide wavelength is infinite; round-off must not hide that.
    if band.start <= cutoff * (1.0 + 1e-9):
        guide_text = f"the guide{which}" if which else "this guide"
        listed = keys.frequencies_ghz is not None
        raise RefusedKeyError(
            "band.frequencies_ghz[0]" if listed else "band.from_ghz",
            np.round(band.start / 1e9, 12),
            f"must be above the cutoff of {part.entering_mode} in {guide_text}, "
            f"{cutoff / 1e9:.6g} GHz; raise it" + inches_hint(part.guide, cutoff, band.start),
        )
