"""Largest electric field in a part, and the power at which it reaches that of breakdown.

The field is compared with the peak field of the same wave alone in straight guide. Its
size is the largest that it reaches during a period, the long semi-axis of its ellipse.
Near a sharp edge that the field crosses it grows without bound, as the distance to the
power -1/3 at a right angle, so that a real edge's radius decides; there it is read a
fixed distance away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import j1, jn_zeros

from geometries.arrays import Array
from geometries.shapes.part import known_part
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.waves.guide_power import AIR_BREAKDOWN
from solver.waves.resonances import Resonance
from solver.waves.scattering import ScatteringMatrix
from solver.waves.space_modes import SpaceMode, space_modes

#: Cells smaller than this fraction of the guide's smaller side lie next to a sharp edge.
EDGE_DISTANCE = 0.02
#: Frequencies at which the field is read first, and rounds of reading about the highest.
_READINGS, _ROUNDS = 7, 6
#: Rise between readings that is not followed, over the reading.
_FLAT = 1e-3


@dataclass(frozen=True)
class PeakField:
    """The largest electric field in a part over a band.

    Parameters
    ----------
    ratio : float
        Largest field over the peak field of the matched straight guide at port 1, for the
        same power [-].
    frequency : float
        Where that is [Hz].
    field_limit : float
        Least power in the band at which the largest field reaches that of breakdown [W]; no
        rating, see `solver.waves.guide_power.CATALOGUE_SHARE`.
    field_limit_frequency : float
        Where that is [Hz].
    breakdown_field : float
        Amplitude at which the gas breaks down [V/m].
    depends_on_edge_radius : bool
        Whether the field has no bound at a sharp edge of the part.
    note : str
        What the numbers leave out.
    """

    ratio: float
    frequency: float
    field_limit: float
    field_limit_frequency: float
    breakdown_field: float
    depends_on_edge_radius: bool
    note: str


def peak_field(
    part: Any,
    ratios: Callable[[Array], Array],
    scattering: ScatteringMatrix,
    resonances: Sequence[Resonance] = (),
    breakdown_field: float = AIR_BREAKDOWN,
) -> PeakField:
    """Read the largest field of a solved part over its band.

    Parameters
    ----------
    part : object
    ratios : callable
        Largest field over that of the straight guide at frequencies (n,) [Hz].
    scattering : ScatteringMatrix
        Over the whole band.
    resonances : sequence of Resonance
        Those in the band.
    breakdown_field : float
        [V/m]; by default 30 kV/cm, dry air at sea level.

    Returns
    -------
    PeakField

    Notes
    -----
    The field is read at a few frequencies spread over the band, at the worst match and about
    every driven resonance; then between the neighbours of the highest readings, until a parabola
    through three of them rises no further.
    """
    frequency = _first_readings(scattering, resonances)
    ratio = ratios(frequency)
    for _ in range(_ROUNDS):
        more = _about_the_top(frequency, ratio)
        if not more.size:
            break
        frequency = np.concatenate([frequency, more])
        ratio = np.concatenate([ratio, ratios(more)])
        order = np.argsort(frequency)
        frequency, ratio = frequency[order], ratio[order]
    matched = matched_breakdown_power(part.guide, frequency, breakdown_field, part.entering_mode)
    power = matched / ratio**2
    highest, least = int(np.argmax(ratio)), int(np.argmin(power))
    sharp = field_depends_on_edges(part)
    return PeakField(
        float(ratio[highest]),
        float(frequency[highest]),
        float(power[least]),
        float(frequency[least]),
        breakdown_field,
        sharp,
        _note(part, sharp),
    )


def _first_readings(scattering: ScatteringMatrix, resonances: Sequence[Resonance]) -> Array:
    low, high = float(scattering.frequency[0]), float(scattering.frequency[-1])
    if low == high:
        return scattering.frequency[:1]
    spread = np.linspace(low, high, min(len(scattering.frequency), _READINGS))
    worst = float(scattering.frequency[int(np.argmax(np.abs(scattering.s11)))])
    about = [
        found.frequency + step * found.width
        for found in resonances
        if found.driven
        for step in (-1.0, 0.0, 1.0)
    ]
    listed = np.unique(np.concatenate([spread, [worst], about]))
    return np.asarray(listed[(listed >= low) & (listed <= high)])


def _about_the_top(frequency: Array, ratio: Array) -> Array:
    """Frequencies beside the highest reading at which it may be exceeded."""
    at = int(np.argmax(ratio))
    if len(frequency) < 3 or at in (0, len(frequency) - 1):
        return np.empty(0)
    (x0, x1, x2), (y0, y1, y2) = frequency[at - 1 : at + 2], ratio[at - 1 : at + 2]
    into, out = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
    curvature = (out - into) / (x2 - x0)
    slope = into + curvature * (x1 - x0)
    if curvature >= 0 or slope**2 <= -4 * curvature * _FLAT * y1:
        return np.empty(0)
    top = x1 - slope / (2 * curvature)
    chosen = [top, 0.5 * (x0 + x1), 0.5 * (x1 + x2)]
    return np.array([x for x in chosen if x0 < x < x2 and abs(x - x1) > 1e-10 * x1])


def matched_breakdown_power(
    guide: Any, frequency: Array, breakdown_field: float, mode: str = ""
) -> Array:
    """Power of a matched mode whose peak field is `breakdown_field`, (n,) [W].

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    frequency : (n,) array
        [Hz]
    breakdown_field : float
        [V/m]
    mode : str
        ``"TM01"``; otherwise the guide's dominant mode.

    Notes
    -----
    P = E^2 / (2 eta0 e^2) beta/k, with e the peak of the mode whose squared field has unit
    integral; for TE10 it is `breakdown_power_te10` of guide_power. TM01 with the field A on the
    axis has E_z = A J0, E_r = A (beta/kc) J1 and H_phi = E_r k/(beta eta0), so that
    P = A^2 pi R^2 J1(kc R)^2 k beta/(2 eta0 kc^2). Derived here.
    """
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    if mode == "TM01":
        return _tm01_power(guide.radius, k, breakdown_field)
    dominant = _dominant(guide)
    along = np.sqrt(1 - (dominant.wavenumber / k) ** 2)
    return np.asarray((breakdown_field / dominant.peak) ** 2 * along / (2 * ETA0))


def _tm01_power(radius: float, k: Array, breakdown_field: float) -> Array:
    root = float(jn_zeros(0, 1)[0])
    kc = root / radius
    beta = np.sqrt(k**2 - kc**2)
    # E_z is largest on the axis, E_r a quarter period later where J1 is
    largest = np.maximum(1.0, beta / kc * j1(np.linspace(0.0, root, 400)).max())
    axial = breakdown_field / largest
    return np.asarray(axial**2 * np.pi * radius**2 * j1(root) ** 2 * k * beta / (2 * ETA0 * kc**2))


def field_depends_on_edges(part: Any) -> bool:
    """Whether a part has a sharp edge at which the electric field has no bound.

    Raises
    ------
    UnknownPartError
        For an object that is no `Part`.
    """
    return known_part(part).has_sharp_edges


def edge_distance(guide: Any) -> float:
    """Size of the cells next to sharp edges whose field is not read [m]."""
    return EDGE_DISTANCE * float(getattr(guide, "narrow_height", 0.0) or guide.diameter)


def _dominant(guide: Any) -> SpaceMode:
    highest = 1.2 * SpaceMode(guide, "TE", 1, int(hasattr(guide, "diameter"))).wavenumber
    listed = space_modes(guide, highest * SPEED_OF_LIGHT / (2 * np.pi), 1.0, 1.0)
    return listed[0]


def _note(part: Any, sharp: bool) -> str:
    smooth = "smooth, clean walls and dry gas at rest; "
    smooth += "a matched load" if len(part.guides) > 1 else "of breakdown alone, not of heat"
    if not sharp:
        return smooth
    mm = edge_distance(part.guide) * 1e3
    return (
        f"{smooth}; the part has sharp edges, where the field depends on their radius: it was "
        f"read {mm:.2g} mm from them and is higher at a smaller radius"
    )
