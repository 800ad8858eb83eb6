"""One chart of the reflection of bends for all guides of the same ratio of sides.

Lengths scale with the wavelength: in guides of equal a/b, over bands that are equal in units of the
cutoff frequency, bends of equal angle and equal radius in wavelengths reflect alike.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.bends import Bend
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Plane
from solver.errors import StudyError
from solver.progress import Progress
from solver.rules.rules_of_thumb import required_radius, rules_for
from solver.searches.explore import explore
from solver.searches.point_store import PointStore
from solver.searches.varied_keys import Variation
from solver.studies.band import Band
from solver.waves.guide_modes import dominant_cutoff, free_space_wavelength, guide_wavelength

#: Broad width of the guide that stands for all [m]; no answer depends on it.
_WIDTH = 20e-3
#: Largest radius of a chart [free-space wavelengths at the middle of the band].
LARGEST = 3.0
#: Inner radius of the tightest bend, over the width in the plane.
_TIGHTEST = 0.1


@dataclass(frozen=True, eq=False)
class GradualnessChart:
    """Worst reflection of bends over a band against radius and angle.

    Parameters
    ----------
    plane : {"E", "H"}
    ratio : float
        a/b.
    edges : (float, float)
        Of the band, over the cutoff frequency.
    radius : (r,) array
        Mean radius over the free-space wavelength at the middle of the band.
    angle : (n,) array
        [rad]
    worst, error : (r, n) array
        Largest |S11| over the band, and its bar.
    between : float
        Largest relative error of |S11| between the computed points by linear interpolation of
        its logarithm, found from every other of them.
    guide_wavelength : float
        Over the free-space wavelength, at the middle of the band.
    rules : dict of str to (n,) array
        Radius that each reading of each rule asks for, in the unit of `radius`, by its words.
    """

    plane: Plane
    ratio: float
    edges: tuple[float, float]
    radius: Array
    angle: Array
    worst: Array
    error: Array
    between: float
    guide_wavelength: float
    rules: dict[str, Array]


def gradualness_chart(
    plane: Plane,
    ratio: float,
    edges: tuple[float, float] = (1.25, 1.9),
    *,
    angles: Sequence[float],
    radii: int = 30,
    points: int = 41,
    s_error: float = 1e-5,
    workers: int = 1,
    store: PointStore | None = None,
    progress: Progress | None = None,
) -> GradualnessChart:
    """Compute a chart.

    Parameters
    ----------
    plane : {"E", "H"}
    ratio : float
        a/b, at least 1.
    edges : (float, float)
        Of the band, over the cutoff frequency.
    angles : sequence of float
        [rad]
    radii : int
        Number of radii, from a bend of inner radius 0.1 of its width to 3 wavelengths.
    points : int
        Frequencies of the band; the worst between them is found as well.
    s_error : float
    workers : int
    store : PointStore, optional
    progress : callable, optional

    Raises
    ------
    StudyError
        If there is no such guide or band.
    """
    guide, band = guide_and_band(ratio, edges, points)
    wavelength = float(free_space_wavelength(band.centre))
    width = Bend(guide, plane, 1.0, 10 * _WIDTH).width_in_plane
    radius = np.geomspace((0.5 + _TIGHTEST) * width, LARGEST * wavelength, radii)
    millimetres = tuple(float(f"{r * 1e3:.9g}") for r in radius)
    degrees = tuple(float(f"{math.degrees(a):.9g}") for a in angles)
    worst, error = explored_chart(
        {
            "kind": "bend",
            "plane": plane,
            "angle_deg": degrees[0],
            "mean_radius_mm": millimetres[-1],
        },
        guide,
        band,
        s_error,
        Variation("component.mean_radius_mm", millimetres),
        Variation("component.angle_deg", degrees),
        workers=workers,
        store=store,
        progress=progress,
    )
    return GradualnessChart(
        plane=plane,
        ratio=ratio,
        edges=edges,
        radius=radius / wavelength,
        angle=np.asarray(angles, dtype=float),
        worst=worst,
        error=error,
        between=interpolation_error(worst),
        guide_wavelength=float(guide_wavelength(guide, band.centre)) / wavelength,
        rules=_rules(guide, plane, angles, band, wavelength),
    )


def explored_chart(
    component: Mapping[str, Any],
    guide: RectangularGuide,
    band: Band,
    s_error: float,
    down: Variation,
    across: Variation,
    **how: Any,
) -> tuple[Array, Array]:
    """Compute the parts of a chart.

    Parameters
    ----------
    component : mapping
        Keys of one of the parts, as in a study.
    guide : RectangularGuide
    band : Band
    s_error : float
    down, across : Variation
        The r sizes, and the n values of what else is varied.
    **how
        Workers, store and progress, as those of `solver.searches.explore.explore`.

    Returns
    -------
    (r, n) array, (r, n) array
        Largest |S11| over the band, and its bar; not a number where there is no such part.
    """
    tables = {
        "title": "chart",
        "guide": {"width_mm": guide.broad_width * 1e3, "height_mm": guide.narrow_height * 1e3},
        "component": component,
        "band": {
            "from_ghz": band.start / 1e9,
            "to_ghz": band.stop / 1e9,
            "points": band.points,
        },
        "accuracy": {"s_error": s_error},
    }
    found = [
        cell.reflection for cell in explore(tables, Path("chart"), [down, across], **how).cells
    ]
    shape = (len(down.values), len(across.values))
    worst = np.array([np.nan if w is None else w.value for w in found]).reshape(shape)
    high = np.array([np.nan if w is None else w.high for w in found]).reshape(shape)
    return worst, high - worst


def guide_and_band(
    ratio: float, edges: tuple[float, float], points: int
) -> tuple[RectangularGuide, Band]:
    """Return a guide that stands for all of a ratio of sides, and the band in it.

    Parameters
    ----------
    ratio : float
        a/b, 1 to 20.
    edges : (float, float)
        Of the band, over the cutoff frequency; above 1, up to 3.
    points : int

    Raises
    ------
    StudyError
    """
    if not 1 <= ratio <= 20:
        raise StudyError(f"a/b = {ratio:g}: must lie between 1 and 20")
    if not 1 < edges[0] < edges[1] <= 3:
        raise StudyError(
            f"a band of {edges[0]:g} to {edges[1]:g} cutoffs: must ascend, above 1 and up to 3"
        )
    guide = RectangularGuide(_WIDTH, _WIDTH / ratio)
    cutoff = dominant_cutoff(guide)
    return guide, Band(edges[0] * cutoff, edges[1] * cutoff, points)


def interpolation_error(worst: Array) -> float:
    """Return the relative error of interpolation at half the spacing of a table.

    It is told from what leaving out every other point does to the logarithm of a value.

    Parameters
    ----------
    worst : (r, n) array
    """
    levels = np.log(worst)
    errors = [0.0]
    for table in (levels, levels.T):
        inner = table[1:-1:2]
        if len(table) >= 3 and len(inner):
            line = (table[0:-2:2][: len(inner)] + table[2::2][: len(inner)]) / 2
            errors.append(float(np.nanmax(np.abs(inner - line))))
    # halving the spacing quarters what a curved line leaves
    return math.expm1(max(errors) / 4)


def _rules(
    guide: RectangularGuide, plane: Plane, angles: Sequence[float], band: Band, wavelength: float
) -> dict[str, Array]:
    lines: dict[str, list[float]] = {}
    for angle in angles:
        bend = Bend(guide, plane, angle, 2 * wavelength)
        for rule in rules_for(bend, band):
            if "multiple" in rule.name or "table" in rule.name:
                continue  # the nearest of several lengths, or lengths of given guides: no line
            asked = required_radius(rule, bend) / wavelength
            lines.setdefault(f"{rule.name}: {rule.reading}", []).append(asked)
    return {words: np.array(line) for words, line in lines.items() if len(line) == len(angles)}
