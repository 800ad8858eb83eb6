"""The scattering matrix of a part, with its error bar, and the quantities read from it.

Amplitudes are power-normalised amplitudes of the transverse electric field of each port mode, so
a short at the reference plane gives S11 = -1, and |S_ij|^2 is a ratio of powers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from solver.errors import LinearSolveError

#: Reflections are held between these before a logarithm or a quotient, so that every reading is
#: finite: a return loss is at most 300 dB and a VSWR at most 2e15.
SMALLEST_AMPLITUDE = 1e-15
LARGEST_REFLECTION = 1.0 - 1e-15


def vswr_of(reflection: ArrayLike) -> Array:
    """Return the voltage standing-wave ratio (1 + |S|) / (1 - |S|) of a reflection [-]."""
    size = np.minimum(np.abs(reflection), LARGEST_REFLECTION)
    return np.asarray((1.0 + size) / (1.0 - size))


def decibels(amplitude: ArrayLike, least: float = SMALLEST_AMPLITUDE) -> Array:
    """Return 20 log10 of an amplitude's size [dB], taken as no smaller than `least`."""
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(amplitude), least)))


def return_loss_of(reflection: ArrayLike) -> Array:
    """Return the return loss -20 log10 |S| of a reflection [dB], positive."""
    return -decibels(reflection)


def reflection_of_vswr(vswr: ArrayLike) -> Array:
    """Return the reflection magnitude (VSWR - 1) / (VSWR + 1) of a standing-wave ratio [-]."""
    ratio = np.asarray(vswr, dtype=float)
    return np.asarray((ratio - 1.0) / (ratio + 1.0))


def power_bar(power: Array, bar: Array) -> Array:
    """Return the bound on a power from the bound on the amplitude whose square it is [-]."""
    return np.asarray(2 * np.sqrt(power) * bar + bar**2)


def leaked_power(
    s: ComplexArray,
    error: Array,
    weights: Array,
    ports: int,
) -> tuple[Array, Array]:
    """Power that leaves past the ports for a wave in the first port mode, and its bar [-].

    Parameters
    ----------
    s : (n, m, m) complex array
        Scattering among the modes of the ports, then the waves past them.
    error : (n,) array
        Bound on the error of each element times its weight.
    weights : (m,) array
    ports : int
        Modes of the ports.

    Returns
    -------
    (n,) array, (n,) array
    """
    leaked = (np.abs(s[:, ports:, 0]) ** 2).sum(axis=1)
    waves = max(1, int(s[:, ports:, 0].any(axis=0).sum()))
    finest = float(weights[ports:].min(initial=np.inf))
    return leaked, power_bar(leaked, np.sqrt(waves) * error / finest)


@dataclass(frozen=True)
class PortMode:
    """One mode at one port.

    Parameters
    ----------
    port : int
        Number of the port, from 1.
    name : str
        Name of the mode, for example ``"TE10"``.
    cutoff : float
        Cutoff frequency of the mode in the port's guide [Hz].
    """

    port: int
    name: str
    cutoff: float

    @property
    def label(self) -> str:
        """Port and mode as ``"1:TE10"``."""
        return f"{self.port}:{self.name}"


@dataclass(frozen=True, eq=False)
class ScatteringMatrix:
    """Scattering parameters over a band, with a bound on their error.

    Parameters
    ----------
    frequency : (n,) array
        Frequencies [Hz].
    port_modes : tuple of PortMode
        The m rows and columns of `s`, in order; the first is the dominant mode at port 1.
    s : (n, m, m) complex array
        ``s[f, i, j]`` is the wave out in mode i for a unit wave in mode j; 0 where either is
        below its cutoff.
    error : (n,) array
        Bound on the error of every element of ``s[f]``.
    leaked_power, dissipated_power : (n,) array
        Power that leaves past the ports, and that turns to heat in the walls, over the power that
        enters in the first port mode [-].
    leaked_error : (n,) array, optional
        Bound on the error of `leaked_power` [-]; None where the root of the leaked power has
        the bar `error`.

    Raises
    ------
    LinearSolveError
        If any number is not finite.
    ValueError
        If the shapes do not fit together.
    """

    frequency: Array
    port_modes: tuple[PortMode, ...]
    s: ComplexArray
    error: Array
    leaked_power: Array
    dissipated_power: Array
    leaked_error: Array | None = None

    def __post_init__(self) -> None:
        n, m = len(self.frequency), len(self.port_modes)
        if self.s.shape != (n, m, m):
            raise ValueError(f"s has shape {self.s.shape}; {(n, m, m)} fits its port modes")
        for name in ("error", "leaked_power", "dissipated_power"):
            array = getattr(self, name)
            if array.shape != (n,):
                raise ValueError(f"{name} has shape {array.shape}; {(n,)} fits the frequencies")
            if not np.isfinite(array).all():
                raise LinearSolveError(f"{name} of the scattering matrix is not finite")
        if not np.isfinite(self.s).all():
            worst = self.frequency[~np.isfinite(self.s).all(axis=(1, 2))][0]
            raise LinearSolveError(f"the scattering matrix is not finite at {worst / 1e9:g} GHz")

    @property
    def leaked_bar(self) -> Array:
        """Bound on the error of the leaked power, (n,); 0 where nothing leaks [-]."""
        if self.leaked_error is not None:
            return self.leaked_error
        return np.where(self.leaked_power > 0.0, power_bar(self.leaked_power, self.error), 0.0)

    @property
    def labels(self) -> tuple[str, ...]:
        """Labels of the port modes, as ``"1:TE10"``."""
        return tuple(mode.label for mode in self.port_modes)

    def index(self, label: str) -> int:
        """Return the row of the port mode with this label, as ``"2:TE10"``.

        Raises
        ------
        KeyError
            If there is no such port mode.
        """
        if label not in self.labels:
            raise KeyError(f"no port mode {label}; there are {', '.join(self.labels)}")
        return self.labels.index(label)

    def element(self, out: str, into: str) -> ComplexArray:
        """Return the wave out in one port mode for a unit wave into another, (n,).

        Examples
        --------
        ``element("2:TE10", "1:TE10")`` is S21 of the dominant mode.
        """
        return self.s[:, self.index(out), self.index(into)]

    @property
    def transmitted(self) -> int | None:
        """Row of the dominant mode at port 2; None for a part with one port."""
        rows = [i for i, mode in enumerate(self.port_modes) if mode.port == 2]
        return min(rows, key=lambda i: self.port_modes[i].cutoff) if rows else None

    @property
    def s11(self) -> ComplexArray:
        """Reflection of the first port mode, (n,)."""
        return self.s[:, 0, 0]

    @property
    def s21(self) -> ComplexArray:
        """Transmission of the first port mode into the dominant mode at port 2, (n,)."""
        row = self.transmitted
        if row is None:
            raise KeyError("the part has one port, so it transmits nothing")
        return self.s[:, row, 0]

    @property
    def vswr(self) -> Array:
        """Voltage standing-wave ratio at port 1, (n,)."""
        return vswr_of(self.s11)

    @property
    def return_loss_db(self) -> Array:
        """Return loss at port 1, (n,) [dB]."""
        return return_loss_of(self.s11)

    @property
    def insertion_loss_db(self) -> Array:
        """Insertion loss -20 log10 |S21|, (n,) [dB]."""
        return return_loss_of(self.s21)

    @property
    def leakage_db(self) -> Array:
        """Leaked over incident power, (n,) [dB], at least -300."""
        return 10.0 * np.log10(np.maximum(self.leaked_power, SMALLEST_AMPLITUDE**2))
