"""One chart of the reflection of twists or tapers for all guides of the same ratio of sides.

As with bends, lengths scale with the wavelength: in guides of equal a/b, over bands that are equal
in units of the cutoff frequency, twists of equal angle and tapers to the same part of the height
reflect alike when they are equally long in wavelengths.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from geometries.arrays import Array
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.errors import StudyError
from solver.progress import Progress
from solver.rules.rules_of_thumb import rules_for
from solver.searches.gradualness import explored_chart, guide_and_band, interpolation_error
from solver.searches.point_store import PointStore
from solver.searches.varied_keys import Variation
from solver.studies.band import Band
from solver.waves.guide_modes import free_space_wavelength, guide_wavelength

Kind = Literal["twist", "taper"]
#: Lengths of a chart [free-space wavelengths at the middle of the band].
SHORTEST, LONGEST = 0.5, 4.0
_VARIED = {"twist": "component.angle_deg", "taper": "component.to_guide.height_mm"}


@dataclass(frozen=True, eq=False)
class LengthChart:
    """Worst reflection of twists or tapers over a band against length and how much they change.

    Parameters
    ----------
    kind : {"twist", "taper"}
        Uniform twists; linear tapers of the narrow height alone.
    ratio : float
        a/b of the first guide.
    edges : (float, float)
        Of the band, over the cutoff frequency.
    length : (r,) array
        Over the free-space wavelength at the middle of the band.
    change : (n,) array
        Angle of a twist [rad]; narrow height at the second end of a taper over that at the first.
    worst, error : (r, n) array
        Largest |S11| over the band, and its bar.
    between : float
        As that of `solver.searches.gradualness.GradualnessChart`.
    guide_wavelength : float
        Over the free-space wavelength, at the middle of the band.
    rules : dict of str to (n,) array
        Length that each reading of each rule asks for, in the unit of `length`, by its words.
    """

    kind: Kind
    ratio: float
    edges: tuple[float, float]
    length: Array
    change: Array
    worst: Array
    error: Array
    between: float
    guide_wavelength: float
    rules: dict[str, Array]


def length_chart(
    kind: Kind,
    ratio: float,
    edges: tuple[float, float] = (1.25, 1.9),
    *,
    changes: Sequence[float],
    lengths: int = 12,
    points: int = 11,
    s_error: float = 1e-3,
    workers: int = 1,
    store: PointStore | None = None,
    progress: Progress | None = None,
) -> LengthChart:
    """Compute a chart of lengths.

    Parameters
    ----------
    kind : {"twist", "taper"}
    ratio : float
        a/b, at least 1.
    edges : (float, float)
        Of the band, over the cutoff frequency.
    changes : sequence of float
        Angles of twists [rad]; or heights of the second guide over that of the first, above 0 and
        below 1.
    lengths : int
        Number of lengths, from 0.5 to 4 wavelengths.
    points : int
        Frequencies of the band; the worst between them is found as well.
    s_error : float
    workers : int
    store : PointStore, optional
    progress : callable, optional

    Raises
    ------
    StudyError
        If there is no such kind, guide, change or band.
    """
    if kind not in get_args(Kind):
        raise StudyError(f"chart of lengths of a {kind}: must be twist or taper")
    if kind == "taper" and not all(0 < change < 1 for change in changes):
        raise StudyError("heights of the second guide over the first: must lie between 0 and 1")
    guide, band = guide_and_band(ratio, edges, points)
    wavelength = float(free_space_wavelength(band.centre))
    length = np.geomspace(SHORTEST, LONGEST, lengths) * wavelength
    scale = 180 / math.pi if kind == "twist" else guide.narrow_height * 1e3
    varied = tuple(float(f"{change * scale:.9g}") for change in changes)
    millimetres = tuple(float(f"{x * 1e3:.9g}") for x in length)
    worst, error = explored_chart(
        _component(kind, guide, varied[0], millimetres[0]),
        guide,
        band,
        s_error,
        Variation("component.length_mm", millimetres),
        Variation(_VARIED[kind], varied),
        workers=workers,
        store=store,
        progress=progress,
    )
    return LengthChart(
        kind=kind,
        ratio=ratio,
        edges=edges,
        length=length / wavelength,
        change=np.asarray(changes, dtype=float),
        worst=worst,
        error=error,
        between=interpolation_error(worst),
        guide_wavelength=float(guide_wavelength(guide, band.centre)) / wavelength,
        rules=_rules(kind, guide, changes, band, wavelength),
    )


def _component(kind: Kind, guide: RectangularGuide, change: float, length: float) -> dict[str, Any]:
    if kind == "twist":
        return {"kind": kind, "angle_deg": change, "length_mm": length}
    second = {"width_mm": guide.broad_width * 1e3, "height_mm": change}
    return {"kind": kind, "to_guide": second, "length_mm": length}


def _rules(
    kind: Kind, guide: RectangularGuide, changes: Sequence[float], band: Band, wavelength: float
) -> dict[str, Array]:
    lines: dict[str, list[float]] = {}
    for change in changes:
        part = (
            Twist(guide, change, wavelength)
            if kind == "twist"
            else Taper(
                guide,
                RectangularGuide(guide.broad_width, change * guide.narrow_height),
                wavelength,
            )
        )
        for rule in rules_for(part, band):
            if rule.measure == "mean length":
                asked = rule.required / wavelength
                lines.setdefault(f"{rule.name}: {rule.reading}", []).append(asked)
    return {words: np.array(line) for words, line in lines.items()}
