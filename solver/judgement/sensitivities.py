"""How fast the reflection of a part changes with each of its dimensions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.errors import GeometryError
from geometries.shapes.part import known_part
from solver.judgement.assess_part import solve_part
from solver.judgement.whole_band import groups
from solver.parts.solved_part import scattering_of
from solver.progress import Progress
from solver.studies.band import Band
from solver.studies.tolerances import Tolerance
from solver.waves.scattering import ScatteringMatrix
from solver.waves.walls import Walls

#: Bound on the error of S wanted of the changed parts where a plane is exact; there it is cheap.
_IN_PLANE = 1e-6
#: A change of S has to be this many bars, or the step is doubled as often as this at most.
_CLEAR, _DOUBLINGS = 200.0, 3


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """Derivative of S11 in one dimension.

    Parameters
    ----------
    tolerance : Tolerance
    derivative : (n,) complex array
        d S11 / d dimension [1/m] or [1/rad].
    error : (n,) array
        Bound on its error.
    bend : (n,) array
        What the change of S11 over the tolerance lacks of being a straight line [-].
    """

    tolerance: Tolerance
    derivative: ComplexArray
    error: Array
    bend: Array


def solved_at(
    part: Any,
    band: Band,
    frequency: Array,
    *,
    s_error: float,
    walls: Walls | None = None,
    in_space: bool = False,
    progress: Progress | None = None,
) -> ScatteringMatrix:
    """Solve a part and return its S at any frequencies of its band.

    Parameters
    ----------
    part, band, s_error, walls, in_space, progress
        As those of `solver.judgement.assess_part.assess`.
    frequency : (n,) array
        [Hz]
    """
    solved, _ = solve_part(
        part, band, s_error=s_error, walls=walls, in_space=in_space, progress=progress
    )
    resonances = tuple(r for r in solved.resonances() if r.driven or np.isfinite(r.error))
    return scattering_of(solved, solved.answers(frequency), groups(frequency, resonances), walls)


def wanted_accuracy(part: Any, s_error: float, in_space: bool) -> float:
    """Return the bound on the error of S that is asked of changed parts."""
    exact = known_part(part).exact_plane is not None and not in_space
    return min(s_error, _IN_PLANE) if exact else s_error


def sensitivity_of(
    part: Any,
    tolerance: Tolerance,
    band: Band,
    nominal: ScatteringMatrix,
    *,
    s_error: float,
    walls: Walls | None = None,
    in_space: bool = False,
    progress: Progress | None = None,
) -> Sensitivity:
    """Differentiate S11 in one dimension by differences of fresh solutions.

    Parameters
    ----------
    part : Part
    tolerance : Tolerance
        Its amount is the first step.
    band : Band
    nominal : ScatteringMatrix
        Of the part itself; its frequencies are used.
    s_error, walls, in_space, progress
        As those of `solver.judgement.assess_part.assess`.

    Returns
    -------
    Sensitivity

    Notes
    -----
    Central differences D(h) and D(h/2), extrapolated to (4 D(h/2) - D(h))/3. The bound is what
    the extrapolation moved, which is three times the error that a term in h^2 leaves to the
    coarser of the two and more than the terms beyond leave, and the bars of the four solutions.
    They limit the step: where S changes by less than 200 bars it is doubled, at most three times.
    """
    accuracy = wanted_accuracy(part, s_error, in_space)
    words = tolerance.name.replace("_", " ")

    def at(by: float) -> ScatteringMatrix:
        if progress:
            progress(f"tolerance of the {words}")
        return solved_at(
            tolerance.moved(part, by),
            band,
            nominal.frequency,
            s_error=accuracy,
            walls=walls,
            in_space=in_space,
        )

    step = tolerance.amount
    far = (at(step), at(-step))
    edges = far
    for _ in range(_DOUBLINGS):
        change = np.abs(far[0].s11 - far[1].s11).max()
        if change > _CLEAR * max(float(s.error.max()) for s in far):
            break
        try:
            wider = (at(2 * step), at(-2 * step))
        except GeometryError:
            break
        step, near, far = 2 * step, far, wider
    else:
        near = edges
    if step == tolerance.amount:
        near = (at(step / 2), at(-step / 2))
    coarse = (far[0].s11 - far[1].s11) / (2 * step)
    fine = (near[0].s11 - near[1].s11) / step
    derivative = (4 * fine - coarse) / 3
    bars = (far[0].error + far[1].error) / 6 + 4 * (near[0].error + near[1].error) / 3
    error = np.abs(derivative - fine) + bars / step
    line = tolerance.amount * derivative
    bend = np.maximum(
        np.abs(edges[0].s11 - nominal.s11 - line), np.abs(edges[1].s11 - nominal.s11 + line)
    )
    return Sensitivity(tolerance, derivative, error, bend)


def slope_of_size(s11: ComplexArray, derivative: ComplexArray) -> Array:
    """Derivative of |S11|; where S11 vanishes, the size of that of S11, (n,)."""
    size = np.abs(s11)
    along = np.real(s11.conj() * derivative) / np.maximum(size, 1e-300)
    return np.asarray(np.where(size > 0, along, np.abs(derivative)))


def change_to_limit(s11: ComplexArray, derivative: ComplexArray, allowed: float) -> float:
    """Least change of a dimension, either way, that brings |S11| to a limit, to first order.

    Parameters
    ----------
    s11, derivative : (n,) complex array
    allowed : float
        Largest |S11| allowed [-].

    Returns
    -------
    float
        0 where the limit is exceeded already, infinite where no change reaches it [m or rad].
    """
    if np.abs(s11).max() >= allowed:
        return 0.0
    a = np.abs(derivative) ** 2
    b = np.real(s11.conj() * derivative)
    c = np.abs(s11) ** 2 - allowed**2
    moving = a > 0
    root = np.sqrt(b[moving] ** 2 - a[moving] * c[moving])
    least = (root - np.abs(b[moving])) / a[moving]
    return float(least.min(initial=np.inf))
