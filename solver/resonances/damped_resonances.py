"""Resonances of an open part with a material that loses power, from its reduced model."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.arrays import ComplexArray
from solver.fem.lossy_model import LossyModel
from solver.waves.guide_modes import SPEED_OF_LIGHT

Admittance = Callable[[ComplexArray], ComplexArray]

_STARTS, _STEPS = 9, 12


def damped_resonances(
    model: LossyModel,
    admittance: Admittance,
    band: tuple[float, float],
    least_quality: float,
    shift: float = 0.0,
) -> ComplexArray:
    """Complex wavenumbers of the resonances of a lossy part in a band, ascending [rad/m].

    Parameters
    ----------
    model : LossyModel
    admittance : callable
        Admittances (n, m) of all port modes at complex q (n,).
    band : (float, float)
        [Hz]
    least_quality : float
        A resonance with less Q is part of the smooth response.
    shift : float
        The squared free-space wavenumber less q.

    Notes
    -----
    With the ports' admittances held at a real q the problem is linear and all its eigenvalues
    are found; those near that q start Newton's method.  A sharp resonance hardly sees the
    ports, so that it lies close to one of them.
    """
    low, high = (2 * np.pi * f / SPEED_OF_LIGHT for f in band)
    open_part, kept = DampedProblem(model, admittance), list[complex]()
    for k0 in np.linspace(low, high, _STARTS):
        listed = np.linalg.eigvals(open_part.matrix(complex(k0**2 - shift)))
        near = np.sqrt(listed.astype(complex) + shift)
        sharp = near.imag * 0.3 * least_quality < near.real
        reach = np.abs(near - k0) < 0.75 * (high - low) / (_STARTS - 1) + 1e-3 * k0
        for first in listed[sharp & reach]:
            q = open_part.settled(complex(first))
            k = complex(np.sqrt(q + shift)) if q is not None else 0j
            known = any(abs(k - other) <= 1e-7 * abs(k) for other in kept)
            if k and low <= k.real <= high and k.real >= 2 * least_quality * k.imag and not known:
                kept.append(k)
    return np.array(sorted(kept, key=lambda k: k.real), dtype=complex)


class DampedProblem:
    """The open problem of a model with losses, in its Schur form."""

    def __init__(self, model: LossyModel, admittance: Admittance) -> None:
        self._model, self._admittance = model, admittance

    def matrix(self, q: complex) -> ComplexArray:
        """Matrix whose eigenvalue q a resonance has at itself."""
        load = 1j * self._admittance(np.array([q]))[0]
        matrix = np.diag(load) if load.ndim == 1 else load
        return np.asarray(self._model.triangle + self._model.driven @ matrix @ self._model.seen)

    def settled(self, q: complex) -> complex | None:
        """Follow one eigenvalue until the matrix it belongs to is that at itself."""
        for _ in range(_STEPS):
            here = self._nearest(q, q)
            if abs(here - q) < 1e-11 * abs(q):
                return here
            step = 1e-6 * q
            slope = (self._nearest(q + step, here) - here) / step
            q = complex(q + (here - q) / (1 - slope))
            if not np.isfinite(q):
                return None
        return None

    def _nearest(self, q: complex, to: complex) -> complex:
        values = np.linalg.eigvals(self.matrix(q))
        return complex(values[int(np.argmin(np.abs(values - to)))])

    def followed(self, k: complex, lost: float, shift: float) -> complex | None:
        """Return the resonance beside a wavenumber of another model; None if none is so near."""
        q = self.settled(complex(k**2 - shift))
        there = complex(np.sqrt(q + shift)) if q is not None else None
        return there if there is not None and abs(there - k) < lost * abs(k) else None
