"""Near parts in space that are uniform across a plane, solved in that plane all the same.

Modes with other numbers of half waves across the plane see the same part at another wavenumber in
it, and LSE modes keep apart from LSM modes. So two problems in the plane, one for each, answer for
all modes of the guide at all frequencies: the matrices are those of one number of half waves, and
only q is another.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.plane_mesh import PlaneMesh
from solver.fem.level_ladder import LevelResult
from solver.fem.level_search import search_levels
from solver.parts.plane_losses import lossy_in_plane
from solver.parts.plane_solver import RATIOS
from solver.parts.scalar_problem import ScalarProblem
from solver.parts.solution import Solution
from solver.progress import Progress
from solver.runs.cluster import NearMember, Waves, highest_kept
from solver.runs.near_plane import FINER, FINEST, mesh_maker
from solver.runs.near_waves import lossy_waves
from solver.waves.guide_modes import ETA0
from solver.waves.guide_power import surface_resistance
from solver.waves.plane_modes import PlaneModes
from solver.waves.section_modes import SectionModes
from solver.waves.space_modes import SpaceMode
from solver.waves.walls import Walls

#: Degrees for ports into which waves with many half waves come.
_DEGREES = (8, 9, 10)


class SectionProblem(ScalarProblem[Any]):
    """A part in its plane at every wavenumber that its families of modes have there.

    Parameters
    ----------
    make_mesh : callable
    modes : PlaneModes or SectionModes
        Of one of the families.
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
    across : sequence of int
        Half waves across the plane of each family.
    depth : float
        Inside dimension across the plane [m].
    """

    def __init__(
        self,
        make_mesh: Callable[[int], PlaneMesh],
        modes: PlaneModes | SectionModes,
        frequency: Array,
        s_error: float,
        across: Sequence[int],
        depth: float,
    ) -> None:
        orders, ratios = {0: _DEGREES}, {0: RATIOS[0]}
        super().__init__(make_mesh, modes, 2, frequency, s_error, orders, ratios, compared=4)
        own = self.squared + modes.uniform_wavenumber**2
        families = [own - (number * math.pi / depth) ** 2 for number in across]
        self.squared = np.unique(np.concatenate(families))
        self.moving = np.ones(2 * modes.count, dtype=bool)

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """All elements count, of modes that decay too: a neighbour takes them up."""
        count = 2 * self.modes.count
        return np.ones((len(squared), count, count), dtype=bool)


@dataclass(frozen=True, eq=False)
class Section:
    """The LSE or the LSM modes of a part, solved.

    Parameters
    ----------
    problem : SectionProblem
    found : LevelResult
    electric : bool
        Whether they are LSE modes.
    sides : sequence of two sequences of SpaceMode
        At the ports.
    """

    problem: SectionProblem
    found: LevelResult
    electric: bool
    sides: Sequence[Sequence[SpaceMode]]

    def waves(self, model: Any, limits: Sequence[float], main: Waves | None = None) -> Waves:
        """Give what these modes add to S among all modes, (n, m, m) at frequencies (n,).

        Parameters
        ----------
        model : ReducedModel
        limits : sequence of two float
            Cutoff wavenumbers up to which modes are kept at the ports [rad/m].
        main : callable, optional
            What answers for the family of TE10 in place of the model.
        """
        plane = self.problem.modes.plane
        every = [mode for side in self.sides for mode in side]
        port = np.repeat([0, 1], [len(side) for side in self.sides])
        known = [mode.wavenumber <= limits[p] for mode, p in zip(every, port, strict=True)]
        families: dict[int, list[int]] = {}
        for i, mode in enumerate(every):
            across, inside = (mode.m, mode.n) if plane == "E" else (mode.n, mode.m)
            exists = (across > 0) if self.electric else (inside > 0)
            if exists and known[i]:
                families.setdefault(across, []).append(i)

        def at(frequency: Array) -> ComplexArray:
            s = np.zeros((len(frequency), len(every), len(every)), dtype=complex)
            for across, index in families.items():
                chosen = [(int(port[i]), every[i]) for i in index]
                own, share = self._family(model, across, chosen, frequency, main)
                rows = np.array(index)
                s[:, rows[:, None], rows] = share.transpose(0, 2, 1) @ own @ share
            return s

        return at

    def _family(
        self,
        model: Any,
        across: int,
        chosen: Sequence[tuple[int, SpaceMode]],
        frequency: Array,
        main: Waves | None,
    ) -> tuple[ComplexArray, ComplexArray]:
        """S of a family in the plane, and its modes' amplitudes in those of space (n, 2c, k)."""
        plane, all_modes = self.problem.modes.plane, self.problem.modes.count
        first = 0 if self.electric else 1
        inside = [(mode.n if plane == "E" else mode.m) - first for _, mode in chosen]
        count = max(inside) + 1
        guide = self.problem.modes.guide
        modes = SectionModes(guide, plane, self.electric, across, count)
        index = [*range(count), *range(all_modes, all_modes + count)]
        if main is not None and across == (plane == "E"):
            own = main(frequency)[:, index][:, :, index]
        else:
            small = copy.copy(self.problem)
            small.modes = modes
            q = small.squared_at(frequency)
            impedance = model.impedance(q)[:, index][:, :, index]
            own = small.scattering(self.found.mesh, impedance, q)
        shares = {kind: modes.shares(kind, frequency) for kind in ("TE", "TM")}
        share = np.zeros((len(frequency), 2 * count, len(chosen)), dtype=complex)
        for i, ((side, mode), number) in enumerate(zip(chosen, inside, strict=True)):
            share[:, side * count + number, i] = shares[mode.kind][:, number]
        return own, share


