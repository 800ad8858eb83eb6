"""The exact open pipe: what has to be so at cutoff, far above it, and by scale."""

import numpy as np
import pytest
from scipy.special import jn_zeros, jnp_zeros

from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn
from solver.closed_forms.estimates import estimates_for
from solver.closed_forms.open_pipe import open_pipe_reflection
from solver.closed_forms.source import validity_of
from solver.waves.guide_modes import SPEED_OF_LIGHT

ROOTS = {"TM01": jn_zeros(0, 1)[0], "TE11": jnp_zeros(1, 1)[0]}


def pipe(mode, diameter=24e-3, **more):
    return ConicalHorn(CircularGuide(diameter), diameter, 0.0, mode, **{"rim": "bare"} | more)


def above(mode, ratio, diameter=24e-3):
    return ratio * ROOTS[mode] * SPEED_OF_LIGHT / (np.pi * diameter)


@pytest.mark.parametrize("mode", ROOTS)
def test_at_cutoff_all_comes_back_and_far_above_nothing(mode):
    ratio = np.array([1 + 1e-9, 1.02, 1.1, 1.3, 2.0, 20.0])
    size = np.abs(open_pipe_reflection(pipe(mode), above(mode, ratio)))
    assert (np.diff(size) < 0).all()
    assert size[0] == pytest.approx(1.0, abs=1e-3)
    # next to nothing comes back
    assert size[-1] < 0.02


@pytest.mark.parametrize("mode", ROOTS)
def test_only_the_size_in_wavelengths_counts(mode):
    small = open_pipe_reflection(pipe(mode, 3e-3), above(mode, 1.3, 3e-3))
    assert small == pytest.approx(open_pipe_reflection(pipe(mode), above(mode, 1.3)), rel=1e-9)


def test_the_step_of_the_integral_is_fine_enough(monkeypatch):
    exact = open_pipe_reflection(pipe("TE11"), above("TE11", 1.3))
    monkeypatch.setattr("solver.closed_forms.open_pipe._STEP", 0.013)
    assert open_pipe_reflection(pipe("TE11"), above("TE11", 1.3)) == pytest.approx(exact, abs=1e-9)


def test_it_stands_beside_a_bare_open_end_alone():
    frequency = np.array([above("TE11", 1.2)])
    holds = validity_of(open_pipe_reflection).holds
    assert holds(pipe("TE11"), frequency)
    assert not holds(pipe("TE11", rim="wall"), frequency)
    assert not holds(ConicalHorn(CircularGuide(24e-3), 40e-3, 30e-3, rim="bare"), frequency)
    names = [estimate.name for estimate in estimates_for(pipe("TE11"), frequency)]
    assert names == ["open pipe, exact"]
