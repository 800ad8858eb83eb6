"""Curves made by hand, judged at the frequencies they have."""

import numpy as np

from solver.searches.part_curves import BandCurve, PartCurves
from solver.waves.scattering import power_bar


def leaking_as(curves, leaked):
    """The same curves with another leaked power."""
    return made_up_curves(
        curves.frequency, curves.port_modes, curves.s11, curves.error, leaked, curves.s21
    )


def made_up_curves(frequency, port_modes, s11, error, leaked, s21=None, reached=True):
    """Curves of a part whose whole band is what is listed; scalars are spread over it."""
    n = len(frequency)
    s11, error, leaked = (np.broadcast_to(np.asarray(x), n) for x in (s11, error, leaked))
    leaked_error = np.where(leaked > 0, power_bar(leaked, error), 0.0)
    return PartCurves(
        frequency=frequency,
        port_modes=port_modes,
        s11=s11.astype(complex),
        s21=np.zeros(n, dtype=complex) if s21 is None else s21.astype(complex),
        error=error.astype(float),
        leaked_power=leaked.astype(float),
        dissipated_power=np.zeros(n),
        reached=reached,
        whole=BandCurve(
            frequency,
            port_modes,
            s11.astype(complex),
            error.astype(float),
            leaked.astype(float),
            leaked_error,
        ),
    )
