"""A whole band of a WR-90 bend: reduced-model sweep against one solve a frequency.

Run: ``python benchmarks/speed_plane_band.py``.  Both sides use the same mesh and degree;
the second side is SciPy's complex spsolve at each of the 201 frequencies.  The process
time of ``assess --json`` on the shipped study is measured too.
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from scipy.sparse import csc_matrix, triu
from scipy.sparse.linalg import spsolve

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from record import RESULTS, record  # noqa: E402

from geometries import Bend, standard_guide  # noqa: E402
from geometries.plane_meshes.parts_in_plane import mesh_in_plane  # noqa: E402
from geometries.plane_meshes.plane_mesh import feed_length  # noqa: E402
from solver.fem.reduced_model import sweep  # noqa: E402
from solver.fem.scalar_field import assemble  # noqa: E402
from solver.parts.plane_solver import plane_problem, solve_in_plane  # noqa: E402
from solver.waves.guide_modes import guide_wavelength  # noqa: E402

GUIDE = standard_guide("WR-90")
DEGREE = 8


def compare(plane: str, points: int) -> dict[str, float]:
    """Time both ways for one plane and compare their S-parameters."""
    frequency = np.linspace(8.2e9, 12.4e9, points)
    radius = float(guide_wavelength(GUIDE, 10e9))
    bend = Bend(GUIDE, plane, math.pi / 2, radius)  # type: ignore[arg-type]
    feed = feed_length(bend.width_in_plane)
    problem = plane_problem(bend, frequency, 1e-6)
    modes, squared = problem.modes, problem.squared
    beta = modes.phase_constants(squared)
    sign = modes.reflection_sign

    ours = math.inf
    for _ in range(3):  # the best of three: others may use the machine
        start = time.perf_counter()
        mesh = mesh_in_plane(bend, 2 * math.pi / math.sqrt(squared[-1]))
        system = assemble(mesh, DEGREE, modes.functions, fixed_wall=plane == "H")
        pencil = system.at_degree(DEGREE)
        swept = sweep(
            *pencil,
            squared,
            lambda model, mesh=mesh: problem.scattering(  # type: ignore[misc]
                mesh, model.impedance(squared), squared
            ),
            1e-6,
            moving=problem.moving,
        )
        ours = min(ours, time.perf_counter() - start)

    start = time.perf_counter()
    mesh = mesh_in_plane(bend, 2 * math.pi / math.sqrt(squared[-1]))
    system = assemble(mesh, DEGREE, modes.functions, fixed_wall=plane == "H")
    upper_k, upper_m, columns = system.at_degree(DEGREE)
    stiffness, mass = (csc_matrix(u + triu(u, k=1).T) for u in (upper_k, upper_m))
    ports = csc_matrix(columns)
    answers = []
    for q, b in zip(squared, beta, strict=True):
        load = np.tile(b, 2)
        matrix = stiffness - q * mass + 1j * (ports.multiply(load) @ ports.T)
        x = spsolve(matrix.tocsc(), 2j * load[0] * columns[:, 0])
        answers.append(columns.T @ x)
    pointwise = time.perf_counter() - start
    count = modes.count
    turn = np.exp(2j * beta[:, 0] * feed)
    totals = np.array(answers)
    s11 = sign * (totals[:, 0] - 1.0) * turn
    s21 = totals[:, count] * turn
    same = max(
        np.abs(s11 - swept.response[:, 0, 0]).max(), np.abs(s21 - swept.response[:, count, 0]).max()
    )
    start = time.perf_counter()
    full = solve_in_plane(bend, frequency, 1e-6)
    return {
        "unknowns": len(columns),
        "factorisations": len(swept.shifts),
        "sweep_s": ours,
        "pointwise_s": pointwise,
        "ratio": pointwise / ours,
        "largest_difference_of_s": float(same),
        "with_error_bar_s": time.perf_counter() - start,
        "error_bar": float(full.error.max()),
    }


def process_time() -> float:
    """Wall time of ``assess --json`` on the shipped study, imports included."""
    study = ROOT / "geometries" / "studies" / "radar_mast_bend.toml"
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "solver", "assess", str(study), "--json"],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    return time.perf_counter() - start


def main(points: int = 201, runs: int = 3, folder: Path = RESULTS) -> Path:
    """Measure and record."""
    compare("E", 5)  # warm up imports and caches
    figures: dict[str, object] = {plane: compare(plane, points) for plane in "EH"}
    figures["assess_process_s"] = min(process_time() for _ in range(runs))
    return record("speed_plane_band", figures, folder)


if __name__ == "__main__":
    print(main().read_text())
