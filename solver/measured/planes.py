"""Where the reference planes of a measurement lie, found from its phase."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray

#: Farthest shift that is looked for [guide wavelengths], and steps a wavelength.
_FARTHEST, _STEPS = 8.0, 24
#: A shift that is not known to this part of a guide wavelength is not known.
_VAGUE = 0.125
#: Farthest that one plane is looked for from half of both shifts together [guide wavelengths].
_UNEVEN = 1.0
#: What a shift of one guide wavelength has to better of the squares, in units of the noise's.
_PRIOR = 10.0
_ROUNDS = 30


@dataclass(frozen=True, eq=False)
class PlaneFit:
    """Shifts of the reference planes that bring the computed values to the measured ones.

    Parameters
    ----------
    shift : (p,) array
        One a port: how far the measured plane lies outside the computed one [m].
    uncertainty : (p,) array
        Bound on its error; infinite where the trace does not tell it [m].
    total, total_uncertainty : float
        Sum of the shifts, and the bound on its error [m].
    misfit : float
        Sum of the weighted squares that are left.
    """

    shift: Array
    uncertainty: Array
    total: float
    total_uncertainty: float
    misfit: float


def shifted(s: ComplexArray, beta: Array, port: NDArray[np.int64], shift: Array) -> ComplexArray:
    """Return S seen from planes that lie farther outside.

    Parameters
    ----------
    s : (n, m, m) complex array
    beta : (n, m) array
        Phase constant of each mode [rad/m].
    port : (m,) int array
        Index of the port of each mode.
    shift : (p,) array
        [m]
    """
    turn = np.exp(-1j * beta * shift[port])
    return turn[:, :, None] * s * turn[:, None, :]


def fit_planes(
    measured: ComplexArray,
    computed: ComplexArray,
    beta: Array,
    port: NDArray[np.int64],
    weight: Array,
    grid: PlaneGrid | None = None,
) -> PlaneFit:
    """Fit the shift of every port's plane.

    Parameters
    ----------
    measured, computed : (n, m, m) complex array
    beta : (n, m) array
        [rad/m]
    port : (m,) int array
        Index of the port of each mode.
    weight : (m, m) array
        One over the deviation that is expected of each element.
    grid : PlaneGrid, optional
        Of this `beta` and `port`, where more than one fit needs it.

    Returns
    -------
    PlaneFit
        Its `uncertainty` is for a deviation of 1 in weighted units each way: twice the standard
        deviation that such noise gives.
    """
    ports = int(port.max()) + 1
    vague = _VAGUE * 2 * np.pi / float(np.median(beta[:, 0]))
    shift = (grid or PlaneGrid(beta, port)).best(measured, computed, weight)
    for _ in range(_ROUNDS):
        left, slope = _linear(measured, computed, beta, port, weight, shift)
        u, size, v = np.linalg.svd(slope, full_matrices=False)
        known = size > 2 / vague
        step = v[known].T @ ((u[:, known].T @ left) / size[known])
        shift = shift + step
        if np.abs(step).max(initial=0.0) < 1e-12:
            break
    left, slope = _linear(measured, computed, beta, port, weight, shift)
    _, size, v = np.linalg.svd(slope, full_matrices=False)
    known = size > 2 / vague
    misfit = float(left @ left)
    # where more than noise is left, it moves the planes more than noise does
    scatter = max(1.0, misfit / max(len(left) - ports, 1))
    covariance = scatter * (v[known].T / size[known] ** 2) @ v[known]
    # what no trace tells is left as it was, and a port that it touches is not known
    untold = (v[~known] ** 2).sum(axis=0) > 1e-6
    ones = np.ones(ports)
    total_known = bool(np.linalg.norm(v[~known] @ ones) < 1e-3 * np.sqrt(ports))
    return PlaneFit(
        shift=shift,
        uncertainty=np.where(untold, np.inf, 2 * np.sqrt(np.diag(covariance))),
        total=float(shift.sum()),
        total_uncertainty=2 * float(np.sqrt(ones @ covariance @ ones)) if total_known else np.inf,
        misfit=misfit,
    )


def lever(
    computed: ComplexArray, beta: Array, port: NDArray[np.int64], weight: Array, shift: Array
) -> tuple[Array, float]:
    """How far a shift moves for an error of 1 in every element that pulls the same way.

    Returns
    -------
    (p,) array, float
        Of each port, and of the sum of the shifts [m].
    """
    _, slope = _linear(computed, computed, beta, port, weight, 0 * shift)
    vague = _VAGUE * 2 * np.pi / float(np.median(beta[:, 0]))
    inverse = np.linalg.pinv(slope, rcond=min(0.5, 2 / vague / float(np.linalg.norm(slope, 2))))
    n = len(beta)
    each = np.broadcast_to(weight, (n, *weight.shape)).reshape(-1)
    scale = np.concatenate([each, each])
    return np.abs(inverse) @ scale, float(np.abs(inverse.sum(axis=0)) @ scale)


def _linear(
    measured: ComplexArray,
    computed: ComplexArray,
    beta: Array,
    port: NDArray[np.int64],
    weight: Array,
    shift: Array,
) -> tuple[Array, Array]:
    """Weighted differences, and their slope in each shift; real, then imaginary parts."""
    here = shifted(computed, beta, port, shift)
    left = ((measured - here) * weight).reshape(-1)
    columns = []
    for p in range(len(shift)):
        own = beta * (port == p)
        turn = own[:, :, None] + own[:, None, :]
        columns.append((-1j * turn * here * weight).reshape(-1))
    slope = np.stack(columns, axis=1)
    return np.concatenate([left.real, left.imag]), np.concatenate([slope.real, slope.imag])


class PlaneGrid:
    """Shifts that are tried first, for one part and one set of frequencies.

    Parameters
    ----------
    beta : (n, m) array
        [rad/m]
    port : (m,) int array
    """

    def __init__(self, beta: Array, port: NDArray[np.int64]) -> None:
        first = beta[:, 0]
        wavelength = 2 * np.pi / float(np.median(first))
        step = float(np.abs(np.diff(first)).max(initial=0.0))
        reach = wavelength / 8 if len(first) < 3 else _FARTHEST * wavelength
        if step > 0:
            # beyond this the phase turns by more than half a turn between two points
            reach = min(reach, 0.45 * np.pi / step)
        count = max(1, int(np.ceil(reach * _STEPS / wavelength)))
        self.places = np.arange(-count, count + 1) * (wavelength / _STEPS)
        self.prior = _PRIOR * (self.places / wavelength) ** 2
        self.rows = [int(np.flatnonzero(port == p)[0]) for p in range(int(port.max()) + 1)]
        sums = np.arange(-2 * count, 2 * count + 1) * (wavelength / _STEPS)
        self._waves: dict[tuple[int, int], ComplexArray] = {}
        for i in self.rows:
            for j in self.rows:
                same = [w for (k, _), w in self._waves.items() if (beta[:, k] == beta[:, j]).all()]
                mean = (beta[:, i] + beta[:, j]) / 2
                alike = (beta[:, i] == beta[:, j]).all() and same
                self._waves[i, j] = same[0] if alike else np.exp(1j * np.outer(sums, mean))

    def best(self, measured: ComplexArray, computed: ComplexArray, weight: Array) -> Array:
        """Return the shifts on the grid that leave the least, by the dominant modes, (p,) [m]."""

        def gain(i: int, j: int) -> Array:
            product = measured[:, i, j] * computed[:, i, j].conj() * weight[i, j] ** 2
            return np.asarray(2 * (self._waves[i, j] @ product).real)

        # one port is passed twice in reflection: every other of the sums
        own = [gain(i, i)[::2] - self.prior for i in self.rows]
        if len(self.rows) == 1:
            return np.array([self.places[int(np.argmax(own[0]))]])
        i, j = self.rows
        through = gain(i, j) + gain(j, i)
        index = np.arange(len(self.places))
        table = own[0][:, None] + own[1][None, :] + through[index[:, None] + index[None, :]]
        # a ripple of S11 must not pass for two planes far out that all but cancel
        uneven = np.abs(index[:, None] - index[None, :]) > 2 * _UNEVEN * _STEPS
        table[uneven] = -np.inf
        best = np.unravel_index(int(np.argmax(table)), table.shape)
        return np.array([self.places[best[0]], self.places[best[1]]])
