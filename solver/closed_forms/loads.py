"""Reflection of a load as a line along which the absorber fills more and more of the guide."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.shapes.loads import Load
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import SPEED_OF_LIGHT, phase_constant

_SECTIONS = 400


@sourced(
    Source(
        "one mode of a non-uniform line, derived here; transmission lines as in D. M. Pozar, "
        "Microwave Engineering, 4th ed. (Wiley 2012), ch. 2, quoted from memory",
        "derived",
    ),
    Validity(
        "exact for a blunt absorber that fills the guide; for others a first estimate, which "
        "claims no accuracy",
        lambda load, _: load.blunt and load.fills,
    ),
)
def load_line_reflection(load: Load, frequency: ArrayLike) -> ComplexArray:
    """Reflection S11 of a load, one mode along a line; the plane at the tip, (n,).

    Parameters
    ----------
    load : Load
    frequency : (n,) array_like
        [Hz]

    Notes
    -----
    In the H-plane the field is kept as V(z) sin(pi x/a), so that A V' is continuous and
    (A V')' + (k^2 eps - C (pi/a)^2) V = 0, with eps and A = 1/mu the means over sin^2 and C = 1/mu
    that over cos^2. In the E-plane 1/eps and mu are means over the height. Each section is a line
    of phase constant beta and impedance 1/(A beta); the short ends the last one.
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=float))
    free = phase_constant(load.guide, f)
    impedance = np.zeros(len(f), dtype=complex)
    steps = [(load.base_length, 1.0)] if load.base_length else []
    if not load.blunt:
        middles = (np.arange(_SECTIONS)[::-1] + 0.5) / _SECTIONS
        steps += [(load.taper_length / _SECTIONS, float(share)) for share in middles]
    for length, share in steps:
        beta, factor = _section(load, share, f)
        own = 1 / (factor * beta)
        turn = 1j * np.tan(beta * length)
        impedance = own * (impedance + own * turn) / (own + impedance * turn)
    return np.asarray((impedance - 1 / free) / (impedance + 1 / free))


def _section(load: Load, share: float, frequency: Array) -> tuple[ComplexArray, complex]:
    """Phase constant [rad/m] and factor A where the absorber has this share of its base."""
    k, cut = 2 * np.pi * frequency / SPEED_OF_LIGHT, np.pi / load.guide.broad_width
    eps, mu = load.complex_permittivity, load.complex_permeability
    filled = share * load.base_width / load.width_in_plane
    if load.plane == "E":
        height, permeability = 1 + (1 / eps - 1) * filled, 1 + (mu - 1) * filled
        return np.sqrt(k**2 * permeability / height - cut**2 + 0j), 1 / permeability
    wall = load.position == "wall"
    ripple = np.sin(2 * np.pi * filled) / (2 * np.pi) if wall else -np.sin(np.pi * filled) / np.pi
    sines, cosines = filled - ripple, filled + ripple
    along, across = 1 + (1 / mu - 1) * sines, 1 + (1 / mu - 1) * cosines
    square = (k**2 * (1 + (eps - 1) * sines) - across * cut**2) / along
    return np.sqrt(square + 0j), along
