"""Waves along straight guide between the parts of a run: exact, with loss at first order.

The squared phase constants of modes between walls of finite conductivity are those of
`solver.waves.mode_walls`, which give the textbook attenuations.
"""

from __future__ import annotations

import re

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.shapes.guides import CircularGuide
from geometries.shapes.part import Guide
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.waves.guide_power import surface_resistance
from solver.waves.matched_ports import outgoing_root
from solver.waves.mode_walls import outline_integrals
from solver.waves.scattering import PortMode
from solver.waves.space_modes import SpaceMode
from solver.waves.walls import Walls


def mode_in(guide: Guide, mode: PortMode) -> SpaceMode:
    """Return the mode of a guide that a port mode names.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    mode : PortMode
        A TE or TM mode; ``"LSE1n"`` is answered by the TE mode of the same cutoff, and so of the
        same phase constant.

    Raises
    ------
    ValueError
        If the guide has no such mode.
    """
    found = re.fullmatch(r"(TE|TM|LSE)(\d+),?(\d*)('?)", mode.name)
    if found is None:
        raise ValueError(f"{mode.name} is no name of a mode")
    kind = "TM" if found[1] == "TM" else "TE"
    digits = found[2] + found[3]
    primed = bool(found[4])
    # a prime marks the polarisation whose E lies along x
    circular = isinstance(guide, CircularGuide)
    for cut in range(1, len(digits)):
        m, n = int(digits[:cut]), int(digits[cut:])
        turned = circular and m > 0 and primed == (kind == "TE")
        if (circular and n < 1) or m + n == 0 or (kind == "TM" and not circular and m * n == 0):
            continue
        candidate = SpaceMode(guide, kind, m, n, turned)
        if abs(candidate.port_mode(1).cutoff / mode.cutoff - 1) < 1e-6:
            return candidate
    raise ValueError(f"the guide {guide.label} has no mode {mode.name}")


def phase_constant_of(mode: SpaceMode, frequency: Array, walls: Walls | None) -> ComplexArray:
    """Phase constant of a mode, (n,) [rad/m]; minus the imaginary part is its attenuation.

    Parameters
    ----------
    mode : SpaceMode
    frequency : (n,) array
        [Hz]
    walls : Walls or None
    """
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    squared = (k - mode.wavenumber) * (k + mode.wavenumber)
    if walls is None:
        return outgoing_root(squared)
    factor = (1 - 1j) * surface_resistance(walls.conductivity, frequency) / (k * ETA0)
    outline = outline_integrals(mode)
    share = outline.across + squared * outline.along
    if mode.kind == "TM":
        share = k**2 * outline.along
    return outgoing_root(squared + factor * share)


def share_after_turn(one: SpaceMode, other: SpaceMode, turn: float) -> float:
    """Amplitude of a mode in a guide that is turned about the axis, for a unit wave in another.

    Parameters
    ----------
    one, other : SpaceMode
        Of one guide, each in its own frame.
    turn : float
        Of the second frame against the first [rad]; of a rectangular guide half turns.

    Notes
    -----
    Half a turn gives TE and TM modes of a rectangle the sign (-1)^(m+n). In a circle the pair of
    modes that go as cos and sin of m phi turns by m times the angle.
    """
    if (one.kind, one.m, one.n) != (other.kind, other.m, other.n):
        return 0.0
    if not isinstance(one.guide, CircularGuide):
        return float((-1.0) ** (round(turn / np.pi) * (one.m + one.n)))
    if not one.m:
        return 1.0
    if one.turned == other.turned:
        share = np.cos(one.m * turn)
    else:
        share = np.sin(one.m * turn) * (1.0 if one.turned else -1.0)
    return float(share) if abs(share) > 1e-12 else 0.0
