"""Attenuation of a mode by its integrals over the outline of the guide."""

import numpy as np

from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.waves.guide_power import surface_resistance
from solver.waves.mode_walls import outline_integrals


def attenuation(mode, frequency, conductivity):
    """By smooth walls [Np/m], above the cutoff: first order, each mode by itself."""
    k = 2 * np.pi * np.asarray(frequency) / SPEED_OF_LIGHT
    beta = np.sqrt(k**2 - mode.wavenumber**2)
    integrals = outline_integrals(mode)
    squared = beta**2 if mode.kind == "TE" else k**2
    gain = integrals.across + squared * integrals.along
    return surface_resistance(conductivity, frequency) / ETA0 * gain / (2 * beta * k)