def near_member(
    part: Any,
    feeds: tuple[float, float],
    kept: Sequence[Sequence[SpaceMode]],
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None = None,
) -> NearMember:
    """Solve a part that has a plane for the modes of its guide in space.

    Parameters
    ----------
    part : Bend, Corner or Offset
        With an exact plane.
    feeds : (float, float)
        Straight guide before each plane of reference [m].
    kept : sequence of two sequences of SpaceMode
        At its ports; of TE and TM modes of equal indices both or none.
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of S of the cluster.
    walls : Walls or None
    report : callable, optional

    Returns
    -------
    NearMember

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    wanted = max(FINEST, FINER * s_error)
    plane, guide = part.exact_plane, part.guide
    depth = guide.broad_width if plane == "E" else guide.narrow_height
    make_mesh, sections = mesh_maker(part, feeds, frequency), []
    for electric in (True, False):
        numbers = _numbers(kept, plane, electric)
        if not numbers:
            continue
        first = 0 if electric else 1
        count = max(inside for _, inside in numbers) + 1 - first
        modes: Any = SectionModes(guide, plane, electric, numbers[0][0], count)
        if electric == (plane == "E"):
            modes = PlaneModes(guide, plane, count)
        across = sorted({number for number, _ in numbers})
        problem = SectionProblem(make_mesh, modes, frequency, wanted, across, depth)
        sections.append(Section(problem, search_levels(problem, wanted, report), electric, kept))

    def joined(models: Sequence[Any], share: float = 1.0, main: Waves | None = None) -> Waves:
        limits = [highest_kept(side, share) for side in kept]
        waves = [
            section.waves(model, limits, main if section.electric == (plane == "E") else None)
            for section, model in zip(sections, models, strict=True)
        ]
        return lambda f: np.asarray(sum(wave(f) for wave in waves))

    best = [section.found.last.model for section in sections]
    before = [section.found.last.before for section in sections]
    depths = range(-4, 0)
    sides = tuple(kept[0]), tuple(kept[1])
    return NearMember(
        first=tuple(mode.port_mode(1) for mode in sides[0]),
        second=tuple(mode.port_mode(2) for mode in sides[1]),
        sides=sides,
        feeds=feeds,
        levels=tuple(joined([one.found.levels[d] for one in sections]) for d in depths),
        fewer=lambda share: joined(best, share),
        before=joined([b or m for b, m in zip(before, best, strict=True)]),
        least_ratio=RATIOS[0],
        **_lossy(part, sections, walls, frequency, lambda main: joined(best, main=main)),
    )


def _numbers(
    kept: Sequence[Sequence[SpaceMode]], plane: str, electric: bool
) -> list[tuple[int, int]]:
    """Half waves across the plane and in it, of the LSE or the LSM modes among those kept."""
    found = sorted(
        {(mode.m, mode.n) if plane == "E" else (mode.n, mode.m) for side in kept for mode in side}
    )
    return [(a, i) for a, i in found if (a > 0 if electric else i > 0)]


def _lossy(
    part: Any,
    sections: Sequence[Section],
    walls: Walls | None,
    frequency: Array,
    with_main: Callable[[Waves], Waves],
) -> dict[str, Any]:
    """As `lossy_waves`: walls change the family of TE10, and of the others the bar alone."""
    electric = part.exact_plane == "E"
    section = next(one for one in sections if one.electric == electric)
    problem = section.problem
    # among the waves that propagate the bound on what walls change is the usual one
    plain = ScalarProblem(
        problem.mesh, problem.modes, 2, frequency, 1.0, problem.orders, problem.least_ratio, 4
    )
    solution = Solution(plain, frequency, section.found)
    found = lossy_waves(part, walls, lambda metal: lossy_in_plane(solution, metal))
    if walls is None:
        return found
    share, conductivity = found["share"], walls.conductivity

    def more(f: Array) -> Array:
        return np.asarray(share(f) + surface_resistance(conductivity, f) / ETA0)

    return {"lossy": with_main(found["lossy"]), "share": more}
