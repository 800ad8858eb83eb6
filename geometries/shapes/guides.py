"""Rectangular and circular guides, and the catalogue of standard rectangular sizes.

Sizes, bands and names come from `standard_guides.csv`, which states for every row where each was
read: EIA RS-261-B (WR names), IEC 60153-2 (R names), MoD DEF-5351 (RCSC WG names), MIL-DTL-85 and
IEEE Std 1785.1-2012 (WM names), through public charts or from memory. Inches are exact, and
so are the micrometres of the sizes below WR-3.
"""

from __future__ import annotations

import csv
import difflib
import math
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from numbers import Real

from geometries.errors import InvalidDimensionError, UnknownGuideError

MILLIMETRES_PER_INCH = 25.4


def positive_length(quantity: str, value: object, advice: str = "") -> float:
    """Return a length as a float [m].

    Raises
    ------
    InvalidDimensionError
        If it is not a finite number above zero.
    """
    if isinstance(value, bool) or not isinstance(value, Real):
        raise InvalidDimensionError(quantity, value, "a number of metres", advice)
    length = float(value)
    if not (math.isfinite(length) and length > 0):
        raise InvalidDimensionError(quantity, length, "finite and above 0 m", advice)
    return length


@dataclass(frozen=True)
class RectangularGuide:
    """Inside of a rectangular guide.

    Parameters
    ----------
    broad_width : float
        Inside dimension a of the broad wall [m].
    narrow_height : float
        Inside dimension b of the narrow wall [m]; at most `broad_width`.
    name : str, optional
        Name of the size; it does not enter any computation.

    Raises
    ------
    InvalidDimensionError

    Examples
    --------
    >>> RectangularGuide(22.86e-3, 10.16e-3).label
    '22.86 x 10.16 mm'
    """

    broad_width: float
    narrow_height: float
    name: str = ""

    def __post_init__(self) -> None:
        for quantity in ("broad_width", "narrow_height"):
            object.__setattr__(self, quantity, positive_length(quantity, getattr(self, quantity)))
        if self.narrow_height > self.broad_width:
            raise InvalidDimensionError(
                "narrow_height",
                self.narrow_height,
                f"at most the broad width, {self.broad_width:g} m",
                "swap the two",
            )

    @property
    def longest_side(self) -> float:
        """Largest inside dimension, a [m]."""
        return self.broad_width

    @property
    def label(self) -> str:
        """Name of the size, or its dimensions where it has none."""
        return self.name or f"{self.broad_width * 1e3:.6g} x {self.narrow_height * 1e3:.6g} mm"


@dataclass(frozen=True)
class CircularGuide:
    """Inside of a circular guide.

    Parameters
    ----------
    diameter : float
        Inside diameter [m].
    name : str, optional
        Name of the size.

    Raises
    ------
    InvalidDimensionError
    """

    diameter: float
    name: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "diameter", positive_length("diameter", self.diameter))

    @property
    def longest_side(self) -> float:
        """Largest inside dimension, the diameter [m]."""
        return self.diameter

    @property
    def radius(self) -> float:
        """Half the diameter [m]."""
        return self.diameter / 2

    @property
    def label(self) -> str:
        """Name of the size, or its diameter where it has none."""
        return self.name or f"diameter {self.diameter * 1e3:.6g} mm"


@dataclass(frozen=True)
class StandardGuide:
    """One row of the catalogue.

    Parameters
    ----------
    guide : RectangularGuide
        Inside dimensions; its name is the EIA name, or the IEEE name where there is none.
    eia, iec, rcsc, ieee1785 : str
        Names in the four series; empty where the series has no such size.
    also : tuple of str
        Further names in use for the same size.
    band : (float, float)
        Recommended band, EIA [Hz].
    sources : tuple of str
        Where size, band and names were read, in this order.
    confidence : str
        ``"high"`` or ``"medium"``.
    note : str
        Disagreements between public tables.
    """

    guide: RectangularGuide
    eia: str
    iec: str
    rcsc: str
    ieee1785: str
    also: tuple[str, ...]
    band: tuple[float, float]
    sources: tuple[str, str, str]
    confidence: str
    note: str

    @property
    def names(self) -> tuple[str, ...]:
        """Every name of the size, the EIA name first."""
        listed = (self.eia, self.iec, self.rcsc, self.ieee1785, *self.also)
        return tuple(name for name in listed if name)


