"""Time and memory of a whole band in space as the number of unknowns grows.

Run: ``python benchmarks/size_and_growth.py``.  A 90 degree twist and a 90 degree E-plane bend in
WR-90 are solved at 201 points of 8.2-12.4 GHz on one discretisation of order 4 - mesh, assembly,
factorisations, sweep - with more and smaller cells each time.  Every size has a process and one
thread of its own; the time is its process time after the imports, the memory its largest resident
set, the imports included.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from record import RESULTS, record  # noqa: E402

from geometries import Bend, Twist, standard_guide  # noqa: E402
from geometries.cells.space_ports import FEED  # noqa: E402
from geometries.space_meshes.swept_blocks import swept_mesh  # noqa: E402
from solver.fem.level_problem import counted_answer  # noqa: E402
from solver.fem.reduced_model import ReducedModel, sweep  # noqa: E402
from solver.parts.space_parts import symmetry_of  # noqa: E402
from solver.parts.space_solver import SpaceProblem  # noqa: E402
from solver.waves.guide_modes import SPEED_OF_LIGHT  # noqa: E402

GUIDE = standard_guide("WR-90")
PARTS = {
    "twist": Twist(GUIDE, math.pi / 2, 40e-3),
    "bend": Bend(GUIDE, "E", math.pi / 2, 30e-3),
}
ORDER = 4
#: Shortest free-space wavelength over the one that the cells are made for.
FINENESS = (2.4, 3.0, 4.1, 5.4, 6.7, 8.0, 9.0, 9.4)
_LONG = 15.0
LIMITS = {"unknowns": 200_000, "memory_gb": 2.0, "process_s": 30.0}


def solve(name: str, order: int, fineness: float, points: int) -> dict[str, Any]:
    """Solve one size in this process and return what it cost."""
    start, clock = time.process_time(), time.perf_counter()
    part, frequency = PARTS[name], np.linspace(8.2e9, 12.4e9, points)
    wavelength = SPEED_OF_LIGHT / float(frequency[-1]) / fineness
    feeds = (FEED * GUIDE.broad_width, FEED * GUIDE.broad_width)
    problem = SpaceProblem(
        lambda _: swept_mesh(part, wavelength=wavelength, feeds=feeds),
        frequency,
        1e-4,
        {0: (order,)},
        {0: 0.5},
        symmetry_of(part),
    )
    mesh = problem.mesh(0)
    _, pencil = next(problem.spaces(mesh, [order]))
    assembled = time.process_time()

    def respond(model: ReducedModel) -> Any:
        ones = np.ones(model.columns.shape[1])
        return counted_answer(problem, mesh, model, problem.squared, ones)

    matrices = (pencil.stiffness, pencil.mass, pencil.columns)
    swept = sweep(*matrices, problem.squared, respond, 1e-6, moving=problem.moving)
    end = time.process_time()
    return {
        "unknowns": len(pencil.columns),
        "cells": mesh.description["cells"],
        "entries": int(pencil.stiffness.nnz),
        "port_modes": pencil.columns.shape[1],
        "factorisations": len(swept.shifts),
        "assembly_s": assembled - start,
        "sweep_s": end - assembled,
        "process_s": end - start,
        "elapsed_s": time.perf_counter() - clock,
        "memory_gb": _largest_resident_set() / 1e9,
    }


def _largest_resident_set() -> float:
    """Largest memory of this process so far [bytes]."""
    unit = 1 if sys.platform == "darwin" else 1024
    return unit * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def in_process(name: str, order: int, fineness: float, points: int, runs: int) -> dict[str, Any]:
    """Best of several processes that solve one size with one thread; a long one is run once."""
    limits = ("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS")
    words = [sys.executable, __file__, "--part", name, "--order", str(order)]
    words += ["--fineness", str(fineness), "--points", str(points)]
    rows: list[dict[str, Any]] = []
    while len(rows) < runs and (not rows or rows[0]["process_s"] < _LONG):
        ran = subprocess.run(
            words,
            env=os.environ | dict.fromkeys(limits, "1"),
            check=True,
            stdout=subprocess.PIPE,
            text=True,
        )
        rows.append(json.loads(ran.stdout.splitlines()[-1]))
    return dict(min(rows, key=lambda row: row["process_s"]))


def growth(rows: Sequence[dict[str, Any]], key: str, least: int = 20_000) -> float:
    """Exponent of a quantity in the number of unknowns, over the sizes from `least` on."""
    large = [row for row in rows if row["unknowns"] >= least]
    chosen = large if len(large) > 1 else rows
    size = np.log([row["unknowns"] for row in chosen])
    return float(np.polyfit(size, np.log([row[key] for row in chosen]), 1)[0])


def draw(figures: dict[str, Any], path: Path) -> None:
    """Plot time and memory over the number of unknowns."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(1, 2, figsize=(9, 4), layout="constrained")
    quantities = (("process_s", "process time [s]"), ("memory_gb", "largest memory [GB]"))
    for axis, (key, label) in zip(axes, quantities, strict=True):
        for name, found in figures.items():
            rows = found["sizes"]
            axis.loglog(
                [row["unknowns"] for row in rows],
                [row[key] for row in rows],
                "o-",
                label=f"{name}: exponent {found['exponent'][key]:.2f}",
            )
        axis.axhline(LIMITS[key], color="grey", linestyle="--")
        axis.axvline(LIMITS["unknowns"], color="grey", linestyle="--")
        axis.set(xlabel="unknowns", ylabel=label)
        axis.grid(which="both", alpha=0.3)
        axis.legend()
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path)
    pyplot.close(figure)


