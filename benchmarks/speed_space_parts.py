"""A whole band of parts in space: our sweep against NGSolve, with a sweep and without.

Run: ``python benchmarks/speed_space_parts.py``.  Both sides answer at 201 points of 8.2-12.4 GHz
in WR-90 with a true error of S under 1e-4, in the same process, with the same number of threads.
Ours is timed twice: with its error bar, which takes several discretisations, and on the one
discretisation whose true error is known here to be under 1e-4.  NGSolve makes no error bar; it gets
the fastest of the meshes and orders of ``ngsolve_choices.py`` that reaches 1e-4, three times:
solving one frequency after the other; with as many factorisations as ours has, by
``ngsolve_sweep.py``; and swept at rising orders until our way to an error bar is satisfied.

Times are process times after the imports: ours the best of five runs, NGSolve's the set-up and
201 times its fastest frequency of nine. With two threads NGSolve gets the better of one and two:
its tasks cost more than they bring on the smaller parts.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from ngsolve_choices import CHOICES  # noqa: E402
from ngsolve_meshes import Discretisation, Part  # noqa: E402
from ngsolve_parts import dominant, largest_error, solve_points  # noqa: E402
from record import RESULTS, record  # noqa: E402
from sweep_ratios import sweep_ratios  # noqa: E402

from geometries import Bend, Corner, RectangularGuide, Taper, Twist, standard_guide  # noqa: E402
from solver.fem.level_problem import counted_answer  # noqa: E402
from solver.fem.reduced_model import ReducedModel, sweep  # noqa: E402
from solver.parts.plane_solver import solve_in_plane  # noqa: E402
from solver.parts.space_parts import space_problem  # noqa: E402
from solver.parts.space_solver import SpaceProblem, solve_in_space  # noqa: E402

ComplexArray = NDArray[np.complex128]

GUIDE = standard_guide("WR-90")
S_ERROR = 1e-4
_ALL = 99
PARTS: dict[str, Part] = {
    "E-plane bend": Bend(GUIDE, "E", math.pi / 2, 30e-3),
    "H-plane bend": Bend(GUIDE, "H", math.pi / 2, 30e-3),
    "twist": Twist(GUIDE, math.pi / 2, 40e-3),
    "taper": Taper(GUIDE, RectangularGuide(28.499e-3, 12.624e-3), 40e-3),
    "E-plane corner": Corner(GUIDE, "E", math.pi / 2),
}
#: Least order on our coarsest mesh whose true error is under 1e-4.
ORDERS = {
    "E-plane bend": 6,
    "H-plane bend": 6,
    "twist": 7,
    "taper": 6,
    "E-plane corner": 4,
}


def band(points: int) -> NDArray[np.float64]:
    """Frequencies [Hz]."""
    return np.linspace(8.2e9, 12.4e9, points)


def reference(part: Part, frequency: NDArray[np.float64]) -> tuple[ComplexArray, float]:
    """Scattering of the dominant mode (n, 2, 2) much surer than 1e-4, and the bar of that.

    Bends and corners come from the plane solver, twists and tapers from the solver in space on its
    finest mesh.
    """
    if isinstance(part, Bend | Corner):
        plane = solve_in_plane(part, frequency, 1e-7)
        ports = np.array([0, plane.problem.modes.count])
        return plane.s[:, ports[:, None], ports], float(plane.error.max())
    space = solve_in_space(space_problem(part, frequency, 1e-5), frequency, 1e-5)
    return dominant(space.problem, space.found.s), float(space.found.error.max())


def with_bar(part: Part, frequency: NDArray[np.float64]) -> tuple[ComplexArray, dict[str, Any]]:
    """Whole band with an error bar under 1e-4."""
    solution = solve_in_space(space_problem(part, frequency, S_ERROR), frequency, S_ERROR)
    found = solution.found
    return dominant(solution.problem, found.s), {
        "unknowns": len(found.last.model.basis),
        "order": found.order,
        "factorisations": found.factorisations,
        "bar": float(found.error.max()),
        "elapsed_s_of": found.seconds,
    }


def once(
    part: Part, frequency: NDArray[np.float64], order: int
) -> tuple[ComplexArray, dict[str, Any]]:
    """Whole band on one discretisation."""
    problem = space_problem(part, frequency, S_ERROR)
    mesh = problem.mesh(0)
    _, pencil = next(problem.spaces(mesh, [order]))

    def respond(model: ReducedModel) -> ComplexArray:
        ones = np.ones(model.columns.shape[1])
        return counted_answer(problem, mesh, model, problem.squared, ones)

    matrices = (pencil.stiffness, pencil.mass, pencil.columns)
    start = time.process_time()
    swept = sweep(*matrices, problem.squared, respond, 1e-6, moving=problem.moving)
    return dominant(problem, swept.response), {
        "sweep_process_s": time.process_time() - start,
        "unknowns": len(pencil.columns),
        "order": order,
        "factorisations": len(swept.shifts),
    }


def timed(
    run: Callable[[], tuple[ComplexArray, dict[str, Any]]], repeats: int
) -> tuple[ComplexArray, dict[str, Any]]:
    """Best process time and best elapsed time of several runs, and the last answer;
    the rest of the fastest.

    As in ``assess``, dense work has one thread, and the direct solver has them all.
    """
    process = elapsed = math.inf
    for _ in range(repeats):
        start = time.process_time(), time.perf_counter()
        with threadpool_limits(1, user_api="blas"):
            s, latest = run()
        taken = time.process_time() - start[0]
        if taken < process:
            process, facts = taken, latest
        elapsed = min(elapsed, time.perf_counter() - start[1])
    return s, {"process_s": process, "elapsed_s": elapsed, **facts}


def fastest(
    part: Part,
    problem: SpaceProblem,
    exact: ComplexArray,
    chosen: NDArray[np.int64],
    choices: Sequence[Discretisation],
) -> tuple[Discretisation, list[dict[str, Any]]]:
    """NGSolve's fastest choice with an error under 1e-4 at three frequencies, and all tried."""
    few = np.unique(np.linspace(0, len(chosen) - 1, 3).astype(np.int64))
    tried, best, least = [], None, math.inf
    for choice in choices:
        answer = solve_points(part, problem, chosen[few], choice)
        error = largest_error(dominant(problem, answer.s), exact[few])
        each = float(answer.each[:, 0].min())
        tried.append({**choice.described, "error": error, "each_process_s": each})
        if error < S_ERROR and each < least:
            best, least = choice, each
    if best is None:
        raise RuntimeError(
            f"no choice of NGSolve's reaches {S_ERROR:g} for this {part.kind}: {tried}"
        )
    return best, tried


