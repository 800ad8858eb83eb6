"""Resonances of a part that is open at its ports: complex frequencies of its reduced model.

With the waves that leave through every port and past the rim, the reduced model is

    (diag(poles) + j C Y(q) C^T - q) v = 0,

an eigenvalue problem in q = (omega/c)^2 whose matrix depends on q itself. A field that decays in
time, exp(+j omega t), has Im q > 0.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.fem.level_ladder import LevelResult
from solver.fem.lossy_model import LossyModel
from solver.fem.reduced_model import ReducedModel
from solver.resonances.damped_resonances import DampedProblem, damped_resonances
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.resonances import HIGHEST_Q, UNDRIVEN_Q, Resonance

Admittance = Callable[[ComplexArray], ComplexArray]

#: A resonance with less Q is part of the smooth response.
LEAST_Q = 20.0
#: Two Qs that differ by more than this factor are not the same.
_ALIKE = 3.0
_NODES, _STARTS, _STEPS = 17, 9, 12
#: Most secants to a crossing, and how closely it is wanted, relative.
_SECANTS, _CLOSE = 60, 1e-9
_SAFETY = 4.0
#: A Q from which on it is round-off, and how far a sharp one's place may move, relative.
_NO_WIDTH, _SETTLED = 1e12, 1e-3
#: Two resonances farther apart than this, relative, are not one in two spaces.
_LOST = 5e-3


def trapped_resonances_of(
    found: LevelResult,
    admittance: Admittance,
    band: tuple[float, float],
    about: str,
    shift: float = 0.0,
) -> tuple[Resonance, ...]:
    """Find the resonances of a solved part in its band.

    Parameters
    ----------
    found : LevelResult
    admittance : callable
        Admittances (n, m) of all port modes at complex q (n,).
    band : (float, float)
        [Hz]
    about : str
        See `Resonance`.
    shift : float
        See `complex_resonances`.

    Returns
    -------
    tuple of Resonance
        Those with a Q of at least `LEAST_Q`, ascending; the error is four times the change since
        the next lower order, and a resonance that was not there then has no bound.
    """
    finest, coarser = found.levels[-1], found.levels[-2]
    if isinstance(finest, LossyModel):
        return _damped(finest, coarser, admittance, band, about, shift)
    ends = tuple((2 * np.pi * f / SPEED_OF_LIGHT) ** 2 - shift for f in band)
    last = complex_resonances(finest, admittance, band, shift=shift)
    near = _NearPoles(coarser, admittance, *ends)
    listed = [_listed(k, near.followed(k, shift), about) for k in last]
    if near.closed_between(*ends) > _NearPoles(finest, admittance, *ends).closed_between(*ends):
        # one that the best space has lost is not settled
        for k in complex_resonances(coarser, admittance, band, shift=shift):
            lost = not last.size or np.abs(last - k).min() > _LOST * abs(k)
            if lost and _quality(k) < UNDRIVEN_Q:
                listed.append(replace(_listed(k, k, about), error=np.inf))
    return tuple(sorted(listed, key=lambda found: found.frequency))


def _damped(
    finest: LossyModel,
    coarser: LossyModel,
    admittance: Admittance,
    band: tuple[float, float],
    about: str,
    shift: float,
) -> tuple[Resonance, ...]:
    """Resonances of a part with a material that loses power; see `trapped_resonances_of`.

    The material damps all fields in it, so that every one has a width.
    """
    last = damped_resonances(finest, admittance, band, LEAST_Q, shift)
    before = DampedProblem(coarser, admittance)
    return tuple(_listed(k, before.followed(k, _LOST, shift), about) for k in last)


def _listed(k: complex, before: complex | None, about: str) -> Resonance:
    """Describe a resonance at a complex wavenumber, with its partner in the space before."""
    to_hertz = SPEED_OF_LIGHT / (2 * np.pi)
    quality = _quality(k)
    if before is None:
        return Resonance(k.real * to_hertz, np.inf, quality, about, quality < UNDRIVEN_Q)
    other = _quality(before)
    return Resonance(
        frequency=float(k.real * to_hertz),
        error=float(_SAFETY * abs(before - k) * to_hertz),
        quality=quality,
        about=about,
        driven=quality < UNDRIVEN_Q or _alike(quality, other, k, before),
        before=((float(before.real * to_hertz), float(abs(before.imag) * to_hertz)),),
    )


def _alike(quality: float, other: float, k: complex, before: complex) -> bool:
    """Whether a resonance beyond any sampling is the same in two spaces, place and Q."""
    settled = abs(before - k) < _SETTLED * abs(k)
    largest, least = max(quality, other), min(quality, other)
    return settled and largest < min(_ALIKE * least, _NO_WIDTH)


def _quality(k: complex) -> float:
    return float(k.real / max(2 * abs(k.imag), k.real / HIGHEST_Q))


def complex_resonances(
    model: ReducedModel,
    admittance: Admittance,
    band: tuple[float, float],
    margin: float = 0.0,
    least_quality: float = LEAST_Q,
    shift: float = 0.0,
) -> ComplexArray:
    """Complex wavenumbers of a reduced model's resonances in a band, ascending [rad/m].

    Parameters
    ----------
    model : ReducedModel
    admittance : callable
        Admittances (n, m) of all port modes at complex q (n,).
    band : (float, float)
        [Hz]
    margin : float
        Part of the band's ends by which it is widened.
    least_quality : float
    shift : float
        The squared free-space wavenumber less q: that across the plane of a part solved in it.

    Returns
    -------
    (r,) complex array

    Notes
    -----
    With the waves that carry power off shut out, the matrix is real and symmetric at real q, and
    each of its ascending eigenvalues less q falls with q: every crossing of zero is found, and a
    sharp resonance lies beside one.  From there, and from evenly spread q, Newton's method
    follows the eigenvalues of the open problem.
    """
    low, high = (2 * np.pi * f / SPEED_OF_LIGHT for f in band)
    low, high = low * (1 - margin), high * (1 + margin)
    near = _NearPoles(model, admittance, low**2 - shift, high**2 - shift)
    if not near.poles.size:
        return np.empty(0, dtype=complex)
    even = np.linspace(low, high, _STARTS)
    starts = [(float(k) ** 2 - shift, 0.75 * (high - low) / (_STARTS - 1)) for k in even]
    starts += [(q, np.inf) for q in near.crossings(low**2 - shift, high**2 - shift)]
    kept: list[complex] = []
    for q0, reach in starts:
        listed = np.sqrt(np.linalg.eigvals(near.matrix(q0)).astype(complex) + shift)
        sharp = listed.imag * 0.3 * least_quality < listed.real
        distance = np.where(sharp, np.abs(listed - np.sqrt(q0 + shift)), np.inf)
        # from a crossing the two nearest are followed, from elsewhere all in reach
        chosen = np.argsort(distance)[:2] if np.isinf(reach) else np.flatnonzero(distance < reach)
        for first in listed[chosen] ** 2 - shift:
            q = near.settled(complex(first))
            k = np.sqrt(q + shift) if q is not None else 0.0
            inside = k and low <= k.real <= high and k.imag > -1e-12 * k.real
            if inside and _quality(k) >= least_quality:
                known = (abs(k - other) <= 1e-7 * abs(k) for other in kept)
                if not any(known):
                    kept.append(complex(k))
    return np.array(sorted(kept, key=lambda k: k.real), dtype=complex)


class _NearPoles:
    """The open problem written in the poles about a band, the far ones eliminated exactly."""

    def __init__(
        self, model: ReducedModel, admittance: Admittance, low: float, high: float
    ) -> None:
        margin = 0.5 * (high - low) + 0.05 * high
        near = (model.poles > low - margin) & (model.poles < high + margin)
        self.poles, self._columns = model.poles[near], model.columns[near]
        self._far, self._far_columns = model.poles[~near], model.columns[~near]
        self._admittance = admittance

    def _loaded(self, q: complex, load: ComplexArray) -> ComplexArray:
        matrix = np.diag(load) if load.ndim == 1 else load
        far = (self._far_columns.T / (self._far - q)) @ self._far_columns
        seen = np.linalg.solve(np.eye(len(load)) + far @ matrix, self._columns.T)
        return np.asarray(np.diag(self.poles) + self._columns @ matrix @ seen)

    def matrix(self, q: complex) -> ComplexArray:
        """Matrix whose eigenvalue q a resonance has at itself."""
        return self._loaded(q, 1j * self._admittance(np.array([q]))[0])

    def _closed(self, q: float) -> Array:
        """Ascending eigenvalues with the waves that carry power off shut out."""
        load = 1j * self._admittance(np.array([q]))[0]
        still = load.real
        if load.ndim == 1:
            still = np.where(np.abs(load.imag) > 1e-9 * np.abs(load), 0.0, still)
        matrix = self._loaded(q, still)
        return np.asarray(np.linalg.eigvalsh(0.5 * (matrix + matrix.T)))

    def crossings(self, low: float, high: float) -> list[float]:
        """Every q at which the problem without the waves that carry power off resonates."""
        nodes = np.linspace(low, high, _NODES)
        below = [int((self._closed(q) < q).sum()) for q in nodes]
        found = []
        for a, b, first, last in zip(nodes, nodes[1:], below, below[1:], strict=False):
            for number in range(first, last):
                found.append(self._crossing(float(a), float(b), number))
        return found

    def _crossing(self, low: float, high: float, number: int) -> float:
        def above(q: float) -> float:
            return float(self._closed(q)[number] - q)

        first, last = above(low), above(high)
        if first * last >= 0:  # at an end, to round-off
            return low if abs(first) < abs(last) else high
        before = low
        for _ in range(_SECANTS):
            q = high - last * (high - low) / (last - first)
            if abs(q - before) <= _CLOSE * abs(q):
                break
            value, before = above(q), q
            # an end that stays put loses half of its weight, so that both ends come closer
            if value * last < 0:
                low, first = high, last
            else:
                first *= 0.5
            high, last = q, value
        return q

    def closed_between(self, low: float, high: float) -> int:
        """How many resonances the problem without the waves that carry power off has there."""
        return int((self._closed(high) < high).sum()) - int((self._closed(low) < low).sum())

    def followed(self, k: complex, shift: float) -> complex | None:
        """Return the resonance beside a wavenumber of another model; None if none is near."""
        if not self.poles.size:
            return None
        q = self.settled(complex(k**2 - shift))
        there = complex(np.sqrt(q + shift)) if q is not None else None
        return there if there is not None and abs(there - k) < _LOST * abs(k) else None

    def settled(self, q: complex) -> complex | None:
        """Follow one eigenvalue until the matrix it belongs to is that at itself."""
        for _ in range(_STEPS):
            matrix = self.matrix(q)
            values, vectors = np.linalg.eig(matrix)
            at = int(np.argmin(np.abs(values - q)))
            if abs(values[at] - q) < 1e-11 * abs(q):
                return complex(values[at])
            step, v = 1e-10 * q, vectors[:, at]
            slope = v @ ((self.matrix(q + step) - matrix) / step) @ v / (v @ v)
            q = complex(q + (values[at] - q) / (1 - slope))
            if not np.isfinite(q):
                return None
        return None
