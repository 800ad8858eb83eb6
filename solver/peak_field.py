"""Largest electric field in a part, and the power at which it would break down.

The field is compared with the peak field of the same wave alone in straight guide. Its
size is the largest that it reaches during a period, the long semi-axis of its ellipse.
Near a sharp edge that the field crosses it grows without bound, as the distance to the
power -1/3 at a right angle, so that a real edge's radius decides; there it is read a
fixed distance away.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import j1, jn_zeros

from solver.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.guide_power import AIR_BREAKDOWN
from solver.scattering import ScatteringMatrix
from solver.space_fields import peak_of
from solver.space_modes import SpaceMode, space_modes

Array = NDArray[np.float64]

#: Cells smaller than this fraction of the guide's smaller side lie next to a sharp edge.
EDGE_DISTANCE = 0.02
#: Frequencies at which the field is read.
_READINGS = 5

_ALWAYS_SHARP = ("mesh", "choke-flange", "rotating-joint")


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
    rating : float
        Least power in the band at which the largest field reaches breakdown [W].
    rating_frequency : float
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
    rating: float
    rating_frequency: float
    breakdown_field: float
    depends_on_edge_radius: bool
    note: str


def peak_field(
    part: Any,
    ratios: Callable[[Array], Array],
    scattering: ScatteringMatrix,
    breakdown_field: float = AIR_BREAKDOWN,
) -> PeakField:
    """Read the largest field of a solved part at a few frequencies, the worst match among them.

    Parameters
    ----------
    part : object
    ratios : callable
        Largest field over that of the straight guide at frequencies (n,) [Hz].
    scattering : ScatteringMatrix
    breakdown_field : float
        [V/m]; by default 30 kV/cm, dry air at sea level.

    Returns
    -------
    PeakField
    """
    count = len(scattering.frequency)
    chosen = set(np.linspace(0, count - 1, min(count, _READINGS)).round().astype(int).tolist())
    chosen.add(int(np.argmax(np.abs(scattering.s11))))
    frequency = scattering.frequency[sorted(chosen)]
    ratio = ratios(frequency)
    matched = matched_breakdown_power(
        part.guide, frequency, breakdown_field, getattr(part, "mode", "")
    )
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
    integral; for TE10 it is `solver.guide_power.breakdown_power_te10`. TM01 with the field A on
    the axis has E_z = A J0, E_r = A (beta/kc) J1 and H_phi = E_r k/(beta eta0), so that
    P = A^2 pi R^2 J1(kc R)^2 k beta/(2 eta0 kc^2). Derived here.
    """
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    if mode == "TM01":
        return _tm01_power(guide.radius, k, breakdown_field)
    dominant = _dominant(guide)
    along = np.sqrt(1 - (dominant.wavenumber / k) ** 2)
    return np.asarray((breakdown_field / peak_of(dominant)) ** 2 * along / (2 * ETA0))


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

    The field lies along the edges of corners and offsets in the H-plane, and stays finite.
    """
    if part.kind in ("corner", "offset"):
        return part.plane != "H"
    return part.kind in _ALWAYS_SHARP


def edge_distance(guide: Any) -> float:
    """Size of the cells next to sharp edges whose field is not read [m]."""
    return EDGE_DISTANCE * float(getattr(guide, "narrow_height", 0.0) or guide.diameter)


def largest_of_ellipse(field: NDArray[np.complex128]) -> Array:
    """Largest size during a period of a complex vector field (components, ...)."""
    square = (np.abs(field) ** 2).sum(axis=0)
    return np.asarray(np.sqrt(0.5 * (square + np.abs((field**2).sum(axis=0)))))


def _dominant(guide: Any) -> SpaceMode:
    highest = 1.2 * SpaceMode(guide, "TE", 1, int(hasattr(guide, "diameter"))).wavenumber
    listed = space_modes(guide, highest * SPEED_OF_LIGHT / (2 * np.pi), 1.0, 1.0)
    return listed[0]


def _note(part: Any, sharp: bool) -> str:
    smooth = "smooth, clean walls and dry gas at rest; a matched load"
    if not sharp:
        return smooth
    mm = edge_distance(part.guide) * 1e3
    return (
        f"{smooth}; the part has sharp edges, where the field depends on their radius: it was "
        f"read {mm:.2g} mm from them and is higher at a smaller radius"
    )
