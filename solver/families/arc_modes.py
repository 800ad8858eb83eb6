"""Reflection of bends of constant radius from the modes of the curved guide.

In a curved guide the field is a sum of modes f(r) cos(nu phi) or f(r) sin(nu phi). Across the guide
they are found by finite elements in r alone; along the arc they are exact, and so is the straight
guide behind it. A bend of any radius and angle costs some 10 ms, so that a search over radii can
look at all of them; what decides is solved by elements in the plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev

from geometries.arrays import Array, ComplexArray
from geometries.shapes.bends import Bend
from solver.families.arc_elements import across_arc
from solver.waves.matched_ports import outgoing_root
from solver.waves.plane_modes import PlaneModes

#: Degrees of the elements whose answers are compared: two apart, for the fall goes in pairs.
_DEGREES = (5, 7, 9, 11)
#: What the change from one to the next is multiplied by.
_SAFETY = 4.0
#: Frequencies at which a short bend is solved at first, and most times that of those.
_LEAST_NODES, _MOST_TIMES = 20, 8
#: Last coefficients of the polynomial over the band that are taken for its error.
_TAIL = 3
_ROUND_OFF = 2e-9
#: Places a node at which the polynomial is looked at for its largest value.
_PLACES = 6
#: A band has to end below this part of the cutoff of the next mode that a bend excites.
_BELOW_NEXT = 0.98


@dataclass(frozen=True, eq=False)
class ArcBand:
    """What the halves of a bend reflect over a band, as polynomials.

    Parameters
    ----------
    ends : (float, float)
        Of the band [Hz].
    series : (2, n) complex array
        Coefficients for the half that is even about the middle of the bend and the odd one.
    bars : (2,) array
        Bounds on the errors of S11 and S21 anywhere in the band.
    """

    ends: tuple[float, float]
    series: ComplexArray
    bars: Array

    def scattering(self, frequency: Array) -> ComplexArray:
        """S11 and S21 of the solved field, (2, n), at frequencies (n,) of the band [Hz]."""
        low, high = self.ends
        x = (2 * np.asarray(frequency) - low - high) / (high - low)
        return _both(np.asarray(chebyshev.chebval(x, self.series.T), dtype=complex))


def _both(halves: ComplexArray) -> ComplexArray:
    """S11 and S21 from what the even and the odd half reflect."""
    return np.asarray(0.5 * np.array([halves[0] + halves[1], halves[0] - halves[1]]))


def arc_band(bend: Bend, ends: tuple[float, float], closest: float) -> ArcBand | None:
    """Solve a bend of constant radius over a band.

    Parameters
    ----------
    bend : Bend
        For which `has_arc_modes` holds.
    ends : (float, float)
        Of the band [Hz].
    closest : float
        Bar that need not be bettered by more frequencies [-].

    Returns
    -------
    ArcBand or None
        None where the reflection changes too fast over the band, or may hide a resonance.

    Notes
    -----
    A polynomial through some frequencies stands for all. What none of them shows is counted: with
    the dominant mode shut out, each half of the bend resonates wherever it reflects -1, and how
    many resonances it has up to a frequency is told by the signs at that frequency alone.
    """
    low, high = ends
    # the reflection turns once with every half guide wavelength that the arc gains over the band
    count = _LEAST_NODES + int(np.pi * half_waves_gained(bend, low, high))
    most = _MOST_TIMES * count
    while True:
        nodes = np.cos(np.pi * (np.arange(count) + 0.5) / count)
        frequency = 0.5 * (low + high) + 0.5 * (high - low) * nodes
        coarse = _Arc(bend, frequency, _DEGREES[0]).reflected
        tail = _TAIL * float(np.abs(_series(coarse)[:, -_TAIL:]).max())
        if tail <= 0.1 * closest / _SAFETY:
            break
        count *= 2
        if count > most:
            return None
    for degree in _DEGREES[1:]:
        finer = _Arc(bend, frequency, degree).reflected
        change = np.abs(_both(finer - coarse)).max(axis=1)
        bars = _SAFETY * (change + tail) + _ROUND_OFF
        coarse = finer
        if bars.max() <= closest:
            break
    series = _series(finer)
    if not np.array_equal(_seen(series), _Arc(bend, np.array(ends), degree).counted):
        return None
    return ArcBand(ends, series, bars)


def half_waves_gained(bend: Bend, low: float, high: float) -> float:
    """Half guide wavelengths that an arc gains from one frequency to another [Hz]."""
    modes = PlaneModes(bend.guide, bend.plane, 1)
    beta = modes.phase_constants(modes.wavenumber_squared(np.array([low, high])))[:, 0].real
    return float(bend.arc_length * (beta[1] - beta[0]) / np.pi)


def worst_by_modes(bend: Bend, ends: tuple[float, float], closest: float) -> tuple[float, float]:
    """Largest |S11| of a bend of constant radius anywhere in a band, and its bar.

    Parameters
    ----------
    bend, ends, closest
        As those of `arc_band`.

    Returns
    -------
    float, float
        The bar is 1 where `arc_band` gives none.
    """
    found = arc_band(bend, ends, closest)
    if found is None:
        return 1.0, 1.0
    return _largest(found.series.mean(axis=0)), float(found.bars[0])


def has_arc_modes(bend: Bend, band: tuple[float, float]) -> bool:
    """Whether a bend is an arc in which one mode alone propagates over a band.

    Parameters
    ----------
    bend : Bend
    band : (float, float)
        Ends of the band [Hz].
    """
    following = PlaneModes(bend.guide, bend.plane, 2).port_modes(1)[1].cutoff
    return bend.profile == "constant" and band[0] < band[1] < _BELOW_NEXT * following


class _Arc:
    """A bend of constant radius at frequencies (n,), in modes.

    Attributes
    ----------
    reflected : (2, n) complex array
        What the two halves of the bend reflect.

    Notes
    -----
    In the plane the field u, E across it or H, obeys Laplace(u) + q u = 0. With elements v across
    the guide, A = int r v' v', B = int r v v, C = int v v / r, modes f of the arc obey
    (q B - A) f = nu^2 C f. Both halves of the bend are alike, u being even or odd about its middle:
    fluxes g into an end bring the field f R f^T g there, in modes of the straight guide as the
    same elements have them, with R = -cot(nu phi/2) / nu or tan(nu phi/2) / nu. S11 is the mean of
    what the two reflect.
    """

    def __init__(self, bend: Bend, frequency: Array, degree: int) -> None:
        squared = PlaneModes(bend.guide, bend.plane, 1).wavenumber_squared(frequency)
        across = across_arc(bend, 2 * np.pi / np.sqrt(float(squared.max())), degree)
        self._lower = np.linalg.cholesky(across.angular)
        inverse = np.linalg.inv(self._lower)
        stiffness = inverse @ across.stiffness @ inverse.T
        mass = inverse @ across.mass @ inverse.T
        values, self._vectors = np.linalg.eigh(squared[:, None, None] * mass - stiffness)
        self._fields = inverse.T @ self._vectors
        self._nu, self._half = outgoing_root(values), 0.5 * bend.angle
        self._beta = outgoing_root(squared[:, None] - across.transverse)
        # without overflow where nu is imaginary
        turn = np.exp(-2j * self._half * self._nu)
        tangent = -1j * (1 - turn) / (1 + turn)
        self._responses = (-1 / (tangent * self._nu), tangent / self._nu)
        self.reflected = np.array([self._reflection(each) for each in self._responses])

    def _reflection(self, response: ComplexArray) -> ComplexArray:
        """Reflection of the first mode by half of the bend, (n,); see `matched_scattering`."""
        into = np.sqrt(self._beta)[:, :, None] * self._fields
        z = 1j * (into * response[:, None, :]) @ into.swapaxes(1, 2)
        unit = np.eye(z.shape[-1])
        return np.asarray(np.linalg.solve(unit + z, (z - unit)[:, :, :1])[:, 0, 0])

    @property
    def counted(self) -> Array:
        """Resonances (2,) of the halves between the first and the last frequency."""
        resonances = self.resonances
        return np.asarray(resonances[:, -1] - resonances[:, 0])

    @property
    def resonances(self) -> Array:
        """Resonances (2, n) of the halves below each frequency, the first mode shut out.

        Those of the arc alone, its ends shut, and as many more as the ends, loaded with the modes
        that decay in the guide, have negative eigenvalues.
        """
        found, decay = [], np.abs(self._beta[:, 1:])
        shut = self._half * self._nu.real / np.pi
        for response, offset in zip(self._responses, (0.5, 0.0), strict=True):
            ends = (self._lower @ self._vectors) / np.sqrt(response + 0j)[:, None, :]
            ends = (ends @ ends.swapaxes(1, 2)).real[:, 1:, 1:]
            ends += decay[:, :, None] * np.eye(decay.shape[1])
            negative = (np.linalg.eigvalsh(ends) < 0).sum(axis=1)
            found.append(np.floor(shut + offset).sum(axis=1) + negative)
        return np.array(found)


def _seen(series: ComplexArray) -> Array:
    """How often polynomials (2, n) of modulus one pass through -1 between -1 and 1, (2,)."""
    x = np.cos(np.linspace(np.pi, 0.0, _PLACES * series.shape[1]))
    phase = np.unwrap(np.angle(-chebyshev.chebval(x, series.T)), axis=1)
    # it falls as the frequency rises
    return np.asarray(-np.diff(np.floor(phase[:, [0, -1]] / (2 * np.pi)))[:, 0])


def _series(values: ComplexArray) -> ComplexArray:
    """Coefficients (c, n) of the polynomials through values (c, n) at Chebyshev's points."""
    n = values.shape[1]
    terms = 2.0 / n * np.cos(np.pi * np.outer(np.arange(n) + 0.5, np.arange(n)) / n)
    terms[:, 0] *= 0.5
    return np.asarray(values @ terms)


def _largest(series: ComplexArray) -> float:
    """Largest modulus of a polynomial between -1 and 1."""
    x = np.cos(np.linspace(np.pi, 0.0, _PLACES * len(series)))
    size = np.abs(chebyshev.chebval(x, series))
    top = int(np.argmax(size))
    if 0 < top < len(x) - 1:
        # the parabola through three neighbours stands highest there
        parabola = np.polyfit(x[top - 1 : top + 2] - x[top], size[top - 1 : top + 2], 2)
        if parabola[0] < 0:
            there = np.clip(x[top] - 0.5 * parabola[1] / parabola[0], x[top - 1], x[top + 1])
            return max(float(size[top]), float(np.abs(chebyshev.chebval(there, series))))
    return float(size[top])
