"""A solved part, in one shape for what comes after, whichever way it was solved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from solver.errors import UnsupportedPartError
from solver.fem.band_answers import BandAnswers, answers_of
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import LevelProblem
from solver.fem.loss_doubt import LossyAnswer
from solver.parts.field_picture import FieldPicture
from solver.parts.solution import Solution, leaked_of
from solver.resonances.trapped_resonances import trapped_resonances_of
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.resonances import Resonance
from solver.waves.scattering import PortMode, ScatteringMatrix, leaked_power
from solver.waves.walls import Walls

if TYPE_CHECKING:
    from solver.loads.heat_profile import HeatProfile
    from solver.periodic.periodic_guide import PeriodicGuide
    from solver.waves.radiation import Radiation


@dataclass(frozen=True, eq=False)
class SolvedPart:
    """Scattering of a part among all its port modes, and how it was found.

    Parameters
    ----------
    port_modes : tuple of PortMode
        All modes, evanescent ones included, those of port 1 first.
    s : (n, m, m) complex array
    error : (n,) array
    reached : bool
        Whether the bar is under what was asked.
    method : str
    unknowns : int
    mesh : dict
    factorisations : int
    seconds : dict
    steps : tuple of dict
    uncoupled : tuple of str
        Modes that propagate and that symmetry keeps apart.
    picture : callable
        Gives the field at a frequency [Hz].
    ratios : callable
        Gives the largest electric field over that of the entering wave alone, at frequencies
        (n,) [Hz] among those solved.
    leaked_power, leaked_error : (n,) array or None
        Power past the rim over the power that enters, and its bar; None for a closed part.
    resonances : callable
        Gives the resonances in the band.
    answers : callable
        Gives `BandAnswers` at frequencies (n,) of the band [Hz].
    weights : (m,) array
        See `LevelProblem.weights`.
    poles_between : callable
        Gives the number of resonances of the closed part between two frequencies [Hz].
    heat : callable or None
        Gives where the heat goes at the listed frequency at which it is densest of those looked
        at, one of them near a frequency that is given [Hz]; None for a part that does not absorb.
    radiation : callable or None
        Gives what a horn radiates, at frequencies (n,) of the band [Hz].
    periodic : callable or None
        Gives what an endless row of the part's convolutions does; None for other parts.
    feeds : tuple of float
        Straight guide in the mesh between each port and its plane of reference [m].
    """

    port_modes: tuple[PortMode, ...]
    s: ComplexArray
    error: Array
    reached: bool
    method: str
    unknowns: int
    mesh: dict[str, Any]
    factorisations: int
    seconds: dict[str, float]
    steps: tuple[dict[str, Any], ...]
    uncoupled: tuple[str, ...]
    picture: Callable[[float], FieldPicture]
    ratios: Callable[[Array], Array]
    resonances: Callable[[], tuple[Resonance, ...]]
    answers: Callable[[Array], BandAnswers]
    weights: Array
    poles_between: Callable[[float, float], int]
    feeds: tuple[float, ...]
    leaked_power: Array | None = None
    leaked_error: Array | None = None
    heat: Callable[[float], HeatProfile] | None = None
    radiation: Callable[[Array], Radiation] | None = None
    periodic: Callable[[], PeriodicGuide] | None = None


def solved_part_of(
    solution: Solution[Any],
    s_error: float,
    *,
    method: str,
    unknowns: int,
    uncoupled: tuple[str, ...],
    picture: Callable[[float], FieldPicture],
    ratios: Callable[[Array], Array],
    about: str = "",
    doubt: Callable[[Array], Array] | None = None,
    lossy: Callable[[Array], LossyAnswer] | None = None,
    second: Callable[[Array], Array] = np.zeros_like,
    heat: Callable[[float], HeatProfile] | None = None,
) -> SolvedPart:
    """Bring a solution of any method into the shape that comes after every solver.

    Parameters
    ----------
    solution : Solution
    s_error : float
        Wanted bound on the error of S.
    method, unknowns, uncoupled, picture, ratios, heat
        See `SolvedPart`.
    about, doubt, lossy, second
        See `between_points`.
    """
    problem, found, frequency = solution.problem, solution.found, solution.frequency
    s, error, ports = found.s, found.error, len(problem.port_modes)
    if lossy is not None:
        listed = lossy(frequency)
        s, error = listed.s, error + second(frequency) + listed.share
    leaked, leaked_error = leaked_of(problem, found, s, error) or (None, None)
    return SolvedPart(
        port_modes=problem.port_modes,
        s=s[:, :ports, :ports],
        error=error,
        reached=bool(error.max() <= s_error),
        method=method,
        unknowns=unknowns,
        mesh=dict(found.mesh.description),
        factorisations=found.factorisations,
        seconds=found.seconds,
        steps=found.steps,
        uncoupled=uncoupled,
        picture=picture,
        ratios=ratios,
        leaked_power=leaked,
        leaked_error=leaked_error,
        heat=heat,
        **between_points(problem, found, frequency, about, doubt=doubt, lossy=lossy, second=second),
    )


def between_points(
    problem: LevelProblem,
    found: LevelResult,
    frequency: Array,
    about: str = "",
    *,
    doubt: Callable[[Array], Array] | None = None,
    lossy: Callable[[Array], LossyAnswer] | None = None,
    second: Callable[[Array], Array] | None = None,
) -> dict[str, Any]:
    """Return what answers between the points, by the names of `SolvedPart`'s fields.

    Parameters
    ----------
    problem : LevelProblem
    found : LevelResult
    frequency : (n,) array
        Listed frequencies [Hz].
    about : str
        Which fields the resonances belong to.
    doubt : callable, optional
        Gives more of the bar at q.
    lossy, second : callable, optional
        Give S with walls that lose power, and what that leaves out, at frequencies [Hz].
    """

    def answers(at: Array) -> BandAnswers:
        lossless = answers_of(problem, found, at, doubt)
        if lossy is None or second is None:
            return lossless
        answer, left_out = lossy(at), second(at)
        added, alone = lossless.added + left_out + answer.share, left_out + answer.whole
        return replace(lossless, s=answer.s, added=added, alone=alone)

    def poles_between(low: float, high: float) -> int:
        ends = problem.squared_at(np.array([low, high]))
        poles = found.last.model.poles.real
        return int(((poles > ends[0]) & (poles < ends[1])).sum())

    band = (float(frequency[0]), float(frequency[-1]))
    wavenumber = 2 * np.pi * band[0] / SPEED_OF_LIGHT
    shift = wavenumber**2 - float(problem.squared_at(np.array([band[0]]))[0])
    shift = shift if shift > 1e-9 * wavenumber**2 else 0.0
    return {
        "resonances": lambda: trapped_resonances_of(
            found, problem.admittance_at, band, about, shift
        ),
        "answers": answers,
        "weights": found.weights,
        "poles_between": poles_between,
        "feeds": tuple(port.feed_length for port in found.mesh.ports),
    }


def refuse_walls(part: Any, walls: Walls | None) -> None:
    """Refuse walls that lose power in a part whose loss is not computed.

    Raises
    ------
    UnsupportedPartError
    """
    if walls is not None:
        raise UnsupportedPartError(
            f"wall loss of a {part.kind} is not computed: leave out the table walls"
        )


def among_propagating(
    solved: SolvedPart, frequency: Array, walls: Walls | None
) -> ScatteringMatrix:
    """Keep the modes that propagate somewhere in the band.

    Parameters
    ----------
    solved : SolvedPart
    frequency : (n,) array
        [Hz]
    walls : Walls or None
        Without walls only a part that absorbs dissipates power.

    Returns
    -------
    ScatteringMatrix
        Elements of a mode below its cutoff are 0.
    """
    keep = [i for i, mode in enumerate(solved.port_modes) if mode.cutoff < frequency[-1]]
    kept = tuple(solved.port_modes[i] for i in keep)
    above = frequency[:, None] > np.array([mode.cutoff for mode in kept])
    inner = np.where(above[:, :, None] & above[:, None, :], solved.s[:, keep][:, :, keep], 0.0)
    none = np.zeros(len(frequency))
    leaked = none if solved.leaked_power is None else solved.leaked_power
    lost = 1.0 - (np.abs(inner[:, :, 0]) ** 2).sum(axis=1) - leaked
    keeps = walls is not None or solved.heat is not None
    heat = np.maximum(lost, 0.0) if keeps else none
    return ScatteringMatrix(frequency, kept, inner, solved.error, leaked, heat, solved.leaked_error)


def scattering_of(
    solved: SolvedPart,
    answers: BandAnswers,
    group: NDArray[np.integer],
    walls: Walls | None,
) -> ScatteringMatrix:
    """Scattering among the modes that propagate, at any frequencies of the band.

    Parameters
    ----------
    solved : SolvedPart
    answers : BandAnswers
    group : (n,) int array
        See `BandAnswers.error`.
    walls : Walls or None
    """
    error, ports = answers.error(group), len(solved.port_modes)
    there = replace(solved, s=answers.s[:, :ports, :ports], error=error)
    if solved.leaked_power is not None:
        leaked, leaked_error = leaked_power(answers.s, error, solved.weights, ports)
        there = replace(there, leaked_power=leaked, leaked_error=leaked_error)
    return among_propagating(there, answers.frequency, walls)
