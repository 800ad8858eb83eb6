"""How the gap of a joint loads its guide: reflection and leakage of the opening in the wall.

The gap interrupts the wall currents along the guide. Its load stands in series with the guide's
mode, whose line carries the wall current and the power of the mode.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.arrays import Array, ComplexArray
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_gaps import Joint, gap_field, gap_field_at
from solver.closed_forms.rectangular_edges import edge_equations, joined
from solver.errors import BelowCutoffError
from solver.waves.guide_modes import circular_cutoff_frequency, cutoff_factor, phase_constant

#: Azimuthal order that each mode of a round guide drives.
DRIVEN_ORDER = {"TM01": 0, "TE11": 1}
#: Orders that TE10 drives through a rectangular opening, and how many are taken.
ODD_ORDERS = (1, 3, 5, 7)
#: Drop of H from a wall's slot by a uniform voltage, 3/2, less the exact 1 + ln(pi/2), over pi.
_UNIFORM_EXCESS = (0.5 - np.log(np.pi / 2)) / np.pi
#: Frequencies whose fields are held in memory together.
_AT_ONCE = 500
_NEAR, _EXACT_ZEROS, _ZEROS = 30, 60, 4000


@dataclass(frozen=True, eq=False)
class Opening:
    """Reflection and leaked power at each frequency.

    Parameters
    ----------
    s11 : (n,) complex array
        Referred to the middle of the gap [-].
    leaked : (n,) array
        Leaked over incident power [-].
    """

    s11: ComplexArray
    leaked: Array


def mode_factor(joint: Joint, frequency: ArrayLike) -> Array:
    """Return sqrt(1 - (fc/f)^2) of the mode that the joint carries [-].

    Raises
    ------
    BelowCutoffError
        If any frequency does not exceed its cutoff.
    """
    if isinstance(joint, ChokeFlange):
        return cutoff_factor(joint.guide, frequency)
    f = np.asarray(frequency, dtype=float)
    cutoff = circular_cutoff_frequency(joint.guide, joint.mode[:2], *map(int, joint.mode[2:]))
    if not np.all(f > cutoff):
        raise BelowCutoffError(
            f"{np.min(f) / 1e9:.6g} GHz does not exceed the cutoff of {joint.mode} in guide "
            f"{joint.guide.label}, {cutoff / 1e9:.6g} GHz: raise the frequency or take a "
            "larger guide"
        )
    return np.asarray(np.sqrt((1 - cutoff / f) * (1 + cutoff / f)))


def guide_impedance(joint: Joint, frequency: ArrayLike) -> Array:
    """Length that makes a gap's sheet impedance into a part of twice the guide's impedance [m].

    Parameters
    ----------
    joint : RotatingJoint or ChokeFlange
    frequency : array_like
        [Hz].

    Returns
    -------
    array
        A sheet of V/J = eta h along the whole wall gives S11 = z/(1 + z), z = h over this length.

    Raises
    ------
    BelowCutoffError
        If the joint's mode does not travel at some frequency.

    Notes
    -----
    R beta/k for TM01, since 2 Z = Z_TM/(2 pi) and the sheet gives eta h/(2 pi R);
    R (chi^2 - 1) k/beta for TE11, chi = 1.8412; b k/beta for TE10, both broad walls together.
    """
    factor = mode_factor(joint, frequency)
    if isinstance(joint, ChokeFlange):
        return np.asarray(joint.guide.narrow_height / factor)
    if joint.mode == "TM01":
        return np.asarray(joint.guide.radius * factor)
    return np.asarray(joint.guide.radius * (_zeros(1)[1][0] ** 2 - 1) / factor)


def opening_distance(joint: Joint) -> float:
    """Distance from the axis to the wall whose current the gap interrupts [m]."""
    if isinstance(joint, ChokeFlange):
        return joint.guide.narrow_height / 2
    return joint.guide.radius


def round_opening(joint: RotatingJoint, wavenumber: Array) -> Opening:
    """Reflection and leakage of a rotating joint at wavenumbers (n,) above its mode's cutoff.

    Notes
    -----
    With the voltage V cos(m phi) of a thin gap, uniform along z, and the wall current J cos(m phi),
    the power is V J* times half of C = 2 pi R (m = 0) or pi R (m > 0), so I = C J. The guide's line
    of one mode has |I|^2 Z = 2 P: Z = Z_TM R/(2 C) for TM modes and
    Z_TE (chi^2 - m^2) R/(2 C m^2) for TE modes, chi the zero of J_m'. The gap's admittance is
    C j (dE_z/dr)/(k eta gap E_z); each mode of the guide adds A/(2 Z_n) in parallel,
    A = 2/x - 2 (1 - e^-x)/x^2, x = gamma_n gap, its field integrated over the gap twice.
    S11 = 1/(1 + 2 Z Y), Y the gap's admittance and that of all other modes. That takes the voltage
    as uniform along z, which overrates Y by 0.0154 omega eps C (1 - m^2/(kR)^2): in the slot's
    static field, by the map of `_mouth_reflection`, H drops with 1 + ln(pi/2) in place of 3/2.
    What the voltage leaves out is `_mouth_reflection`.
    """
    order, radius, k = DRIVEN_ORDER[joint.mode], joint.guide.radius, wavenumber
    inside = gap_field(joint, order, k)
    field, slope = (part[:, 0] for part in gap_field_at(joint, order, k, inside, radius))
    circle = 2 * np.pi if order == 0 else np.pi
    own, others = _mode_admittances(joint, order, k)
    # The gap's admittance over that of both halves of the guide's line, 1/(2 Z), is slant G/E.
    slant = 2j * circle / (own * k * joint.gap)
    # What a uniform voltage overrates, from the static field of a slot in a wall.
    others -= 1j * k * radius * circle * (1 - (order / (k * radius)) ** 2) * _UNIFORM_EXCESS
    total = field * (1 + others / own) + slant * slope
    return Opening(
        field / total + _mouth_reflection(joint, k),
        -2 * np.abs(slant) * inside.flux / np.abs(total) ** 2,
    )


def _mouth_reflection(joint: Joint, k: Array) -> ComplexArray:
    """Reflection by the mouth of the gap, which the voltage over the gap leaves out.

    Notes
    -----
    E normal to the wall and H_z across the gap bulge into its mouth as if the wall stood back by
    the area s = gap^2/(2 pi) of its profile: dz/dt = (gap/pi) sqrt(t^2 - 1)/t maps the
    half-plane to the wall with a slot without end, so that Im t and Re t have the dipole
    gap^2/(2 pi^2). With the power P, S11 = -j omega s/(4P) CLOSED INT (mu H_z^2 - eps E_n^2) dl.
    """
    area, k = joint.gap**2 / (2 * np.pi), np.asarray(k)
    if isinstance(joint, ChokeFlange):
        a, b = joint.guide.broad_width, joint.guide.narrow_height
        beta = np.sqrt(k**2 - (np.pi / a) ** 2)
        inside = 2 * b * (np.pi / a) ** 2 - a * beta**2
        return np.asarray(-1j * area * inside / (a * b * beta))
    radius = joint.guide.radius
    if joint.mode == "TM01":
        return np.asarray(1j * area / radius * np.sqrt(k**2 - (_zeros(0)[0][0] / radius) ** 2))
    root = _zeros(1)[1][0]
    beta = np.sqrt(k**2 - (root / radius) ** 2)
    inside = root**2 - (k * radius / root) ** 2
    return np.asarray(-1j * area * inside / (beta * radius**3 * (1 - 1 / root**2)))


def _mode_admittances(joint: RotatingJoint, order: int, k: Array) -> tuple[Array, ComplexArray]:
    """1/Z of the mode itself, and the rest of the sum of A/Z_n, in units of 1/eta."""
    radius, circle = joint.guide.radius, 2 * np.pi if order == 0 else np.pi
    own, others = np.zeros(k.shape), np.zeros(k.shape, dtype=complex)
    for kind, zeros in zip(("TM", "TE"), _zeros(order), strict=True):
        if kind == "TE" and not order:
            continue
        # Beyond `_NEAR` the decay does not depend on the frequency, to 1e-3 of a small part.
        near = np.sqrt((zeros[:_NEAR] / radius) ** 2 - k[:, None] ** 2 + 0j)
        near = np.where(np.abs(near) * radius < 1e-6, 1e-6 / radius, near)
        far = zeros[_NEAR:] / radius
        power = 1.0 if kind == "TM" else -1.0
        weight = 2 * circle / (1 if kind == "TM" else zeros**2 / order**2 - 1) * np.ones(_ZEROS)
        over = (1j * k) ** power
        each = weight[:_NEAR] * over[:, None] * near**-power
        mean = _spread(near * joint.gap)
        if joint.mode.startswith(kind):
            # The real part is the power of both waves, which the sum below leaves out.
            own, mean[:, 0] = each[:, 0].real, 1j * mean[:, 0].imag
        others += np.sum(each * mean, axis=-1)
        static = (
            weight[_NEAR:] * far**-power * _spread(np.asarray(far * joint.gap, dtype=complex)).real
        )
        others += over * float(np.sum(static))
    return own, others


def _spread(x: NDArray[Any]) -> ComplexArray:
    """Mean of exp(-x |u - v|) over the unit square; 1 for x = 0."""
    return np.asarray(np.where(np.abs(x) < 1e-4, 1 - x / 3, 2 / x - 2 * (1 - np.exp(-x)) / x**2))


@lru_cache(maxsize=4)
def _zeros(order: int) -> tuple[Array, Array]:
    """Zeros of J_m and of J_m', the far ones by the first term of McMahon's series."""
    from scipy.special import jn_zeros, jnp_zeros

    far = np.arange(_EXACT_ZEROS + 1, _ZEROS + 1)
    tm = np.append(jn_zeros(order, _EXACT_ZEROS), np.pi * (far + order / 2 - 0.25))
    te = np.append(jnp_zeros(order, _EXACT_ZEROS), np.pi * (far + order / 2 - 0.75))
    return tm, te


def rectangular_opening(
    joint: ChokeFlange,
    wavenumber: Array,
    frequency: Array,
    *,
    orders: tuple[int, ...] = ODD_ORDERS,
) -> Opening:
    """Reflection and leakage of a choke flange for TE10.

    Notes
    -----
    The gap's field is a sum of E_m(r) sin(m phi), m odd, each with its own load from `gap_field`.
    On the edge of the opening the wall current is cos(pi x/a) on the broad walls and none along
    the narrow ones; tested with sin(m phi), this gives M A = -j omega mu d with the matrix M,
    drive d and source c of `rectangular_edges.EdgeEquations`, and
    z = -j beta (gap/(ab)) c^T M^-1 d in units of twice the guide's impedance; S11 = z/(1 + z).
    The current is taken as that of TE10 alone.
    """
    guide, parts = joint.guide, max(1, wavenumber.size // _AT_ONCE)
    equations = joined(
        [edge_equations(joint, orders, k) for k in np.array_split(wavenumber, parts)]
    )
    answer = np.linalg.solve(equations.matrix, equations.drive[..., None])[..., 0]
    area = guide.broad_width * guide.narrow_height
    scale = joint.gap / area * np.asarray(phase_constant(guide, frequency))
    z = -1j * scale * np.sum(equations.source * answer, axis=1)
    outward = -np.pi * np.sum(np.abs(answer) ** 2 * equations.flux, axis=1)
    return Opening(
        z / (1 + z) + _mouth_reflection(joint, wavenumber),
        2 * scale * outward / np.abs(1 + z) ** 2,
    )
