"""Resonances of a part that is open at its ports: complex frequencies of its reduced model.

With the waves that leave through every port and past the rim, the reduced model is

    (diag(poles) + j C Y(q) C^T - q) v = 0,

an eigenvalue problem in q = (omega/c)^2 whose matrix depends on q itself. A field that decays in
time, exp(+j omega t), has Im q > 0.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solver.guide_modes import SPEED_OF_LIGHT
from solver.level_search import LevelResult
from solver.reduced_model import ReducedModel

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Admittance = Callable[[ComplexArray], ComplexArray]

#: A resonance with less Q is part of the smooth response.
LEAST_Q = 20.0
_STARTS, _STEPS = 9, 30
_SAFETY = 4.0


@dataclass(frozen=True)
class Resonance:
    """One field that rings by itself.

    Parameters
    ----------
    frequency : float
        [Hz]
    error : float
        Bound on its error [Hz].
    quality : float
        Q by what leaves through the ports and past the rim; walls are lossless [-].
    about : str
        Which fields it belongs to, such as ``"m = 0"``.
    """

    frequency: float
    error: float
    quality: float
    about: str


def trapped_resonances_of(
    found: LevelResult, admittance: Admittance, band: tuple[float, float], about: str
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

    Returns
    -------
    tuple of Resonance
        Those with a Q of at least `LEAST_Q`, ascending; the error is four times the change since
        the next lower order, and a resonance that was not there then has no bound.
    """
    last = complex_resonances(found.last.model, admittance, band)
    before = (
        complex_resonances(found.before.model, admittance, band, margin=0.05)
        if found.before is not None
        else np.empty(0, dtype=complex)
    )
    listed = []
    for k in last:
        change = np.abs(before - k).min() if before.size else np.inf
        to_hertz = SPEED_OF_LIGHT / (2 * np.pi)
        listed.append(
            Resonance(
                float(k.real * to_hertz),
                float(_SAFETY * change * to_hertz),
                float(k.real / (2 * k.imag)),
                about,
            )
        )
    return tuple(listed)


def resonance_text(found: Resonance) -> str:
    """Return a resonance as a caution, one sentence."""
    return (
        f"a trapped resonance ({found.about}) at {found.frequency / 1e9:.6g} GHz, Q "
        f"{found.quality:.3g} by what leaves it, lies in the band: wear, tilt or a little offset "
        "moves it and may drive it harder"
    )


def complex_resonances(
    model: ReducedModel,
    admittance: Admittance,
    band: tuple[float, float],
    margin: float = 0.0,
    least_quality: float = LEAST_Q,
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

    Returns
    -------
    (r,) complex array
    """
    low, high = (2 * np.pi * f / SPEED_OF_LIGHT for f in band)
    low, high = low * (1 - margin), high * (1 + margin)
    fields = model.columns

    def eigenvalues(q: complex) -> ComplexArray:
        loaded = (fields * (1j * admittance(np.array([q]))[0])) @ fields.T
        return np.asarray(np.linalg.eigvals(np.diag(model.poles) + loaded))

    kept: list[complex] = []
    starts = np.linspace(low, high, _STARTS)
    near = 0.75 * (starts[1] - starts[0])
    for start in starts:
        listed = np.sqrt(eigenvalues(complex(start**2)))
        damped = listed.imag * least_quality < listed.real
        for first in listed[(np.abs(listed.real - start) < near) & (listed.imag > 0) & damped] ** 2:
            q = _settled(eigenvalues, complex(first))
            k = np.sqrt(q) if q is not None else 0.0
            inside = k and low <= k.real <= high and k.imag > 0
            if not inside or k.real / (2 * k.imag) < least_quality:
                continue
            if all(abs(k - other) > 1e-7 * abs(k) for other in kept):
                kept.append(complex(k))
    return np.array(sorted(kept, key=lambda k: k.real), dtype=complex)


def _settled(eigenvalues: Callable[[complex], ComplexArray], q: complex) -> complex | None:
    """Follow one eigenvalue until the matrix it belongs to is that at itself."""
    for _ in range(_STEPS):
        listed = eigenvalues(q)
        nearest = complex(listed[np.argmin(np.abs(listed - q))])
        if abs(nearest - q) < 1e-11 * abs(q):
            return nearest
        q = nearest
    return None
