"""What the difference between a measured and a computed part looks like."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from geometries.arrays import Array, ComplexArray
from solver.measured.planes import PlaneFit
from solver.studies.inches import length_text
from solver.waves.scattering import ScatteringMatrix

#: A cause that explains less of the squares of the difference than this is not told.
_LEAST_SHARE = 0.3
#: Places looked at in one resolution of the transform, and most places altogether.
_FINE, _MOST_PLACES = 6, 20_000


@dataclass(frozen=True)
class Cause:
    """Something that would explain a difference.

    Parameters
    ----------
    name : {"length", "loss", "reflection"}
    value : float
        Excess length [m]; excess loss at the middle of the band [dB]; size of the added
        reflection [-].
    uncertainty : float
        Bound on the error of `value`, in its unit.
    place : float or None
        Of a reflection: distance from the study's plane at `port` into the part [m].
    place_uncertainty : float or None
        [m]
    port : int or None
        From which a reflection is seen.
    share : float
        Part of the squared difference that it explains [-].
    text : str
        In words.
    """

    name: str
    value: float
    uncertainty: float
    place: float | None
    place_uncertainty: float | None
    port: int | None
    share: float
    text: str


def likely_causes(
    measured: ComplexArray,
    fitted: ComplexArray,
    given: ComplexArray,
    beta: Array,
    allowed: Array,
    fit: PlaneFit,
    *,
    shift_bound: Array,
    total_bound: float,
    steady: Array,
    axis_length: float,
    detour: float,
    end: str,
) -> tuple[Cause, ...]:
    """Name what would explain the difference, most of it first.

    Parameters
    ----------
    measured : (n, m, m) complex array
    fitted, given : (n, m, m) complex array
        Computed, seen from the planes that fit best, and from those of the study.
    beta : (n, m) array
        Of the modes, the dominant mode of each port first [rad/m].
    allowed : (n, m, m) array
        Sum of both uncertainties.
    fit : PlaneFit
        Of the reference planes.
    shift_bound : (p,) array
    total_bound : float
        Bounds on the error of its shifts, and of their sum [m].
    steady : (n,) array
        Part of `allowed` that may pull the same way at every frequency.
    axis_length : float
        [m]
    detour : float
        By how much the way through the part, told by its phase, differs from its axis [m].
    end : {"matched", "short"}

    Returns
    -------
    tuple of Cause
        One that the uncertainties could explain as well is left out.
    """
    found = [
        _length(measured, fitted, given, fit, total_bound),
        _loss(measured, fitted, allowed, steady, end),
    ]
    if measured.shape[1] <= 2:
        echoes = [
            _reflection(
                measured[:, i, i] - fitted[:, i, i],
                beta[:, i],
                allowed[:, i, i],
                steady,
                i + 1,
                (float(fit.shift[i]), float(shift_bound[i])),
                axis_length,
                detour,
            )
            for i in range(measured.shape[1])
        ]
        # an echo is seen from both ports, best from one
        found.append(max((e for e in echoes if e), key=lambda e: e.share, default=None))
    told = [cause for cause in found if cause is not None]
    return tuple(sorted(told, key=lambda cause: -cause.share))


def detour_of(computed: ScatteringMatrix, beta: Array, axis_length: float) -> float:
    """By how much a part is longer or shorter for the phase than its axis is [m].

    Parameters
    ----------
    computed : ScatteringMatrix
    beta : (n,) array
        Of its first mode [rad/m].
    axis_length : float
        [m]
    """
    row = computed.transmitted
    if row is None or len(beta) < 2:
        return 0.0
    left = computed.s[:, row, 0] * np.exp(1j * beta * axis_length)
    return abs(float(np.polyfit(beta, np.unwrap(np.angle(left)), 1)[0]))


def _length(
    measured: ComplexArray, fitted: ComplexArray, given: ComplexArray, fit: PlaneFit, bound: float
) -> Cause | None:
    if not abs(fit.total) > bound:
        return None
    before, after = (float((np.abs(measured - s) ** 2).sum()) for s in (given, fitted))
    share = 1 - after / before if before > 0 else 0.0
    longer = "longer" if fit.total > 0 else "shorter"
    text = (
        f"the measured run between its planes is {length_text(abs(fit.total), 4)} {longer} than "
        f"the study's, known to {length_text(bound, 2)}: its planes, or the part"
    )
    return Cause("length", fit.total, bound, None, None, None, share, text)


def _loss(
    measured: ComplexArray, computed: ComplexArray, allowed: Array, steady: Array, end: str
) -> Cause | None:
    """Excess attenuation, by the size of transmission or of the reflection from a short."""
    two = measured.shape[1] > 1
    if not two and end != "short":
        return None
    into, out = (0, 1) if two else (0, 0)
    a, b, within = measured[:, out, into], computed[:, out, into], allowed[:, out, into]
    passes = 1.0 if two else 2.0
    strong = np.abs(b) > np.maximum(10 * within, 0.05)
    if strong.sum() < 3:
        return None
    a, b, within, steady = a[strong], b[strong], within[strong], steady[strong]
    ratio = np.log(np.abs(b) / np.maximum(np.abs(a), 1e-6))
    excess = float(np.median(ratio))
    # noise averages out, what is off alike everywhere does not
    least = np.minimum(np.abs(a), np.abs(b))
    unsure = float((steady / least).max())
    if unsure >= 1:
        return None
    bound = float(np.median((within - steady) / least)) / (2.0 if len(b) > 30 else 1.0)
    bound -= float(np.log1p(-unsure))
    gone = np.abs(a - b * np.exp(-excess)) ** 2
    share = 1 - float(gone.sum() / (np.abs(a - b) ** 2).sum()) if (a != b).any() else 0.0
    if abs(excess) <= bound or share < _LEAST_SHARE:
        return None
    decibels = 20 / np.log(10) / passes
    more = "more" if excess > 0 else "less"
    text = f"{abs(excess) * decibels:.3g} dB {more} loss in transmission than computed"
    return Cause("loss", excess * decibels, bound * decibels, None, None, None, share, text)


def _reflection(
    left: ComplexArray,
    beta: Array,
    allowed: Array,
    steady: Array,
    port: int,
    start: tuple[float, float],
    axis_length: float,
    detour: float,
) -> Cause | None:
    """One more reflection: its place by the transform of what is left of S11 over beta.

    The guide disperses: equal steps of beta, not of frequency, are those of an echo.
    """
    n = len(left)
    span = float(np.ptp(beta))
    if n < 8 or span <= 0 or not (np.abs(left) > allowed).any():
        return None
    weight = np.gradient(beta) * np.sin(np.pi * (np.arange(n) + 0.5) / n) ** 2
    weight = weight / weight.sum()

    def echo(place: float | Array) -> ComplexArray:
        return np.asarray(np.exp(2j * np.multiply.outer(place, beta)) @ (weight * left))

    resolution = np.pi / span
    farthest = 0.45 * np.pi / float(np.abs(np.diff(beta)).max())
    step = max(resolution / _FINE, 2 * farthest / _MOST_PLACES)
    places = np.arange(-farthest, farthest, step)
    sizes = np.concatenate([np.abs(echo(part)) for part in np.array_split(places, 32)])
    top = float(places[int(np.argmax(sizes))])
    # near the top every point counts alike, which is sharper than the window
    best = minimize_scalar(
        lambda z: -abs(np.vdot(np.exp(-2j * beta * z), left)),
        bounds=(top - resolution / 4, top + resolution / 4),
        method="bounded",
        options={"xatol": 1e-9},
    )
    place = float(best.x)
    wave = np.exp(-2j * beta * place)
    size = complex(np.vdot(wave, left) / n)
    after = left - size * wave
    share = 1 - float((np.abs(after) ** 2).sum() / (np.abs(left) ** 2).sum())
    if share < _LEAST_SHARE:
        return None
    # what is left limits the place: the bound of Cramer and Rao for a phase slope, three times
    rest = float(np.sqrt((np.abs(after) ** 2).mean() / 2))
    known = 3 * rest / (abs(size) * 2 * float(np.std(beta)) * np.sqrt(n))
    # an error that pulls every point the way that moves the echo most
    off, most = np.abs(beta - beta.mean()), float(steady.max())
    known += most * float(off.sum() / (off**2).sum()) / (2 * abs(size))
    # where the plane is not told, the study's is meant
    known += start[1] if np.isfinite(start[1]) else 0.0
    within = 2 * rest / np.sqrt(n / 2) + float(np.median(allowed - steady)) / np.sqrt(n) + most
    inside = place - start[0]
    # the transform knows plain guide alone, which is all there is before the port
    known += detour if inside > 0 else 0.0
    where = _where(inside, port, axis_length, resolution)
    text = (
        f"one more reflection of {abs(size):.3g}, {length_text(abs(inside), 4)} {where}, known to "
        f"{length_text(known, 2)}"
    )
    return Cause("reflection", abs(size), within, inside, known, port, share, text)


def _where(inside: float, port: int, axis_length: float, resolution: float) -> str:
    if inside < -resolution / 4:
        return f"before the plane of port {port}, in its feed"
    if inside > axis_length + resolution / 4:
        return f"behind the plane of port {port}, past the part"
    return f"behind the plane of port {port}, in the part"
