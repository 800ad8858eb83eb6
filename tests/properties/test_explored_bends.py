"""Grids over bends, against modes of the curved guide (no finite elements)."""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from geometries.shapes.guides import standard_guide
from solver.searches.explore import explore
from solver.searches.seek import seek
from solver.searches.varied_keys import Span, Variation
from solver.studies.band import Band
from tests.references.curved_guide_modes import bend_scattering

GUIDE = standard_guide("WR-90")
BAND = Band(8.2e9, 12.4e9, 21)


def study(plane, vswr):
    return {
        "guide": "WR-90",
        "component": {"kind": "bend", "plane": plane, "angle_deg": 90.0, "mean_radius_mm": 45.0},
        "band": {"from_ghz": 8.2, "to_ghz": 12.4, "points": 21},
        "limit": {"vswr": vswr},
        "accuracy": {"s_error": 1e-5},
    }


def reflection_by_modes(plane, radius_mm, frequency):
    width = GUIDE.narrow_height if plane == "E" else GUIDE.broad_width
    found = bend_scattering(
        plane, width, GUIDE.broad_width, radius_mm / 1e3, math.pi / 2, frequency, 40
    )
    return abs(found[0])


@pytest.mark.slow
@pytest.mark.parametrize(("plane", "start"), [("E", 12.0), ("H", 16.0)])
def test_the_radius_that_meets_the_limit_is_bracketed(plane, start):
    vswr = 1.05
    limit = (vswr - 1) / (vswr + 1)
    radii = tuple(start + 0.75 * np.arange(9))
    result = explore(
        study(plane, vswr), Path("bend.toml"), [Variation("component.mean_radius_mm", radii)]
    )
    # the worst of the whole band, not of its few points alone
    ranges = [np.append(np.linspace(8.2e9, 12.4e9, 25), c.reflection.at_hz) for c in result.cells]
    by_modes = [
        max(reflection_by_modes(plane, r, f) for f in frequencies)
        for r, frequencies in zip(radii, ranges, strict=True)
    ]
    outcomes = [cell.outcome for cell in result.cells]
    assert {"meets", "exceeds"} <= set(outcomes)
    assert outcomes == ["meets" if worst <= limit else "exceeds" for worst in by_modes]
    for cell, worst in zip(result.cells, by_modes, strict=True):
        assert cell.reflection.low <= worst <= cell.reflection.high


@pytest.mark.slow
@pytest.mark.parametrize(("plane", "radius"), [("E", 13.0), ("H", 16.0)])
def test_band_edges_lie_where_the_modes_say(plane, radius):
    vswr = 1.05
    limit = (vswr - 1) / (vswr + 1)
    fine = np.linspace(8.2e9, 12.4e9, 211)
    below = np.array([reflection_by_modes(plane, radius, f) for f in fine]) <= limit
    at = int(np.argmax(below))  # the lowest frequency that holds it
    assert below.any() and not below.all()
    design = fine[at + 10]
    assert below[at : at + 11].all()
    (cell,) = explore(
        study(plane, vswr),
        Path("bend.toml"),
        [Variation("component.mean_radius_mm", (radius,))],
        design=float(design),
    ).cells
    stop = at + int(np.argmin(np.append(below[at:], False)))
    low, high = cell.held.sure
    # straight lines across 210 MHz: the curve bends little there
    assert low.at == pytest.approx(fine[at], abs=0.25 * low.within + 2e7)
    assert high.at == pytest.approx(fine[stop - 1], abs=0.25 * high.within + 2e7)
    assert low.beyond == (at == 0)
    assert high.beyond == (stop == len(fine))


@pytest.mark.slow
@pytest.mark.parametrize(("plane", "low", "high"), [("E", 13.0, 18.0), ("H", 16.0, 28.0)])
def test_the_radius_of_least_reflection_is_that_of_the_modes(plane, low, high):
    found = seek(
        study(plane, 1.05) | {"accuracy": {"s_error": 1e-6}},
        Path("bend.toml"),
        [Span("component.mean_radius_mm", low, high)],
        "reflection",
        at=10e9,
    )
    scan = np.linspace(low, high, 21)
    values = [reflection_by_modes(plane, radius, 10e9) for radius in scan]
    at = scan[int(np.argmin(values))]
    step = scan[1] - scan[0]
    by_modes = minimize_scalar(
        lambda radius: reflection_by_modes(plane, radius, 10e9),
        bounds=(max(at - step, low), min(at + step, high)),
        method="bounded",
        options={"xatol": 1e-6},
    )
    assert found.values["component.mean_radius_mm"] == pytest.approx(by_modes.x, abs=5e-3)
    # at the very bottom both are small; at the radius found the modes see the same value
    there = reflection_by_modes(plane, found.values["component.mean_radius_mm"], 10e9)
    assert abs(found.least.value - there) <= found.error + 1e-8
