"""Where a load turns power to heat: along its axis, and where most densely."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from geometries.arrays import Array
from geometries.shapes.loads import Load
from solver.fem.level_ladder import LevelResult
from solver.loads.heat_profile import HeatProfile
from solver.loads.load_field import LoadField
from solver.loads.load_problem import LoadProblem

#: Part of the heat that the trapezoidal rule over the listed places may miss.
_MISSED = 2e-4
_FIRST_PLACES, _MOST_PLACES, _ROUNDS = 17, 3000, 12
#: Distance from the absorber's ends over its length; from its edges over the guide's width.
_JUST_INSIDE, EDGE = 1e-9, 0.02
_SAFETY = 4.0
#: Points along a cell's side at which the density is read.
_PIECES = 6


def hottest_profile(
    problem: LoadProblem, found: LevelResult, frequency: Array, worst: float
) -> HeatProfile:
    """Return the profile with the densest heat at either end, the middle and the worst match.

    Parameters
    ----------
    problem : LoadProblem
    found : LevelResult
    frequency : (n,) array
        Listed frequencies [Hz]; the profile is at one of them.
    worst : float
        Where the match is worst [Hz].
    """
    nearest = int(np.argmin(np.abs(frequency - worst)))
    looked = sorted({0, len(frequency) // 2, len(frequency) - 1, nearest})
    dense = [0.0] * len(looked)
    if not problem.load.lossless:
        for i, at in enumerate(looked):
            model, here = found.last.model, float(frequency[at])
            dense[i] = _densest(LoadField.of_model(problem, found.space, model, here))[0]
    return heat_profile(problem, found, float(frequency[looked[int(np.argmax(dense))]]))


def heat_profile(problem: LoadProblem, found: LevelResult, frequency: float) -> HeatProfile:
    """Read where the heat goes from a solved load.

    Parameters
    ----------
    problem : LoadProblem
    found : LevelResult
    frequency : float
        [Hz]

    Returns
    -------
    HeatProfile
    """
    load = problem.load
    ends = np.array(sorted({0.0, load.taper_length, load.length}))
    if load.lossless:
        none = np.zeros(len(ends))
        return HeatProfile(frequency, ends, none, 0.0, 0.0, 0.0, 0.0, False)
    model = found.last.model
    squared = problem.squared_at(np.array([frequency]))
    scattered = problem.scattering(found.mesh, model.impedance(squared), squared)
    back = np.where(problem.counted(squared), scattered, 0.0)[0, :, 0]
    total = float(1.0 - (np.abs(back) ** 2).sum())
    field = LoadField.of_model(problem, found.space, model, frequency)
    place = _places(field, ends, total)
    fraction, error = field.fractions(_inside(place)), 0.0
    if found.before is not None:
        coarser = LoadField.of_model(problem, found.space, found.before.model, frequency)
        error = _SAFETY * float(np.abs(coarser.fractions(_inside(place)) - fraction).max())
    densest, where = _densest(field)
    return HeatProfile(frequency, place, fraction, total, error, densest, where, unbounded(load))


def unbounded(load: Load) -> bool:
    """Whether the heat in a volume has no bound at the absorber's edges.

    In the E-plane the electric field crosses them, with a permeability the magnetic one does.
    """
    crossed = load.plane == "E" or load.complex_permeability != 1.0
    return crossed and not (load.blunt and load.fills)


def _inside(place: Array) -> Array:
    """Places moved off the ends of the absorber, where the heat jumps to nothing."""
    length = place[-1]
    return np.clip(place, _JUST_INSIDE * length, (1 - _JUST_INSIDE) * length)


def _places(field: LoadField, ends: Array, total: float) -> Array:
    """Places close enough together for the trapezoidal rule, the ends among them."""
    pieces = [np.linspace(a, b, _FIRST_PLACES)[:-1] for a, b in pairwise(ends)]
    place = np.append(np.concatenate(pieces), ends[-1])
    fraction = field.fractions(_inside(place))
    for _ in range(_ROUNDS):
        middle = 0.5 * (place[1:] + place[:-1])
        there = field.fractions(_inside(middle))
        bend = np.abs(there - 0.5 * (fraction[1:] + fraction[:-1])) * np.diff(place)
        if bend.sum() < _MISSED * total or len(place) > _MOST_PLACES:
            break
        split = bend > 0.5 * _MISSED * total / len(bend)
        order = np.argsort(np.concatenate([place, middle[split]]), kind="stable")
        place = np.concatenate([place, middle[split]])[order]
        fraction = np.concatenate([fraction, there[split]])[order]
    return place


def _densest(field: LoadField) -> tuple[float, float]:
    """Largest heat in a volume over the entering power [1/m^3], and its distance from the tip."""
    load, mesh = field.problem.load, field.mesh
    ticks = np.arange(_PIECES + 1) / _PIECES
    grid = np.array([(x, y) for x in ticks for y in ticks if x + y <= 1 + 1e-12]).T
    cells, points = field.absorbing, mesh._mapping().F(grid)[:, field.absorbing]
    sines, cosines = field.density(grid, cells)
    most = np.maximum(sines, cosines)
    if unbounded(load):
        part = 0.5 if load.symmetric else 1.0
        base = part * load.base_width
        edges = [(0.0, base)] if load.blunt else [(0.0, 0.0), (load.taper_length, base)]
        for edge in edges:
            apart = np.hypot(*(points - np.reshape(edge, (2, 1, 1))))
            most = np.where(apart < EDGE * load.width_in_plane, 0.0, most)
    at = np.unravel_index(int(np.argmax(most)), most.shape)
    # half a guide was solved for a wave of the whole one's power; sin^2 has the mean 1/2
    half = 0.5 if load.symmetric else 1.0
    guide = load.guide
    across = guide.narrow_height if load.plane == "H" else 0.5 * guide.broad_width
    return half * float(most[at]) / across, float(points[0][at])
