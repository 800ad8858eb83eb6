"""The gap of a choke joint as a chain of radial lines and grooves, order by order."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.arrays import Array
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.grooves import Groove
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.coaxial_grooves import shorted_groove, tee_constants
from solver.closed_forms.radial_lines import radial_transfer
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import SPEED_OF_LIGHT

Joint = RotatingJoint | ChokeFlange
ComplexArray = NDArray[np.complexfloating[Any, Any]]

#: A groove or gap wider than this part of a wavelength is more than a line.
_LARGEST_WIDTH = 0.12


def gap_is_a_line(joint: Joint, frequency: ArrayLike) -> bool:
    """Whether gap and grooves are small beside the wavelength, and no two grooves overlap."""
    shortest = SPEED_OF_LIGHT / float(np.max(frequency))
    widths = [joint.gap, *(groove.outer_radius - groove.inner_radius for groove in joint.grooves)]
    spans = sorted((groove.inner_radius, groove.outer_radius) for groove in joint.grooves)
    apart = all(a[1] < b[0] for a, b in pairwise(spans))
    thin = all(
        joint.gap <= 0.5 * (groove.outer_radius - groove.inner_radius) for groove in joint.grooves
    )
    return apart and thin and max(widths) <= _LARGEST_WIDTH * shortest


@dataclass(frozen=True, eq=False)
class GapField:
    """Field of one azimuthal order at one radius of a gap, but for a common factor.

    Parameters
    ----------
    radius : float
        [m]; at most that of the innermost groove.
    field, slope : (n,) complex array
        E_z and r dE_z/dr.
    flux : (n,) array
        Im(conj(E_z) r dE_z/dr), negative: power that runs outward; exact however small it is.
    """

    radius: float
    field: ComplexArray
    slope: ComplexArray
    flux: Array


@sourced(
    Source(
        "derived here from radial lines, coaxial lines and a conformal map; no source", "derived"
    ),
    Validity(
        "gap at most half as wide as the grooves, both within 0.12 wavelengths, grooves apart",
        lambda joint, order, wavenumber, *others: gap_is_a_line(
            joint, np.asarray(wavenumber) * SPEED_OF_LIGHT / (2 * np.pi)
        ),
    ),
)
def gap_field(joint: Joint, order: int, wavenumber: ArrayLike, *, sealed: bool = False) -> GapField:
    """Field in the gap where its innermost groove begins, of what lies further out.

    Parameters
    ----------
    joint : RotatingJoint or ChokeFlange
    order : int
        Azimuthal order m.
    wavenumber : (n,) array_like
        Of free space [rad/m].
    sealed : bool
        Metal in the gap just outside the outermost groove, in place of what is there.

    Returns
    -------
    GapField
        At the rim if there is no groove.

    Notes
    -----
    From the rim inward, E_z and r dE_z/dr pass radial lines by `radial_transfer` and tees by
    `tee_constants` with k^2 - (m/r)^2 in place of k^2, r the mean radius of the groove. With
    V = gap E_z and p = dE_z/dr, the groove of `shorted_groove` takes
    V_out - V_in = width (T + gap) p at its mouth, T = sin/cos; the gap below the mouth is the
    second term.
    """
    k = np.atleast_1d(np.asarray(wavenumber, dtype=float))
    grooves = sorted(joint.grooves, key=lambda groove: groove.outer_radius)
    if sealed:
        radius = grooves[-1].outer_radius
        state = _short(k)
        flux = np.zeros(k.shape)
    else:
        radius, state, flux = _at_the_rim(joint, order, k)
    for groove in reversed(grooves):
        state = _inward(joint, order, k, radius, groove.outer_radius, state)
        state, factor = _through(joint, groove, order, k, state)
        flux = flux * factor**2
        radius = groove.inner_radius
    edge = _filling(joint)[0]
    if edge < radius:
        state, radius = _inward(joint, order, k, radius, edge, state), edge
    return GapField(radius, state[..., 0], state[..., 1], flux)


def gap_field_at(
    joint: Joint, order: int, wavenumber: ArrayLike, known: GapField, radius: ArrayLike
) -> tuple[ComplexArray, ComplexArray]:
    """E_z and r dE_z/dr at other radii, inside innermost groove and gasket; k against r."""
    k = np.atleast_1d(np.asarray(wavenumber, dtype=float))[:, None]
    matrix = radial_transfer(order, k, known.radius, np.atleast_1d(radius))
    state = np.stack([known.field, known.slope], axis=-1)[:, None, :, None]
    moved = (matrix @ state)[..., 0]
    return moved[..., 0], moved[..., 1]


def _short(k: Array) -> ComplexArray:
    return np.stack([np.zeros_like(k), np.ones_like(k)], axis=-1).astype(np.complex128)


def _filling(joint: Joint) -> tuple[float, float]:
    """Radius at which a gasket begins, and its relative permittivity."""
    if isinstance(joint, ChokeFlange) and joint.gasket_permittivity > 1:
        return joint.gasket_inner_radius, joint.gasket_permittivity
    return np.inf, 1.0


def _at_the_rim(joint: Joint, order: int, k: Array) -> tuple[float, ComplexArray, Array]:
    from scipy.special import h2vp, hankel2

    rim = joint.rim_radius
    if isinstance(joint, ChokeFlange) and joint.rim == "closed":
        state = _short(k)
        return rim, state, np.zeros(k.shape)
    x = k * np.sqrt(_filling(joint)[1]) * rim
    # Scaled to E = 1, as Hankel functions of high order are huge at small arguments.
    field = hankel2(order, x)
    state = np.stack([np.ones(k.shape), x * h2vp(order, x) / field], axis=-1)
    return rim, state, np.asarray(-2 / np.pi / np.abs(field) ** 2)


def _inward(
    joint: Joint, order: int, k: Array, start: float, stop: float, state: ComplexArray
) -> ComplexArray:
    edge, permittivity = _filling(joint)
    for inner, outer, index in ((edge, np.inf, np.sqrt(permittivity)), (0.0, edge, 1.0)):
        near, far = (float(np.clip(radius, inner, outer)) for radius in (stop, start))
        if near != far:
            state = (radial_transfer(order, index * k, far, near) @ state[..., None])[..., 0]
    return state


def _through(
    joint: Joint, groove: Groove, order: int, k: Array, state: ComplexArray
) -> tuple[ComplexArray, Array]:
    """State at the inner edge of a groove from that at its outer edge, times the second value."""
    gap, width = joint.gap, groove.outer_radius - groove.inner_radius
    radius = (groove.inner_radius + groove.outer_radius) / 2
    edge, permittivity = _filling(joint)
    inside = k**2 * (permittivity if radius > edge else 1.0)
    c = (inside - (order / radius) ** 2) / np.pi
    in_gap, in_groove = tee_constants(gap, width)
    sine, cosine = shorted_groove(order, groove.inner_radius, groove.outer_radius, groove.depth, k)
    out, slope_out = gap * state[..., 0], state[..., 1] / radius
    # dE_z/dr at the mouth is cosine*u; V_in - V_out is -drop*u.
    drop = width * (sine + gap * cosine)
    factor = cosine - c * width * sine * in_groove + c * np.log(2) * drop
    u = slope_out + c * (np.log(2) - in_gap) * out
    voltage = factor * out - drop * u
    slope = (
        (cosine - c * width * sine * in_groove) * u
        - c * in_gap * voltage
        + c * np.log(2) * factor * out
    )
    return np.stack([voltage / gap, radius * slope], axis=-1), factor
