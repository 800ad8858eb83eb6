"""The worst that a part may do anywhere within its tolerances, and how many meet the limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.judgement.quantities import EXCEEDS, MEETS, NO_LIMIT, UNDECIDED
from solver.judgement.sensitivities import (
    Sensitivity,
    sensitivity_of,
    solved_at,
    wanted_accuracy,
)
from solver.progress import Progress
from solver.studies.band import Band
from solver.studies.limits import Limit, amplitude_of
from solver.studies.tolerances import Tolerance
from solver.waves.scattering import ScatteringMatrix
from solver.waves.walls import Walls

#: Parts of the quasi-random sample, a power of two, and what its shuffle starts from.
SAMPLE, _SEED = 1024, 7301
#: More frequencies than this add nothing to the worst over the box.
_MOST_FREQUENCIES = 500


@dataclass(frozen=True, eq=False)
class ToleranceBox:
    """A part within its tolerances.

    Parameters
    ----------
    frequency : (n,) array
        [Hz]
    s11 : (n,) complex array
        Of the part as drawn.
    sensitivities : tuple of Sensitivity
    allowed : float or None
        Largest |S11| that the limit allows.
    worst : float
        Largest |S11| over band and box, to first order [-].
    error : float
        Bound on its error: bars, derivatives, and what is not linear.
    at_hz : float
    corner : dict of str to float
        Where in the box, by the keys of a study file in their units.
    checked : float
        Worst |S11| of the part at that corner, solved afresh [-].
    share : (float, float, float) or None
        Part of a sample, evenly spread over the box, that meets the limit: by the linear answer,
        and the least and the most that its bar allows.
    """

    frequency: Array
    s11: ComplexArray
    sensitivities: tuple[Sensitivity, ...]
    allowed: float | None
    worst: float
    error: float
    at_hz: float
    corner: dict[str, float]
    checked: float
    share: tuple[float, float, float] | None

    @property
    def outcome(self) -> str:
        """Whether every part within the tolerances meets the limit."""
        if self.allowed is None:
            return NO_LIMIT
        if self.worst - self.error > self.allowed:
            return EXCEEDS
        return MEETS if self.worst + self.error <= self.allowed else UNDECIDED


def tolerance_box(
    part: Any,
    tolerances: Sequence[Tolerance],
    band: Band,
    nominal: ScatteringMatrix,
    limit: Limit | None,
    *,
    s_error: float,
    walls: Walls | None = None,
    in_space: bool = False,
    progress: Progress | None = None,
) -> ToleranceBox:
    """Compute what tolerances do to the reflection of a part.

    Parameters
    ----------
    part : Part
    tolerances : sequence of Tolerance
    band : Band
    nominal : ScatteringMatrix
        Of the part over its band.
    limit : Limit or None
        Of reflection; a limit of leakage is not looked at here.
    s_error, walls, in_space, progress
        As those of `solver.judgement.assess_part.assess`.

    Notes
    -----
    To first order S11 is linear in the dimensions, and its size is convex in them, so the worst
    of the box lies at one of its corners. The bar adds that of the derivatives, what each
    dimension alone bends S11 off the line at the end of its tolerance, and what a fresh solution
    at the worst corner differs from the linear answer: that holds how dimensions act together.
    Between two frequencies the curve of a corner rises by no more than an eighth of its second
    derivative times the square of their distance; each corner's own is added.
    """
    nominal = _thinned(nominal)
    options: dict[str, Any] = {"walls": walls, "in_space": in_space}
    found = tuple(
        sensitivity_of(part, t, band, nominal, s_error=s_error, progress=progress, **options)
        for t in tolerances
    )
    amounts = np.array([t.amount for t in tolerances])
    slopes = np.stack([each.derivative for each in found])
    corners = np.array(list(product((1.0, -1.0), repeat=len(amounts)))) * amounts
    sizes = np.stack([np.abs(nominal.s11 + corner @ slopes) for corner in corners])
    which, at = np.unravel_index(int(np.argmax(sizes)), sizes.shape)
    corner = corners[which]
    fresh = part
    for tolerance, by in zip(tolerances, corner, strict=True):
        fresh = tolerance.moved(fresh, float(by))
    if progress:
        progress("the worst corner of the tolerances")
    accuracy = wanted_accuracy(part, s_error, in_space)
    solved = solved_at(fresh, band, nominal.frequency, s_error=accuracy, **options)
    apart = np.abs(solved.s11 - nominal.s11 - corner @ slopes) + solved.error
    bar = nominal.error + sum(each.error * each.tolerance.amount + each.bend for each in found)
    bar, between = np.maximum(bar, apart), _between(nominal.frequency, sizes)
    top = (sizes + between + bar).max()
    allowed = _allowed(limit)
    return ToleranceBox(
        frequency=nominal.frequency,
        s11=nominal.s11,
        sensitivities=found,
        allowed=allowed,
        worst=float(sizes.max()),
        error=float(max(top - sizes.max(), bar[at] + between[which, at])),
        at_hz=float(nominal.frequency[at]),
        corner={
            t.key: float(f"{by / t.scale:.12g}") for t, by in zip(tolerances, corner, strict=True)
        },
        checked=float(np.abs(solved.s11).max()),
        share=None
        if allowed is None
        else _share(nominal.s11, slopes, amounts, bar + between.max(axis=0), allowed),
    )


def _between(frequency: Array, sizes: Array) -> Array:
    """What curves (c, n) may rise by between a point and its neighbours, by their bend, (c, n)."""
    if len(frequency) < 3:
        return np.zeros(sizes.shape)
    step = np.diff(frequency)
    bend = 2 * np.abs(np.diff(np.diff(sizes) / step)) / (step[1:] + step[:-1])
    rise = bend * np.maximum(step[1:], step[:-1]) ** 2 / 8
    return np.asarray(np.concatenate([rise[:, :1], rise, rise[:, -1:]], axis=1))


def _thinned(nominal: ScatteringMatrix) -> ScatteringMatrix:
    """Every so many-th frequency of a band that holds very many, the worst among them."""
    count = len(nominal.frequency)
    if count <= _MOST_FREQUENCIES:
        return nominal
    chosen = np.linspace(0, count - 1, _MOST_FREQUENCIES).round().astype(int)
    chosen = np.unique(np.append(chosen, int(np.argmax(np.abs(nominal.s11)))))
    return ScatteringMatrix(
        nominal.frequency[chosen],
        nominal.port_modes,
        nominal.s[chosen],
        nominal.error[chosen],
        nominal.leaked_power[chosen],
        nominal.dissipated_power[chosen],
    )


def _allowed(limit: Limit | None) -> float | None:
    values = {} if limit is None else limit.values
    reflected = [amplitude_of(q, v) for q, v in values.items() if q != "leakage_db"]
    return min(reflected) if reflected else None


def _share(
    s11: ComplexArray, slopes: ComplexArray, amounts: Array, bar: Array, allowed: float
) -> tuple[float, float, float]:
    """Shares of a Sobol sample of the box that meet the limit."""
    from scipy.stats import qmc

    sampler = qmc.Sobol(len(amounts), seed=_SEED)
    points = (2 * sampler.random(SAMPLE) - 1) * amounts
    sizes = np.abs(s11 + points @ slopes)
    return tuple(  # type: ignore[return-value]
        float((np.max(sizes + sign * bar, axis=1) <= allowed).mean()) for sign in (0.0, 1.0, -1.0)
    )