def compare(
    name: str,
    points: int,
    chosen: NDArray[np.int64],
    exact: ComplexArray,
    threads: int,
    runs: int,
    most: int,
) -> dict[str, Any]:
    """Time all sides for one part in this process; NGSolve gets its `most` first choices."""
    part, frequency = PARTS[name], band(points)
    once(part, frequency, 3)  # warm up what is loaded on first use
    bar_s, ours = timed(lambda: with_bar(part, frequency), runs)
    once_s, single = timed(lambda: once(part, frequency, ORDERS[name]), runs)
    problem = space_problem(part, frequency, S_ERROR)
    choice, tried = fastest(part, problem, exact, chosen, CHOICES[name][:most])
    answers = [solve_points(part, problem, chosen, choice, n) for n in sorted({1, threads})]
    wholes = [answer.before + points * answer.each.min(axis=0) for answer in answers]
    answer, whole = answers[0], np.min(wholes, axis=0)
    return {
        "threads": threads,
        "ours_with_bar": {**ours, "error": largest_error(bar_s[chosen], exact)},
        "ours_once": {**single, "error": largest_error(once_s[chosen], exact)},
        "ngsolve": {
            **choice.described,
            "unknowns": answer.unknowns,
            "set_up_process_s": float(answer.before[0]),
            "each_process_s": float(answer.each[:, 0].min()),
            "process_s": float(whole[0]),
            "elapsed_s": float(whole[1]),
            "error": largest_error(dominant(problem, answer.s), exact),
            "tried": tried,
        },
        **sweep_ratios(
            part, problem, CHOICES[name][:most], exact, chosen, ours, single, S_ERROR, runs
        ),
        "ratio_with_bar": whole[0] / ours["process_s"],
        "ratio_once": whole[0] / single["process_s"],
        "elapsed_ratio_with_bar": whole[1] / ours["elapsed_s"],
        "elapsed_ratio_once": whole[1] / single["elapsed_s"],
    }


