"""How much larger the error bars of S are than its true error, over random parts of each kind.

Run: ``python benchmarks/bar_over_error.py [KIND ...]``.  A part is solved as a user asks for it,
and once more to a much smaller bound; the difference of the two is the true error of the first, but
for the bar of the second.  Of each kind: the median over its parts of the largest bar over the
largest error of the band, and the least bar over error at any one frequency.  That the finer
answers are right is checked in the tests, against other libraries and closed forms; this only says
how dear the bars are.
"""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("MKL_NUM_THREADS", "1")

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

import numpy as np  # noqa: E402
from record import RESULTS, record  # noqa: E402

from geometries import Bend, Corner, RotatingJoint, Taper, Twist, standard_guide  # noqa: E402
from geometries.shapes.choke_flanges import ChokeFlange  # noqa: E402
from geometries.shapes.guides import CircularGuide, RectangularGuide  # noqa: E402
from geometries.shapes.loads import Load  # noqa: E402
from solver.judgement.assess_part import solve_part  # noqa: E402
from solver.studies.band import Band  # noqa: E402

MM = 1e-3
GUIDE = standard_guide("WR-90")
#: Of the table of figures to reach: the largest median, and the least of all.
WANTED_MEDIAN, WANTED_LEAST = 20.0, 1.0

Draw = Callable[[np.random.Generator], Any]


@dataclass(frozen=True)
class Kind:
    """Random parts of a kind, and how exactly each is solved.

    Parameters
    ----------
    draw : callable
        Makes a part from a random number generator.
    s_error : float
        Wanted bound.
    finer : float
        Wanted bound of the answer it is compared with.
    band : (float, float)
        [GHz].
    parts : int
        How many are drawn.
    """

    draw: Draw
    s_error: float
    finer: float
    band: tuple[float, float] = (8.2, 12.4)
    parts: int = 12


def _bend(plane: Any) -> Draw:
    width = GUIDE.narrow_height if plane == "E" else GUIDE.broad_width
    return lambda rng: Bend(
        GUIDE, plane, math.radians(rng.uniform(20, 120)), width * rng.uniform(0.7, 4)
    )


def _corner(rng: np.random.Generator) -> Corner:
    plane: Any = "EH"[rng.integers(2)]
    width = GUIDE.narrow_height if plane == "E" else GUIDE.broad_width
    return Corner(GUIDE, plane, math.radians(rng.uniform(20, 110)), width * rng.uniform(0, 1))


def _twist(rng: np.random.Generator) -> Twist:
    return Twist(GUIDE, math.radians(rng.uniform(30, 100)), rng.uniform(20, 80) * MM)


def _taper(rng: np.random.Generator) -> Taper:
    other = RectangularGuide(rng.uniform(20, 35) * MM, rng.uniform(6, 16) * MM)
    return Taper(GUIDE, other, rng.uniform(15, 60) * MM)


def _groove(rng: np.random.Generator, inner: float) -> dict[str, float]:
    inner = inner + rng.uniform(0.5, 4) * MM
    return {
        "groove_inner_radius": inner,
        "groove_outer_radius": inner + rng.uniform(1.5, 3.5) * MM,
        "groove_depth": rng.uniform(6, 10) * MM,
    }


def _joint(rng: np.random.Generator) -> RotatingJoint:
    gap, rim = rng.uniform(0.1, 1.5) * MM, rng.uniform(28, 45) * MM
    return RotatingJoint(CircularGuide(27 * MM), gap=gap, rim_radius=rim, **_groove(rng, 15 * MM))


def _flange(rng: np.random.Generator) -> ChokeFlange:
    gap, rim = rng.uniform(0.1, 0.5) * MM, rng.uniform(24, 30) * MM
    return ChokeFlange(GUIDE, gap, rim_radius=rim, **_groove(rng, 14 * MM))


def _load(rng: np.random.Generator) -> Load:
    plane: Any = "EH"[rng.integers(2)]
    position: Any = ("centre", "wall")[rng.integers(2)]
    return Load(
        GUIDE,
        plane,
        position,
        rng.uniform(20, 100) * MM,
        rng.uniform(5, 30) * MM,
        permittivity=rng.uniform(2, 8),
        loss_tangent=rng.uniform(0.05, 0.8),
    )


KINDS = {
    "E bend, in its plane": Kind(_bend("E"), 1e-5, 1e-8),
    "H bend, in its plane": Kind(_bend("H"), 1e-5, 1e-8),
    "corner, in its plane": Kind(_corner, 1e-5, 1e-8),
    "twist": Kind(_twist, 1e-4, 1e-5, parts=6),
    "taper": Kind(_taper, 1e-4, 1e-5, parts=6),
    "TM01 joint": Kind(_joint, 1e-4, 1e-7, (9.0, 10.5), 8),
    "choke flange": Kind(_flange, 1e-3, 1e-4, parts=4),
    "load": Kind(_load, 1e-4, 1e-6),
}


def compare(kind: Kind, part: Any, points: int) -> dict[str, Any]:
    """Bar and true error of one part."""
    band = Band(kind.band[0] * 1e9, kind.band[1] * 1e9, points)
    _, asked = solve_part(part, band, s_error=kind.s_error)
    _, finer = solve_part(part, band, s_error=kind.finer)
    apart = np.abs(asked.s - finer.s)
    # a mode that does not propagate yet has no S
    error = np.nanmax(apart.reshape(points, -1), axis=1)
    return {
        "bar": float(asked.error.max()),
        "error": float(error.max()),
        "doubt": float(finer.error.max()),
        "ratio": float(asked.error.max() / max(error.max(), 1e-300)),
        # the finer answer's own bar counts for the bar, not against it
        "least": float(((asked.error + finer.error) / np.maximum(error, 1e-300)).min()),
    }


def measure(name: str, most: int, points: int, seed: int) -> dict[str, Any]:
    """Compare random parts of a kind, and say what comes out of them."""
    kind, rng = KINDS[name], np.random.default_rng(seed)
    count = min(kind.parts, most)
    rows = [compare(kind, kind.draw(rng), points) for _ in range(count)]
    ratios = [row["ratio"] for row in rows]
    found = {
        "s_error": kind.s_error,
        "parts": count,
        "median": float(np.median(ratios)),
        "largest": max(ratios),
        "least": min(row["least"] for row in rows),
        "rows": rows,
    }
    found["met"] = found["median"] < WANTED_MEDIAN and found["least"] > WANTED_LEAST
    return found


def main(
    names: Sequence[str] = (),
    most: int = 12,
    points: int = 9,
    seed: int = 5,
    folder: Path = RESULTS,
) -> Path:
    """Measure kinds, print and record."""
    figures: dict[str, Any] = {}
    for name in names or KINDS:
        figures[name] = measure(name, most, points, seed)
        told = [f"{key} {figures[name][key]:.3g}" for key in ("median", "largest", "least")]
        print(f"{name:>22}  {', '.join(told)}", flush=True)
        path = record("bar_over_error", figures, folder)
    return path


if __name__ == "__main__":
    main(sys.argv[1:])
