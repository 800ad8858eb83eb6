"""A map of choke flanges over gap and groove depth, on one basis and each alone.

Run: ``python benchmarks/speed_maps.py``.  Processor time, which other work on the machine does not
lengthen: of the basis, of joints that it answers for, and of joints that are solved alone; from
these a map of 30 x 30 joints.  Both answers of a joint are compared in units of their bars.
"""

from __future__ import annotations

import os
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("MKL_NUM_THREADS", "1")

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

import numpy as np  # noqa: E402
from record import RESULTS, record  # noqa: E402
from threadpoolctl import threadpool_limits  # noqa: E402

from geometries.space_meshes.choke_lines import JointBox  # noqa: E402
from solver.families.joint_family import JointFamily  # noqa: E402
from solver.families.shared_joints import prepared  # noqa: E402
from solver.searches.part_curves import curves_of  # noqa: E402
from solver.searches.shared_maps import apart, curves_in_family  # noqa: E402
from solver.studies.band import Band  # noqa: E402
from solver.studies.study import Study, read_study  # noqa: E402

STUDY = ROOT / "geometries" / "studies" / "pedestal_choke.toml"
MM = 1e-3
#: Joints of the map whose time is told.
MAP = 900


def main(
    gaps: tuple[float, float] = (0.1, 0.4),
    depths: tuple[float, float] = (7.0, 9.4),
    points: int = 201,
    s_error: float = 1e-3,
    answered: int = 20,
    alone: int = 3,
    folder: Path = RESULTS,
) -> Path:
    """Measure, print and record.

    Parameters
    ----------
    gaps, depths : (float, float)
        Least and largest of the map [mm].
    points : int
        Of the band.
    s_error : float
        Wanted bound on the error of S.
    answered, alone : int
        Joints that the basis answers for, and that are solved alone as well.
    folder : Path
        For the record.
    """
    study = read_study(STUDY)
    band = Band(study.band.start, study.band.stop, points)

    def studied(gap: float, depth: float) -> Study:
        part = replace(study.component, gap=gap * MM, groove_depth=depth * MM)  # type: ignore[call-arg]
        return replace(study, component=part, band=band, s_error=s_error)

    rng = np.random.default_rng(3)
    places = zip(rng.uniform(*gaps, answered), rng.uniform(*depths, answered), strict=True)
    joints = [studied(*place) for place in places]
    ends = [studied(*place).component for place in zip(gaps, depths, strict=True)]
    with threadpool_limits(1, user_api="blas"):
        start = time.process_time()
        made = prepared(JointFamily(JointBox.about(ends), band.frequencies, s_error))  # type: ignore[arg-type]
        figures: dict[str, Any] = {"basis_s": time.process_time() - start}
        start = time.process_time()
        shared = [curves_in_family(made.family, joint) for joint in joints]
        figures["answered_s"] = (time.process_time() - start) / answered
        start = time.process_time()
        own = [curves_of(joint) for joint in joints[:alone]]
        figures["alone_s"] = (time.process_time() - start) / alone
    figures["map_on_a_basis_s"] = figures["basis_s"] + MAP * figures["answered_s"]
    figures["map_alone_s"] = MAP * figures["alone_s"]
    figures["ratio"] = figures["map_alone_s"] / figures["map_on_a_basis_s"]
    figures["order"] = made.family.order
    figures["snapshots"] = made.snapshots
    figures["reached"] = sum(curves.reached for curves in shared) / answered
    figures["apart_in_bars"] = max(apart(a, b) for a, b in zip(own, shared, strict=False))
    for name, value in figures.items():
        print(f"{name:>18}  {value:.4g}")
    return record("speed_maps", figures, folder)


if __name__ == "__main__":
    main()
