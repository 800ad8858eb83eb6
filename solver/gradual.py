"""How gradual must a part be to meet a limit?"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.bends import Bend, width_in_plane
from geometries.guides import RectangularGuide
from solver.assessment import Progress
from solver.band import Band
from solver.errors import StudyError, UnsupportedPartError
from solver.guide_modes import guide_wavelength
from solver.limits import Limit, amplitude_of
from solver.rules_of_thumb import RuleReading, rules_for
from solver.size_search import SizeCurve, first_crossing, last_crossing

#: A size is found to within this [m].
TOLERANCE = 2e-5
#: The search starts at an inner radius of this part of the width.
TIGHTEST = 0.02


@dataclass(frozen=True, eq=False)
class GradualResult:
    """What a search over sizes found.

    Parameters
    ----------
    kind : str
        ``"bend"``, ``"twist"`` or ``"taper"``.
    guide : RectangularGuide
    plane : str
        Plane of a bend.
    angle : float
        Angle of a bend or twist [rad].
    band : Band
    limit : Limit
    smallest : float or None
        Size from which every larger one meets the limit [m].
    first_met : float or None
        Least size that meets it at all [m].
    uncertainty : float or None
        Bound on the error of `smallest` [m].
    first_met_uncertainty : float or None
        Bound on the error of `first_met` [m].
    sizes : (n,) array
        Sizes that were computed, ascending [m].
    worst_s11, worst_s11_error : (n,) array
        Worst |S11| over the band at each, and its bar.
    estimated_s11 : (n,) array
        The closed form's worst |S11| at each size; NaN where there is none.
    rules : sequence of RuleReading
        Rules of thumb read for the part of size `smallest`.
    reasons : sequence of str
        What limits the answer.
    """

    kind: str
    guide: RectangularGuide
    plane: str
    angle: float
    band: Band
    limit: Limit
    smallest: float | None
    first_met: float | None
    uncertainty: float | None
    first_met_uncertainty: float | None
    sizes: NDArray[np.float64]
    worst_s11: NDArray[np.float64]
    worst_s11_error: NDArray[np.float64]
    estimated_s11: NDArray[np.float64]
    rules: Sequence[RuleReading]
    reasons: Sequence[str]


@dataclass(frozen=True)
class _Family:
    """Parts that differ in one size, and how to scan it."""

    part_of: Callable[[float], Any]
    scan: NDArray[np.float64]
    reasons: tuple[str, ...]


def find_gradual(
    guide: RectangularGuide,
    plane: str,
    angle: float,
    band: Band,
    limit: Limit,
    *,
    kind: str = "bend",
    s_error: float = 1e-5,
    progress: Progress | None = None,
) -> GradualResult:
    """Find the smallest part from which every larger one meets a limit.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
        Plane of the bend.
    angle : float
        Angle through which the axis turns [rad].
    band : Band
    limit : Limit
        VSWR or return loss; the stricter counts.
    kind : {"bend"}
        What is sized: the mean radius of a bend.
    s_error : float
        Wanted bound on the error of S11 [-].
    progress : callable, optional

    Returns
    -------
    GradualResult

    Raises
    ------
    StudyError
        When the limit sets neither VSWR nor return loss.
    UnsupportedPartError
        When parts of this kind cannot be sized.

    Notes
    -----
    Reflection is not monotone in size: a bend is invisible wherever its two ends cancel.
    So the size is scanned finely enough to show every peak of the worst reflection, from
    an inner radius of 0.02 of the width up to where the closed form's envelope, which
    falls as the square of the radius, is at most 0.8 of the limit.
    """
    largest = reflection_limit(limit)
    if kind != "bend":
        raise UnsupportedPartError(f"{kind}: only bends can be sized")
    family = _bends(guide, plane, angle, band, largest)
    curve = SizeCurve(_worst_of(family, band, s_error))
    for number, size in enumerate(family.scan):
        if progress:
            progress(f"{kind} {size * 1e3:.1f} mm", 0.9 * number / len(family.scan))
        curve.worst(float(size))
    scanned = curve.sizes
    last = last_crossing(curve, largest, TOLERANCE)
    first = first_crossing(curve, largest, TOLERANCE)
    sizes = curve.sizes
    shown = family.part_of(last.size if last else float(scanned[-1]))
    return GradualResult(
        kind=kind,
        guide=guide,
        plane=plane,
        angle=angle,
        band=band,
        limit=limit,
        smallest=last.size if last else None,
        first_met=first.size if first else None,
        uncertainty=last.uncertainty if last else None,
        first_met_uncertainty=first.uncertainty if first else None,
        sizes=sizes,
        worst_s11=np.array([curve.worst(s) for s in sizes]),
        worst_s11_error=np.array([curve.bar(s) for s in sizes]),
        estimated_s11=np.array([_estimated(family.part_of(s), band) for s in sizes]),
        rules=rules_for(shown, band),
        reasons=(*family.reasons, *_no_answer(last, scanned)),
    )


def reflection_limit(limit: Limit) -> float:
    """Largest |S11| that a limit allows [-].

    Raises
    ------
    StudyError
        When it sets neither VSWR nor return loss.
    """
    values = [amplitude_of(q, v) for q, v in limit.values.items() if q != "leakage_db"]
    if not values:
        raise StudyError("limit: set vswr or return_loss_db to size a part by its reflection")
    return float(min(values))


def _worst_of(
    family: _Family, band: Band, s_error: float
) -> Callable[[float], tuple[float, float]]:
    from solver.plane_solver import solve_in_plane

    def worst(size: float) -> tuple[float, float]:
        solution = solve_in_plane(family.part_of(size), band.frequencies, s_error)
        reflection = np.abs(solution.s[:, 0, 0])
        at = int(np.argmax(reflection))
        return float(reflection[at]), float(solution.error.max())

    return worst


def _bends(
    guide: RectangularGuide, plane: str, angle: float, band: Band, largest: float
) -> _Family:
    """Bends of every radius, from nearly sharp to gentle beyond doubt."""
    width = width_in_plane(guide, plane)
    least = Bend(guide, plane, angle, (0.5 + TIGHTEST) * width)  # type: ignore[arg-type]
    gentle = 10.0 * width
    envelope = _envelope(replace(least, mean_radius=gentle), band)
    top = max(gentle * math.sqrt(envelope / (0.8 * largest)), 2.0 * width)
    # the two ends cancel each time the arc grows by half a guide wavelength
    ripple = 0.5 * float(guide_wavelength(guide, band.frequencies[-1])) / angle
    sizes = [least.mean_radius]
    while sizes[-1] < top:
        step = min(0.1 * ripple, (0.1 if sizes[-1] < 2 * width else 0.25) * width)
        sizes.append(sizes[-1] + step)
    return _Family(
        lambda radius: replace(least, mean_radius=float(radius)),
        np.array(sizes),
        (
            f"computed from a mean radius of {sizes[0] * 1e3:.4g} mm to {sizes[-1] * 1e3:.4g} mm; "
            "beyond it the closed form's envelope is under the limit and falls as the square of "
            "the radius",
        ),
    )


def _envelope(bend: Bend, band: Band) -> float:
    from solver.closed_forms.bends import bend_reflection_envelope

    return float(np.max(bend_reflection_envelope(bend, band.frequencies)))


def _estimated(part: Any, band: Band) -> float:
    """Worst |S11| of the first closed form for a part; NaN where there is none."""
    from solver.closed_forms import estimates_for

    estimates = estimates_for(part, band.frequencies)
    return float(estimates[0].s11_abs.max()) if estimates else math.nan


def _no_answer(last: object, scanned: NDArray[np.float64]) -> tuple[str, ...]:
    if last is not None:
        return ()
    return (
        f"the largest size computed, {scanned[-1] * 1e3:.4g} mm, is still above the limit: "
        "loosen the limit or shorten the band",
    )