def main(
    points: int = 201,
    subset: int = 9,
    names: Sequence[str] = tuple(PARTS),
    threads: Sequence[int] = (1,),
    runs: int = 5,
    most: int = _ALL,
    folder: Path = RESULTS,
) -> Path:
    """Measure every part, each number of threads in a process of its own, and record it."""
    chosen = np.unique(np.linspace(0, points - 1, subset).astype(np.int64))
    figures: dict[str, Any] = {"points": points, "points_solved_by_ngsolve": len(chosen)}
    with tempfile.TemporaryDirectory() as temporary:
        for name in names:
            exact, bar = reference(PARTS[name], band(points)[chosen])
            stored = Path(temporary) / "exact.npz"
            np.savez(stored, exact=exact, chosen=chosen)
            rows = [_in_process(name, points, stored, count, runs, most) for count in threads]
            figures[name] = {"reference_bar": bar, "runs": rows}
            for row in rows:
                print(_line(name, row), flush=True)
    return record("speed_space_parts", figures, folder)


def _in_process(
    name: str, points: int, stored: Path, threads: int, runs: int, most: int
) -> dict[str, Any]:
    limits = ("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS")
    words = [sys.executable, __file__, "--part", name, "--exact", str(stored)]
    words += ["--points", str(points), "--threads", str(threads), "--runs", str(runs)]
    words += ["--choices", str(most)]
    ran = subprocess.run(
        words,
        env=os.environ | dict.fromkeys(limits, str(threads)),
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    return dict(json.loads(ran.stdout.splitlines()[-1]))


def _line(name: str, row: dict[str, Any]) -> str:
    other, swept = row["ngsolve"], row["ngsolve_sweep"]
    return (
        f"{name}, {row['threads']} thread(s), seconds: ours {row['ours_once']['process_s']:.3f}, "
        f"with bar {row['ours_with_bar']['process_s']:.3f}; NGSolve swept {swept['process_s']:.3f} "
        f"({swept['factorisations']} factorisations), with bar "
        f"{row['ngsolve_sweep_with_bar']['process_s']:.3f}, point by point "
        f"{other['process_s']:.2f}. Ratio {row['sweep_ratio_once']:.1f} swept, "
        f"{row['sweep_ratio_both_with_bar']:.1f} both with bar, "
        f"{row['sweep_ratio_only_ours_with_bar']:.1f} only ours with bar, "
        f"{row['ratio_per_factorisation']:.1f} a factorisation; point by point "
        f"{row['ratio_once']:.0f}, with bar {row['ratio_with_bar']:.0f}"
    )


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--part", choices=list(PARTS), help="time one part in this process")
    parser.add_argument("--exact", type=Path, help="file of its reference answer")
    parser.add_argument("--points", type=int, default=201)
    parser.add_argument("--threads", type=int, default=1)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--choices", type=int, default=_ALL)
    return parser.parse_args()


if __name__ == "__main__":
    given = _arguments()
    if given.part:
        file = np.load(given.exact)
        figures = (file["chosen"], file["exact"], given.threads, given.runs, given.choices)
        print(json.dumps(compare(given.part, given.points, *figures)))
    else:
        print(main(given.points, runs=given.runs))
