"""Our sweep against a sweep over NGSolve's matrices, for one part."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from ngsolve_meshes import Discretisation, Part
from ngsolve_parts import dominant, largest_error
from ngsolve_sweep import Swept, solve_band, solve_with_bar
from numpy.typing import NDArray

from solver.parts.space_solver import SpaceProblem

ComplexArray = NDArray[np.complex128]


def sweep_ratios(
    part: Part,
    problem: SpaceProblem,
    choices: Sequence[Discretisation],
    exact: ComplexArray,
    chosen: NDArray[np.int64],
    with_bar: dict[str, Any],
    once: dict[str, Any],
    s_error: float,
    runs: int,
) -> dict[str, Any]:
    """Time NGSolve's fastest sweep, with our number of factorisations and one thread.

    Parameters
    ----------
    part : Bend, Corner, Taper or Twist
    problem : SpaceProblem
    choices : sequence of Discretisation
        Tried; those that eliminate the inside of cells cannot be swept.
    exact : (n, 2, 2) complex array
        Scattering of the dominant mode at the `chosen` (n,) frequencies.
    with_bar, once : dict
        What ours took with its error bar and on one discretisation.
    s_error : float
        Bound on the true error, and on the error bar.
    runs : int
        The best of so many counts; the sweeps with an error bar are run once each.

    Returns
    -------
    dict
        Both sweeps of NGSolve's, and the ratios to ours.
    """
    count = once["factorisations"]
    swept = [choice for choice in choices if not choice.condensed]

    def error(answer: Swept) -> float:
        return largest_error(dominant(problem, answer.s)[chosen], exact)

    plain = []
    for choice in swept:
        tries = [solve_band(part, problem, choice, count) for _ in range(runs)]
        plain.append((choice, min(tries, key=lambda answer: answer.before + answer.sweep)))
    plain = [(choice, answer) for choice, answer in plain if error(answer) < s_error]
    choice, best = min(plain, key=lambda entry: entry[1].before + entry[1].sweep)
    whole = best.before + best.sweep
    barred = [(c, *solve_with_bar(part, problem, c, count, s_error)) for c in swept]
    barred = [entry for entry in barred if entry[2]["bar"] <= s_error]
    surest, last, facts = min(barred, key=lambda entry: entry[2]["process_s"])
    each = facts["process_s"] / facts["factorisations"]
    return {
        "ngsolve_sweep": {
            **choice.described,
            "unknowns": best.unknowns,
            "factorisations": count,
            "set_up_process_s": best.before,
            "sweep_process_s": best.sweep,
            "process_s": whole,
            "error": error(best),
        },
        "ngsolve_sweep_with_bar": {
            **surest.described,
            **facts,
            "unknowns": last.unknowns,
            "error": error(last),
        },
        "sweep_ratio_once": whole / once["process_s"],
        "sweep_ratio_both_with_bar": facts["process_s"] / with_bar["process_s"],
        "sweep_ratio_only_ours_with_bar": whole / with_bar["process_s"],
        "ratio_per_factorisation": best.sweep / once["sweep_process_s"],
        "ratio_per_factorisation_with_bar": each
        * with_bar["factorisations"]
        / with_bar["process_s"],
    }
