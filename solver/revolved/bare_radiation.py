"""What a bare horn radiates: the far field of E and H on a surface about it.

By reciprocity the far field in a direction is the reaction of the field on a closed surface with a
plane wave that comes from there. Before the aperture's plane the surface runs back along the guide
without end; behind it, it runs forward, the guide replaced by one that never ends, at which the
plane wave is scattered as exactly known. Both ways the tail runs through the absorbing layer, in
whose complex coordinates the product of both waves decays.
Source: R. F. Harrington, "Time-Harmonic Electromagnetic Fields", 1961, sections 3.8 (reciprocity),
5.9 (plane waves at a cylinder) and 5.1.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import simpson
from scipy.special import j0, j1, y0, y1

from geometries.arrays import Array, ComplexArray
from solver.fem.band_answers import BandAnswers
from solver.fem.error_bar import bar_of
from solver.fem.level_ladder import LevelResult
from solver.revolved.bare_conical_horn import BareConicalHorn, with_layer
from solver.revolved.surface_readings import Part, Samples, samples_about
from solver.waves.matched_ports import flux_of_first
from solver.waves.radiation import Radiation, radiation_from

#: The least angle from the axis, for the axis itself [rad].
_AXIS = 1e-5
#: Functions of orders 0 and 1, regular on the axis and not: these four are fast.
_PAIRS = (j0, j1), (y0, y1)
#: A change of the pattern that passes through zero at one angle is not believed there: part of the
#: largest before the aperture that counts at least.
_EVEN = 0.3


def bare_radiation(problem: BareConicalHorn, found: LevelResult, answers: BandAnswers) -> Radiation:
    """Evaluate what a bare horn radiates: all that is not thrown back, as nothing is lost.

    Parameters
    ----------
    problem : BareConicalHorn
    found : LevelResult
        Whose models watch the field about the horn.
    answers : BandAnswers
        At the listed frequencies.

    Returns
    -------
    Radiation
    """
    angle, ports = np.radians(pattern_degrees(problem.order)), len(problem.port_modes)
    degrees = range(found.order - len(found.levels) + 1, found.order + 1)
    compared = []
    for degree, model in zip(degrees, found.levels, strict=True):
        samples = samples_about(with_layer(found.mesh, degree))
        compared.append(_directive(problem, model, samples, answers.frequency, angle))
    changes = [_changed(b - a, angle) for a, b in pairwise(compared)]
    off = np.empty(changes[0].shape)
    for at in range(len(angle)):
        off[:, at] = bar_of([change[:, at] for change in changes], answers.least_ratio)
    # what the sweep leaves open of S it leaves open of the field
    size = np.abs(compared[-1]).max(axis=(1, 2))
    off += 2 * (answers.added * np.maximum(size, 1.0))[:, None]
    error = bar_of(answers.changes, answers.least_ratio) + answers.added
    back = np.sqrt((np.abs(answers.s[:, :ports, 0]) ** 2 * _travels(problem, answers)).sum(axis=1))
    power = 1.0 - back**2
    root = np.sqrt(power)[:, None, None]
    fields = compared[-1] / root
    # the directivity is over what leaves, which has a bar too
    bar = off[:, None] / root + np.abs(fields) * (back * error / power)[:, None, None]
    if problem.order:
        bar += np.abs(fields) * _missing(fields, angle)[:, None, None]
    return radiation_from(
        answers.frequency, (power, 2 * back * error + error**2), fields, bar, angle
    )


def _missing(fields: ComplexArray, angle: Array) -> Array:
    """How far the whole pattern is from what leaves, in amplitude and four times, (n,).

    The power that leaves is known from S alone: a fault of the surface or of the layer that all
    degrees share shows here.
    """
    both = 0.5 * (np.abs(fields) ** 2).sum(axis=1) * np.sin(angle)
    return np.asarray(2.0 * np.abs(0.5 * simpson(both, x=angle) - 1.0))


def _travels(problem: BareConicalHorn, answers: BandAnswers) -> NDArray[np.bool_]:
    squared = problem.squared_at(answers.frequency)
    return np.asarray(problem.modes.phase_constants(squared).real > 0)


def _changed(change: ComplexArray, angle: Array) -> Array:
    """Change (n, 2, a) of far fields in either plane, (n, a), nowhere far below the largest."""
    size = np.abs(change).max(axis=1)
    before = size[:, angle <= 0.5 * np.pi].max(axis=1, keepdims=True)
    return np.asarray(np.maximum(size, _EVEN * before))


def pattern_degrees(order: int) -> Array:
    """Angles from the axis at which patterns are given [deg].

    Notes
    -----
    A field that does not vary about the axis hangs on to the guide behind: there its far field
    goes as 1/(t ln t) in the angle t from the guide, which has no value on it.
    """
    return np.arange(0.0, 180.5 if order else 175.5, 1.0)


def _directive(
    problem: BareConicalHorn, model: Any, samples: Samples, frequency: Array, angle: Array
) -> ComplexArray:
    """Far field (n, 2, a) in both planes for unit power that enters; its square is 4 pi U."""
    squared = problem.squared_at(frequency)
    admittance = problem.admittance_at(squared)
    pairs = zip(model.impedance(squared), admittance, strict=True)
    flux = np.array([flux_of_first(z, y) for z, y in pairs])
    read = model.seen_of(squared, flux) / np.sqrt(admittance[:, :1])
    fields = []
    for k, row in zip(np.sqrt(squared), read, strict=True):
        electric, magnetic = _fields_read(row, samples, problem.order, k)
        far = far_field(samples, electric, magnetic, problem, k, angle)
        # of a wave of unit amplitude 1/(2 eta k) times 2 pi, or pi, enters
        fields.append(np.sqrt((4.0 if problem.order else 2.0) * k) * far)
    return np.array(fields)


def _fields_read(
    read: ComplexArray, samples: Samples, order: int, k: float
) -> tuple[ComplexArray, ComplexArray]:
    """E and eta0 H along z, r and about the axis, (3, w) each."""
    parts = read.reshape(-1, len(samples.z))
    if order:
        return parts[:3], 1j / k * parts[3:]
    none = np.zeros_like(parts[0])
    electric = np.array([parts[2], -parts[1], none]) / (1j * k)
    return electric, np.array([none, none, parts[0]])


def far_field(
    samples: Samples,
    electric: ComplexArray,
    magnetic: ComplexArray,
    problem: BareConicalHorn,
    k: float,
    angle: Array,
) -> ComplexArray:
    """Far field (2, a) along theta in the plane of E, and about the axis in that of H.

    Parameters
    ----------
    samples : Samples
    electric, magnetic : (3, w) complex array
        E and eta0 H on the surface, along z, r and about the axis.
    problem : BareConicalHorn
    k : float
        [rad/m]
    angle : (a,) array
        From the axis [rad].

    Returns
    -------
    (2, a) complex array
        What stands before exp(-j k r)/r.

    Notes
    -----
    F = (j k/4 pi) INT (Ew x H - E x Hw) n dS with the plane wave Ew, Hw that comes from there; of
    it the part of the horn's order about the axis counts. A field that does not vary about the
    axis has the same theta component in both planes.
    """
    order, radius = problem.order, problem.horn.guide.radius
    area = samples.step * samples.r * (np.pi if order else 2 * np.pi)
    area = np.where(samples.part == Part.RING, -area, area)
    found = np.zeros((2, len(angle)), dtype=complex)
    forward = angle <= 0.5 * np.pi
    for here, tail, end, cylinder in (
        (forward, Part.BEHIND, Part.DISC, 0.0),
        (~forward, Part.BEFORE, Part.RING, radius),
    ):
        theta = np.clip(angle[here], _AXIS, np.pi - _AXIS)[:, None]
        tube, flat = np.isin(samples.part, (Part.BETWEEN, tail)), samples.part == end
        e, h = electric * area, magnetic * area
        turns = np.exp(1j * k * np.cos(theta) * samples.z[tube])
        ez, ephi, hz, hphi = (turns @ part[tube] for part in (e[0], e[2], h[0], h[2]))
        turn = np.exp(1j * k * np.cos(theta[:, 0]) * samples.z[flat][0])
        e, h = e[:, flat], h[:, flat]
        for plane in range(2 if order else 1):
            ew, hw = _plane_wave(plane, order, k, theta, samples.r[tube][:1], cylinder)
            around = ew[2][:, 0] * hz - ew[0][:, 0] * hphi - hw[0][:, 0] * ephi + hw[2][:, 0] * ez
            ew, hw = _plane_wave(plane, order, k, theta, samples.r[flat], cylinder)
            along = ew[1] @ h[2] - ew[2] @ h[1] - hw[2] @ e[1] + hw[1] @ e[2]
            found[plane, here] = around + along * turn
    if not order:
        found[0, angle == 0] = 0.0
        found[1] = found[0]
    return 1j * k / (4 * np.pi) * found


def _plane_wave(
    plane: int, order: int, k: float, theta: Array, r: Array, cylinder: float
) -> tuple[list[ComplexArray], list[ComplexArray]]:
    """E and eta0 H along z, r and about the axis of the part of an order of a plane wave, at z = 0.

    It comes from theta (a, 1) and is polarised along theta (plane 0) or about the axis (1); it is
    scattered at an endless cylinder of the given radius, unless that is 0. Each is (a, len(r)).

    Notes
    -----
    By E_z or eta0 H_z = u, which is -sin(theta) J_0, or -2j sin(theta) J_1 times sin or cos of
    the angle about the axis; the others follow by its derivatives.
    """
    across, along = k * np.sin(theta), k * np.cos(theta)
    x = across * r
    value, slope = _with_slope(order, x, j0, j1)
    if cylinder:
        # H(2) = J - j Y; the wall asks for u = 0, or for du/dr = 0
        outwards = [
            a - 1j * b for a, b in zip((value, slope), _with_slope(order, x, y0, y1), strict=True)
        ]
        there = [_with_slope(order, across * cylinder, *pair)[plane] for pair in _PAIRS]
        share = there[0] / (there[0] - 1j * there[1])
        value, slope = value - share * outwards[0], slope - share * outwards[1]
    size = -np.sin(theta) * (2j if order else 1.0)
    u, by_r = size * value, size * slope * across
    turned = order * u / r
    none = np.zeros_like(u)
    first, second = 1j * along / across**2, 1j * k / across**2
    if plane == 0:
        # E_z = u sin: d/dphi is u cos
        electric = [u, first * by_r, first * turned]
        return electric, [none, second * turned, -second * by_r]
    # H_z = u cos: d/dphi is -u sin
    magnetic = [u, first * by_r, -first * turned]
    return [none, second * turned, second * by_r], magnetic


def _with_slope(order: int, x: Array, zeroth: Any, first: Any) -> tuple[Array, Array]:
    """A cylinder function of order 0 or 1, and its derivative."""
    if order == 0:
        return zeroth(x), -first(x)
    value = first(x)
    return value, zeroth(x) - value / x