def _standard_guide(row: dict[str, str]) -> StandardGuide:
    broad_width, narrow_height = (
        float(row[f"{side}_in"]) * MILLIMETRES_PER_INCH / 1000
        if row[f"{side}_in"]
        else float(row[f"{side}_um"]) / 1e6
        for side in ("broad", "narrow")
    )
    return StandardGuide(
        guide=RectangularGuide(broad_width, narrow_height, row["eia"] or row["ieee1785"]),
        eia=row["eia"],
        iec=row["iec"],
        rcsc=row["rcsc"],
        ieee1785=row["ieee1785"],
        also=tuple(filter(None, row["also"].split(";"))),
        band=(float(row["band_from_ghz"]) * 1e9, float(row["band_to_ghz"]) * 1e9),
        sources=(row["size_source"], row["band_source"], row["names_source"]),
        confidence=row["confidence"],
        note=row["note"],
    )


@cache
def standard_guides() -> tuple[StandardGuide, ...]:
    """Return the catalogue, from WR-2300 down to WM-86.

    Examples
    --------
    >>> [size.eia for size in standard_guides() if size.confidence == "medium"]
    ['WR-1800', 'WR-1150', 'WR-102', 'WR-4', '', '']
    """
    with files("geometries").joinpath("standard_guides.csv").open(encoding="utf-8") as table:
        return tuple(_standard_guide(row) for row in csv.DictReader(table))


def _key(name: str) -> str:
    return re.sub(r"[\s_-]", "", name).upper()


@cache
def _by_name() -> dict[str, StandardGuide]:
    return {_key(name): size for size in standard_guides() for name in size.names}


def _nearest_names(key: str) -> list[str]:
    """Sizes next to a WR or R number, or else names that look alike."""
    shown = {_key(name): name for size in standard_guides() for name in size.names}
    number = re.fullmatch(r"(WR|R|)(\d+(?:\.\d+)?)", key)
    if number is None:
        return [shown[match] for match in difflib.get_close_matches(key, shown, n=3, cutoff=0.4)]
    series = number[1] or "WR"
    gap = {
        name: abs(float(listed.removeprefix(series)) - float(number[2]))
        for listed, name in shown.items()
        if re.fullmatch(series + r"[\d.]+", listed)
    }
    return sorted(gap, key=gap.__getitem__)[:3]


def find_standard_guide(name: str) -> StandardGuide:
    """Return the catalogue's row for a size, by any of its names.

    Raises
    ------
    UnknownGuideError
        If no size has the name; the message lists the nearest ones.

    Examples
    --------
    >>> find_standard_guide("wg16").names
    ('WR-90', 'R100', 'WG16')
    """
    try:
        return _by_name()[_key(name)]
    except KeyError:
        nearest = ", ".join(_nearest_names(_key(name))) or "WR-90, R100 or WG16"
        raise UnknownGuideError(
            f"no standard guide is called {name!r}; nearest: {nearest}; "
            "give width and height for another size"
        ) from None


def standard_guide(name: str) -> RectangularGuide:
    """Return a standard guide by its EIA, IEC, RCSC or IEEE name.

    Case, blanks and hyphens do not matter: ``"WR-90"``, ``"wr90"``, ``"R100"`` and ``"WG16"`` are
    one size.

    Raises
    ------
    UnknownGuideError

    Examples
    --------
    >>> standard_guide("WR-90")
    RectangularGuide(broad_width=0.02286, narrow_height=0.01016, name='WR-90')
    """
    return find_standard_guide(name).guide
