"""Resonances that are told: real ones without loss, and none that the next model lacks."""

import numpy as np
import pytest

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import standard_guide
from solver.fem.level_ladder import LevelResult
from solver.fem.level_search import search_levels
from solver.fem.reduced_model import ReducedModel, Sweep
from solver.parts.quarter_solver import quarter_problem
from solver.resonances.resolved_resonances import MOST_Q, resolved_resonances, settled
from solver.waves.resonances import Resonance

MM = 1e-3
SPEED_OF_LIGHT = 299_792_458.0
BAND = tuple(k * SPEED_OF_LIGHT / (2 * np.pi) for k in (180.0, 240.0))


def level(*fields):
    """Poles [rad/m] and couplings of a reduced model, as the last or the next-to-last level."""
    poles, couplings = np.array(fields).T
    size = np.eye(len(poles))
    return Sweep(
        ReducedModel(poles**2, couplings[:, None], size, size), np.empty(0), np.empty(0), ()
    )


def resonances(last, before, admittance):
    none = np.empty(0)
    models = (before.model, last.model)
    record = (4, 0, True, (), 0, {}, models, np.ones(1))
    found = LevelResult(None, None, last, none, none, *record)
    return resolved_resonances(
        found, lambda q: np.full((len(q), 1), admittance, dtype=complex), BAND, "m = 1"
    )


def test_a_pole_that_is_elsewhere_in_the_next_model_is_left_out():
    # one that leaks and stays, one that couples to nothing and comes and goes
    last, before = level((210.0, 30.0), (230.0, 1e-9)), level((210.001, 30.0), (195.0, 1e-9))
    found = resonances(last, before, 2.0)
    (kept,) = found.listed
    assert found.not_resolved == 1
    k = np.sqrt(210.0**2 + 2j * 30.0**2)
    assert abs(kept.frequency - k.real * SPEED_OF_LIGHT / (2 * np.pi)) < 1e-9 * kept.frequency
    assert abs(kept.quality - k.real / (2 * k.imag)) < 1e-6 * kept.quality


@pytest.mark.parametrize("admittance", [-2.0j, -0.5j])
def test_a_field_that_loses_nothing_is_told_with_its_error(admittance):
    # outside everything decays: q = pole + c^2 |Y|, without an imaginary part
    last, before = level((210.0, 30.0)), level((210.01, 30.0))
    (kept,) = resonances(last, before, admittance).listed
    exact = np.sqrt(210.0**2 + 30.0**2 * abs(admittance)) * SPEED_OF_LIGHT / (2 * np.pi)
    assert abs(kept.frequency - exact) < 1e-9 * exact
    assert kept.quality == MOST_Q
    assert 0 < kept.error < 1e-3 * exact


def test_poles_nearer_than_their_error_are_not_told_apart():
    poles = [Resonance(f * 1e9, e * 1e6, 1e3, "m = 1") for f, e in ((9, 1), (10, 8), (10.01, 2))]
    told, left_out = settled(poles)
    assert [pole.frequency for pole in told] == [9e9, 10.01e9]
    assert left_out == 1


@pytest.mark.slow
def test_closed_gap_that_no_wave_leaves_rings_for_ever(monkeypatch):
    monkeypatch.setattr("solver.parts.quarter_solver.ALONE", {0: (4,)})
    # m = 2 and E odd at both mirrors: no mode of the guide travels, so nothing leaves
    part = ChokeFlange(standard_guide("WR-90"), gap=0.1 * MM, rim_radius=60 * MM, rim="closed")
    frequency = np.linspace(8.2e9, 9.9e9, 9)
    problem = quarter_problem(part, frequency, 1e-3, ("electric", "electric"))
    found = search_levels(problem, 1e-3)
    band = (frequency[0], frequency[-1])
    told = resolved_resonances(found, problem.admittance_at, band, "m = 2, 4, 6")
    assert told.listed
    assert all(one.quality == MOST_Q and one.error < 2e7 for one in told.listed)