def main(
    points: int = 201,
    order: int = ORDER,
    fineness: Sequence[float] = FINENESS,
    names: Sequence[str] = tuple(PARTS),
    runs: int = 2,
    folder: Path = RESULTS,
) -> Path:
    """Measure every size, plot, record, and say whether 200 000 unknowns keep the limits."""
    found: dict[str, Any] = {}
    for name in names:
        rows = []
        for value in fineness:
            rows.append(in_process(name, order, value, points, runs))
            last = rows[-1]
            print(
                f"{name}: {last['unknowns']} unknowns, {last['factorisations']} factorisations, "
                f"{last['process_s']:.2f} s, {last['memory_gb']:.2f} GB",
                flush=True,
            )
        exponent = {key: growth(rows, key) for key in ("process_s", "memory_gb")}
        at_limit = {key: _at(rows, key) for key in exponent}
        found[name] = {
            "sizes": rows,
            "exponent": exponent,
            "at_200000_unknowns": at_limit,
            "keeps_limits": all(at_limit[key] <= LIMITS[key] for key in exponent),
        }
        print(f"{name}: exponents {exponent}, at {LIMITS['unknowns']} unknowns {at_limit}")
    path = record(
        "size_and_growth", {"order": order, "points": points, "limits": LIMITS, **found}, folder
    )
    draw(found, path.with_suffix(".svg"))
    return path


def _at(rows: Sequence[dict[str, Any]], key: str) -> float:
    """A quantity at the limit's number of unknowns, by the straight line in logarithms."""
    size = np.log([row["unknowns"] for row in rows])
    return float(
        np.exp(np.interp(np.log(LIMITS["unknowns"]), size, np.log([r[key] for r in rows])))
    )


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--part", choices=list(PARTS), help="solve one size in this process")
    parser.add_argument("--order", type=int, default=ORDER)
    parser.add_argument("--fineness", type=float, default=1.0)
    parser.add_argument("--points", type=int, default=201)
    return parser.parse_args()


if __name__ == "__main__":
    given = _arguments()
    if given.part:
        print(json.dumps(solve(given.part, given.order, given.fineness, given.points)))
    else:
        print(main(given.points, given.order))
