"""What a horn radiates: power, directivity along the axis, patterns in both planes.

The far field is the sum of the spherical waves that leave, whose amplitudes are part of every
answer; so each number has its bar from the same successive spaces as S.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.fem.band_answers import BandAnswers
from solver.fem.error_bar import bar_after, bar_of, changes_of
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.spherical_waves import RevolvedWaves, SphericalWaves

#: Angles from the axis at which patterns are given [deg].
PATTERN_DEGREES = np.arange(0.0, 90.5, 1.0)
#: Just beyond the aperture's plane [rad].
_SIDEWAYS = 0.5 * np.pi + 1e-9
#: Directivity below this part of the largest is round-off.
_NOTHING = 1e-12


@dataclass(frozen=True, eq=False)
class Radiation:
    """What leaves a horn over a band.

    Parameters
    ----------
    frequency : (n,) array
        [Hz]
    power : (n,) array
        Radiated over incident power, from the integral of the pattern [-].
    power_error : (n,) array
        Bound on its error [-].
    axial, axial_error : (n,) array
        Directivity along the axis over isotropic, and its bar [-].
    largest, largest_error : (n,) array
        Directivity where it is largest in the two planes, before the aperture's own, and its bar
        [-]. Along an endless guide behind, that of TM01 has no bound.
    largest_at : (n,) array
        Where that is, from the axis [rad].
    angle : (a,) array
        From the axis [rad].
    at : (p,) array
        Frequencies of the patterns [Hz].
    e_plane, h_plane : (p, a) array
        Directivity over isotropic [-].
    pattern_error : (p, a) array
        Bound on the error of both [-].
    """

    frequency: Array
    power: Array
    power_error: Array
    axial: Array
    axial_error: Array
    largest: Array
    largest_error: Array
    largest_at: Array
    angle: Array
    at: Array
    e_plane: Array
    h_plane: Array
    pattern_error: Array


def radiation_of(
    answers: BandAnswers, waves: SphericalWaves | RevolvedWaves, ports: int, weights: Array
) -> Radiation:
    """Evaluate what a horn radiates.

    Parameters
    ----------
    answers : BandAnswers
        Of the solved horn, at the listed frequencies, with all compared answers.
    waves : SphericalWaves or RevolvedWaves
    ports : int
        Modes in the guide, which come before the waves.
    weights : (m,) array
        Those of the compared answers, see `LevelProblem.weights`.
    """
    angle = np.radians(PATTERN_DEGREES)
    weight = weights[ports:] * weights[0]
    squared = (2 * np.pi * answers.frequency / SPEED_OF_LIGHT) ** 2
    phase = waves.far_phases(squared)
    compared = [answer[:, ports:, 0] / weight * phase for answer in answers.compared]
    added = answers.added / weight.min()
    error = _bar(answers, compared) + added
    amplitudes = answers.s[:, ports:, 0] * phase
    power = (np.abs(amplitudes) ** 2).sum(axis=1)
    size = np.sqrt(power)
    # all waves together may be off by the root of their number times the bar of one
    total = error * np.sqrt(np.count_nonzero(np.abs(amplitudes).max(axis=0) > 1e-9))
    fields = [_fields(a, waves, angle) for a in compared]
    best = _fields(amplitudes, waves, angle)
    off = _bar(answers, fields) + 2 * added / size
    powers = power, 2 * size * total + total**2
    return radiation_from(answers.frequency, powers, best, off[:, None, None], angle)


def _bar(answers: BandAnswers, compared: list[ComplexArray]) -> Array:
    """Bound on the error of the last of the solved answers, (n,)."""
    changes = changes_of(compared)
    if answers.ahead:  # the next is told of S alone
        return bar_after(changes[-1])
    return bar_of(changes, answers.least_ratio)


def radiation_from(
    frequency: Array, power: tuple[Array, Array], fields: ComplexArray, off: Array, angle: Array
) -> Radiation:
    """Bring far fields into the shape that comes after.

    Parameters
    ----------
    frequency : (n,) array
        [Hz]
    power : two (n,) arrays
        Radiated over incident power, and its bar [-].
    fields : (n, 2, a) complex array
        In the E and the H plane; the square is the directivity.
    off : (n, 1 or 2, 1 or a) array
        Bound on their error.
    angle : (a,) array
        From the axis [rad].
    """
    directivity = np.abs(fields) ** 2
    bars = 2 * np.abs(fields) * off + off**2
    count = len(frequency)
    n = np.arange(count)
    ahead = directivity[:, :, angle <= _SIDEWAYS]
    plane, place = np.divmod(ahead.reshape(count, -1).argmax(axis=1), ahead.shape[2])
    chosen = np.unique([0, count // 4, count // 2, 3 * count // 4, count - 1])
    return Radiation(
        frequency=frequency,
        power=power[0],
        power_error=power[1],
        axial=directivity[:, 0, 0],
        axial_error=bars[:, 0, 0],
        largest=directivity[n, plane, place],
        largest_error=bars[n, plane, place],
        largest_at=angle[place],
        angle=angle,
        at=frequency[chosen],
        e_plane=directivity[chosen, 0],
        h_plane=directivity[chosen, 1],
        pattern_error=bars[chosen].max(axis=1),
    )


def _fields(
    amplitudes: ComplexArray, waves: SphericalWaves | RevolvedWaves, angle: Array
) -> ComplexArray:
    """Far field (n, 2, a) in the E and the H plane; its square is the directivity.

    In the E plane, that of E on the axis, it lies along theta, in the H plane along phi; a field
    that does not vary about the axis is the same in both.
    """
    up, across = waves.far_field(angle, np.full_like(angle, 0.5 * np.pi))[0], None
    if isinstance(waves, RevolvedWaves):
        across = up
    else:
        across = waves.far_field(angle, np.zeros_like(angle))[1]
    far = np.stack([amplitudes @ up, amplitudes @ across], axis=1)
    power = (np.abs(amplitudes) ** 2).sum(axis=1)
    scale = np.sqrt(4 * np.pi / power)[:, None, None]
    return np.asarray(np.where(np.abs(far * scale) ** 2 > _NOTHING, far * scale, 0.0))
