"""A measured part beside the computed one: consistent within both uncertainties, or not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from solver.measured.causes import Cause, detour_of, likely_causes
from solver.measured.consistency import DOUBT, FINEST, verdict_of
from solver.measured.file_ports import End, dominant_alone, paired
from solver.measured.noise import noise_of, quantile
from solver.measured.planes import PlaneFit, PlaneGrid, fit_planes, lever, shifted
from solver.measured.touchstone_file import Measurement
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.scattering import ScatteringMatrix

Planes = Literal["fitted", "given"]

#: An order of ports, or a sign, has to be this much better in squares to be taken.
_BETTER = 50.0


@dataclass(frozen=True, eq=False)
class MeasuredComparison:
    """A measured part against the computed one, over the frequencies they share.

    Parameters
    ----------
    measurement : Measurement
    labels : tuple of str
        Port modes that are compared, as ``"1:TE10"``.
    frequency : (n,) array
        [Hz]
    measured : (n, m, m) complex array
        In the order of the study's ports, with the sign that fits.
    computed : (n, m, m) complex array
        Seen from the reference planes of the measurement.
    bar : (n,) array
        Bound on the error of `computed`.
    noise : (m, m) array
        Standard deviation of each element, real and imaginary part each; NaN where the
        uncertainty was given, or could not be told.
    given : float or None
        Uncertainty of the measurement that was given.
    margin : float
        Deviations within which noise alone stays.
    consistent : {"yes", "no", "cannot tell"}
    planes : {"fitted", "given"}
    fit : PlaneFit
        Of the reference planes, also where those of the file were taken as given.
    shift_bound : (p,) array
        Bound on the error of each shift, of all sources [m].
    total_bound : float
        And on that of their sum [m].
    swapped : bool
        Whether the file's port 1 is the study's port 2.
    causes : tuple of Cause
        What the difference looks like, most telling first.
    reasons : tuple of str
    """

    measurement: Measurement
    labels: tuple[str, ...]
    frequency: Array
    measured: ComplexArray
    computed: ComplexArray
    bar: Array
    noise: Array
    given: float | None
    margin: float
    consistent: str
    planes: Planes
    fit: PlaneFit
    shift_bound: Array
    total_bound: float
    swapped: bool
    causes: tuple[Cause, ...] = ()
    reasons: tuple[str, ...] = field(default=())

    @property
    def difference(self) -> Array:
        """Size of measured less computed, (n, m, m)."""
        return np.asarray(np.abs(self.measured - self.computed))

    @property
    def allowed(self) -> Array:
        """Sum of both uncertainties, (n, m, m)."""
        noise = np.full_like(self.noise, self.given) if self.given else self.margin * self.noise
        return self.bar[:, None, None] + noise[None]

    @property
    def largest(self) -> tuple[float, int, int, int]:
        """The largest difference, and where: point, row and column."""
        difference = self.difference
        n, i, j = np.unravel_index(int(np.argmax(difference)), difference.shape)
        return float(difference[n, i, j]), int(n), int(i), int(j)


@dataclass(frozen=True, eq=False)
class _Trial:
    measured: ComplexArray
    fit: PlaneFit
    misfit: float
    swapped: bool
    turned: bool


def compare(
    computed: ScatteringMatrix,
    measurement: Measurement,
    *,
    axis_length: float,
    planes: Planes = "fitted",
    uncertainty: float | None = None,
    end: End = "matched",
) -> MeasuredComparison:
    """Judge whether a measured part is the computed one.

    Parameters
    ----------
    computed : ScatteringMatrix
        At the frequencies of the measurement.
    measurement : Measurement
        Within the band of the study.
    axis_length : float
        Length of the part between its reference planes, for words alone [m].
    planes : {"fitted", "given"}
        Whether the reference planes of the file may lie elsewhere than those of the study.
    uncertainty : float, optional
        Bound on the error of every measured S-parameter, noise included [-]; without it the
        noise of the file is all that is known.
    end : {"matched", "short"}
        What port 2 ended in while a part with two ports was measured at one.

    Returns
    -------
    MeasuredComparison

    Raises
    ------
    StudyError
        If the file has other ports than the part.
    """
    measurement = dominant_alone(computed, measurement)
    modes, s = paired(computed, measurement, end)
    frequency = computed.frequency
    cutoff = np.array([mode.cutoff for mode in modes])
    beta = 2 * np.pi / SPEED_OF_LIGHT * np.sqrt(frequency[:, None] ** 2 - cutoff**2)
    port = np.array([mode.port - 1 for mode in modes])
    noise = _noise(measurement.s, s, uncertainty)
    bar = computed.error * (2.0 if end == "short" and measurement.ports == 1 else 1.0)
    weight = _weight(noise, bar, uncertainty)
    best = _best_trial(measurement.s, s, beta, port, weight, planes)
    fitted = shifted(s, beta, port, best.fit.shift)
    there = fitted if planes == "fitted" else s
    # with the planes in place the difference is smoothest, and noise stands out best
    noise = _noise(best.measured, fitted, uncertainty)
    bounds, total = _shift_bounds(best.fit, s, beta, port, weight, bar, uncertainty)
    readings = noise.size * len(frequency)
    verdict, reasons = verdict_of(best.measured - there, there, bar, noise, uncertainty, readings)
    comparison = MeasuredComparison(
        measurement=measurement,
        labels=tuple(mode.label for mode in modes),
        frequency=frequency,
        measured=best.measured,
        computed=there,
        bar=bar,
        noise=noise,
        given=uncertainty,
        margin=quantile(readings, DOUBT),
        consistent=verdict,
        planes=planes,
        fit=best.fit,
        shift_bound=bounds,
        total_bound=total,
        swapped=best.swapped,
    )
    causes = likely_causes(
        best.measured,
        fitted,
        s,
        beta,
        comparison.allowed,
        best.fit,
        shift_bound=bounds,
        total_bound=total,
        steady=bar + (uncertainty or 0.0),
        axis_length=axis_length,
        detour=detour_of(computed, beta[:, 0], axis_length),
        end=end,
    )
    told = (*measurement.notes, *_found(best, measurement), *reasons)
    return replace(comparison, causes=causes, reasons=told)


def _noise(measured: ComplexArray, computed: ComplexArray, uncertainty: float | None) -> Array:
    m = measured.shape[1]
    if uncertainty is not None:
        return np.full((m, m), np.nan)
    return np.array(
        [[noise_of((measured - computed)[:, i, j]) for j in range(m)] for i in range(m)]
    )


def _weight(noise: Array, bar: Array, uncertainty: float | None) -> Array:
    expected = np.full_like(noise, uncertainty) if uncertainty else np.nan_to_num(noise, nan=0.01)
    return np.asarray(1 / np.maximum(expected + float(np.median(bar)), FINEST))


def _best_trial(
    measured: ComplexArray,
    computed: ComplexArray,
    beta: Array,
    port: NDArray[np.int64],
    weight: Array,
    planes: Planes,
) -> _Trial:
    """The order of ports, and the sign of transmission, that fit; as in the file where both do."""
    two = measured.shape[1] == 2 and len(set(port.tolist())) == 2
    trials, grid = [], PlaneGrid(beta, port)
    for swapped in (False, True) if two else (False,):
        for turned in (False, True) if two else (False,):
            s = measured[:, ::-1, ::-1] if swapped else measured
            if turned:
                s = s * np.array([[1, -1], [-1, 1]])
            own = weight[::-1, ::-1] if swapped else weight
            fit = fit_planes(s, computed, beta, port, own, grid)
            given = float((np.abs((s - computed) * own) ** 2).sum())
            misfit = fit.misfit if planes == "fitted" else given
            trials.append(_Trial(s, fit, misfit, swapped, turned))
    best = trials[0]
    for other in trials[1:]:
        if other.misfit < best.misfit - _BETTER and other.misfit < 0.8 * best.misfit:
            best = other
    return best


def _found(best: _Trial, measurement: Measurement) -> tuple[str, ...]:
    found = []
    if best.swapped:
        found.append("port 1 of the file is port 2 of the study: its ports were swapped")
    if best.turned:
        found.append("the sign of S21 in the file is reversed: its port 2 counts the other way up")
    return tuple(found)


def _shift_bounds(
    fit: PlaneFit,
    computed: ComplexArray,
    beta: Array,
    port: NDArray[np.int64],
    weight: Array,
    bar: Array,
    uncertainty: float | None,
) -> tuple[Array, float]:
    each, total = lever(computed, beta, port, weight, fit.shift)
    systematic = float(bar.max()) + (uncertainty or 0.0)
    random = 0.0 if uncertainty else 1.0
    alone, both = fit.uncertainty.copy(), fit.total_uncertainty
    alone[np.isfinite(alone)] *= random
    both = both * random if np.isfinite(both) else both
    return alone + each * systematic, both + total * systematic
