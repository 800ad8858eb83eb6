"""Many joints of one grid from one basis, where that pays; and what holds such answers to account.

The basis answers for joints that differ in gap and groove depths. A joint whose bar is larger than
what was asked for is solved alone, and so are those that the answer points out: their curves take
the place of the shared ones, and have to agree with them. Bends of constant radius share no basis:
modes of the curved guide answer for each, and are held to account in the same way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np

from geometries.errors import GeometryError
from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.space_meshes.choke_lines import DEPTHS, Joint, JointBox, topology
from solver.errors import GuideproofError
from solver.families.arc_parts import arcs_among, solved_arc
from solver.families.joint_family import JointFamily
from solver.families.shared_joints import prepared
from solver.progress import Progress
from solver.searches.exploration import Cell, Exploration, SharedBasis
from solver.searches.part_curves import PartCurves, Refusal, curves_from, fingerprint
from solver.searches.point_store import PointStore
from solver.searches.worker_pool import compute_all
from solver.studies.run_study import RunStudy
from solver.studies.study import Study

Outcome = PartCurves | Refusal
Pool = Callable[[Mapping[str, Any]], Iterator[tuple[str, Outcome]]]

#: Gives the cell of a number with other curves.
CellOf = Callable[[int, Outcome], Cell]

#: Joints from which on a basis costs less than solving each alone.
FEWEST = 30
#: Bends from which on modes and what they have to agree with cost less than elements for all.
FEWEST_ARCS = 10
#: Joints whose bar one basis leaves too large have one of their own where they lie this much
#: closer together.
_SMALLER = 0.6
#: Lengths that one basis varies at most: its snapshots grow as a power of their number.
_MOST_VARIED = 2
#: Times that what an answer points out is solved alone, and may change thereby.
_ROUNDS = 3
#: Which of the joints of a basis are confirmed whatever they answer, over all of them.
_SOME = (0.29, 0.71)
#: A shared answer and that of the joint alone differ by at most the sum of their bars, and by
#: round-off.
_ROUND_OFF = 1e-9


def curves_in_family(family: JointFamily, study: Study) -> PartCurves:
    """Compute the curves of a joint from the basis that it shares.

    Parameters
    ----------
    family : JointFamily
        With its levels.
    study : Study
        Of a joint in the family's box, over its band.
    """
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1, user_api="blas"):
        return curves_from(family.solved(_joint(study)), study, shared=True)


class SharedMaps:
    """Computes studies, those that can share a basis together.

    Parameters
    ----------
    run : callable
        Computes studies one by one.
    workers : int
        Processes for joints of one basis.
    progress : callable, optional

    Attributes
    ----------
    told : SharedBasis or None
        What came from a basis; None where nothing did.
    """

    def __init__(self, run: Pool, workers: int, progress: Progress | None = None) -> None:
        self._run, self._workers, self._progress = run, workers, progress
        self.told: SharedBasis | None = None

    def __call__(self, studies: Mapping[str, Study | RunStudy]) -> Iterator[tuple[str, Outcome]]:
        """Compute studies, and give each with its name as it is finished."""
        rest, waiting = dict(studies), families_of(studies)
        for name, outcome in self._by_modes(arcs_among(studies)):
            del rest[name]
            yield name, outcome
        every = sum(map(len, waiting))
        while waiting:
            group = waiting.pop()
            left = dict(group)
            for name, outcome in self._from_basis(group):
                del rest[name], left[name]
                yield name, outcome
            if len(left) >= FEWEST and _size(left) < _SMALLER * _size(group):
                waiting.append(left)
        if self.told is not None and not self.told.by_modes:
            self.told = replace(self.told, alone=every - self.told.answered)
        if rest:
            yield from self._run(rest)

    def _by_modes(self, arcs: Mapping[str, Study]) -> Iterator[tuple[str, Outcome]]:
        answered = 0
        for name, study in arcs.items() if len(arcs) >= FEWEST_ARCS else ():
            bend: Any = study.component
            solved = solved_arc(bend, study.band.frequencies, study.s_error)
            curves = None if solved is None else curves_from(solved, study, shared=True)
            if curves is not None and _holds(curves, study.s_error):
                answered += 1
                yield name, curves
        if answered:
            self.told = SharedBasis(answered, alone=len(arcs) - answered, by_modes=True)

    def _from_basis(self, group: Mapping[str, Study]) -> Iterator[tuple[str, Outcome]]:
        first = next(iter(group.values()))
        box = JointBox.about([_joint(study) for study in group.values()])
        try:
            made = prepared(JointFamily(box, first.band.frequencies, first.s_error), self._progress)
        except (GuideproofError, GeometryError, MemoryError):
            return  # each alone may yet be solved, and says why if not
        level = made.family.levels[-1]
        compute = partial(curves_in_family, made.family)
        answered = 0
        for name, outcome in compute_all(group, compute, self._workers):
            if isinstance(outcome, PartCurves) and _holds(outcome, first.s_error):
                answered += 1
                yield name, outcome
        told = self.told or SharedBasis(0)
        self.told = SharedBasis(
            told.answered + answered,
            order=max(told.order, made.family.order),
            unknowns=max(told.unknowns, level.unknowns),
            snapshots=told.snapshots + made.snapshots,
        )


def families_of(studies: Mapping[str, Study | RunStudy]) -> list[dict[str, Study]]:
    """Studies of joints that can share a basis, in groups large enough for it to pay."""
    groups: dict[Any, dict[str, Study]] = {}
    for name, study in studies.items():
        if isinstance(study, Study) and (key := _alike(study)) is not None:
            groups.setdefault(key, {})[name] = study
    return [
        group
        for group in groups.values()
        if len(group) >= FEWEST and 1 <= _varied(group) <= _MOST_VARIED
    ]


def _alike(study: Study) -> Any:
    """What studies of one basis have in common; None for one that shares none."""
    part, frequency = study.component, study.band.frequencies
    if not isinstance(part, ChokeFlange | RotatingJoint) or study.walls is not None:
        return None
    if len(frequency) < 2 or getattr(part, "mode", "TE11") != "TE11":
        return None
    return topology(part), frequency.tobytes(), study.s_error


def _joint(study: Study) -> Joint:
    assert isinstance(study.component, ChokeFlange | RotatingJoint)
    return study.component


def _varied(group: Mapping[str, Study]) -> int:
    parts = [study.component for study in group.values()]
    return sum(len({getattr(part, name) for part in parts}) > 1 for name in ("gap", *DEPTHS))


def _size(group: Mapping[str, Study]) -> float:
    """How far apart the joints of a group are, in ratios of their lengths."""
    box = JointBox.about([_joint(study) for study in group.values()])
    names = [name for name in ("gap", *DEPTHS) if getattr(box.least, name)]
    ratios = [getattr(box.largest, name) / getattr(box.least, name) for name in names]
    return float(np.prod(np.log(np.maximum(ratios, 1.01))))


def _holds(curves: PartCurves, s_error: float) -> bool:
    """Whether the bar is as small as asked for over the whole band, between the points too."""
    return bool(
        curves.reached and not curves.whole.unsampled and curves.whole.error.max() <= s_error
    )


def confirmed(
    found: Exploration,
    built: Sequence[Any],
    cell_of: CellOf,
    run: Pool,
    store: PointStore,
    progress: Progress | None,
) -> Exploration:
    """Solve alone what the answer points out of a shared basis, and put it in its place.

    Where one disagrees by more than both bars, none of the basis is kept.

    Parameters
    ----------
    found : Exploration
    built : sequence of Study or Refusal
        Of its cells.
    cell_of : callable
        Gives the cell of a number with other curves.
    run : callable
        Computes studies one by one.
    store : PointStore
    progress : callable or None
    """
    answered = [n for n, cell in enumerate(found.cells) if is_shared(cell)]
    if not answered:
        return found
    kept = SharedBasis(len(answered), by_modes=isinstance(found.middle, Bend))
    told, wanted = found.shared or kept, to_confirm(found)
    if found.shared is None:  # all were kept from a run before, which confirmed its own
        wanted = [n for n in wanted if n in pointed_out(found)]
    for _ in range(_ROUNDS):
        if not wanted:
            break
        alone = _alone(built, wanted, run, store, progress, "confirmed")
        distances = [apart(each, found.cells[n].curves) for n, each in alone.items()]
        told = replace(
            told, confirmed=told.confirmed + len(alone), apart=max([told.apart, *distances])
        )
        if told.apart > 1.0:
            rest = [n for n in answered if n not in alone]
            alone |= _alone(built, rest, run, store, progress, "solved alone")
            return replace(_with(found, alone, cell_of), shared=None)
        found = _with(found, alone, cell_of)
        wanted = [n for n in pointed_out(found) if is_shared(found.cells[n])]
    return replace(found, shared=told)


def _alone(
    built: Sequence[Any],
    numbers: Sequence[int],
    run: Pool,
    store: PointStore,
    progress: Progress | None,
    done: str,
) -> dict[int, PartCurves | Refusal]:
    """Outcomes of some of the parts, each solved by itself."""
    todo = {n: part for n in numbers if isinstance(part := built[n], Study)}
    names = {fingerprint(part): n for n, part in todo.items()}
    alone = {}
    for name, outcome in run({name: todo[n] for name, n in names.items()}):
        store.add(name, outcome)
        alone[names[name]] = outcome
        if progress is not None:
            progress(f"{len(alone)} of {len(todo)} points {done}")
    return alone


def _with(found: Exploration, alone: Mapping[int, Outcome], cell_of: CellOf) -> Exploration:
    """An exploration with other outcomes in some cells."""
    cells = [cell_of(n, alone[n]) if n in alone else cell for n, cell in enumerate(found.cells)]
    return replace(found, cells=tuple(cells))


def pointed_out(result: Exploration) -> list[int]:
    """Numbers of the cells that an answer points out: its optima, and where a limit ends."""
    cells = [n for n, cell in enumerate(result.cells) if cell.curves is not None]
    found = []
    for worst in ("reflection", "leakage"):
        values = {n: w.value for n in cells if (w := getattr(result.cells[n], worst)) is not None}
        found += [min(values, key=lambda n: values[n])] if values else []
    held = {n: band.width for n in cells if (band := result.cells[n].held) is not None}
    if any(held.values()):
        found.append(max(held, key=lambda n: held[n]))
    if len(result.variations) == 1:
        order = sorted(cells, key=lambda n: next(iter(result.cells[n].values.values())))
        for one, other in pairwise(order):
            if result.cells[one].outcome != result.cells[other].outcome:
                found += [one, other]
    return list(dict.fromkeys(found))


def to_confirm(result: Exploration) -> list[int]:
    """Numbers of the cells to solve alone: those pointed out, and some that lie apart."""
    shared = [n for n, cell in enumerate(result.cells) if is_shared(cell)]
    some = [shared[int(part * (len(shared) - 1))] for part in _SOME]
    wanted = dict.fromkeys([*pointed_out(result), *some])
    return [n for n in wanted if n in set(shared)]


def is_shared(cell: Cell) -> bool:
    """Whether the curves of a cell come from a basis."""
    return cell.curves is not None and cell.curves.shared


def apart(one: Outcome, other: PartCurves | None) -> float:
    """Largest difference of two answers for one part, over the sum of their bars [-].

    A part that cannot be solved alone is infinitely far from one that a basis answers for.
    """
    if isinstance(one, Refusal) or other is None:
        return np.inf
    both = one.error + other.error + _ROUND_OFF
    waves: Sequence[tuple[Any, Any]] = [
        (one.s11, other.s11),
        (one.s21, other.s21),
        (np.sqrt(one.leaked_power), np.sqrt(other.leaked_power)),
    ]
    return max(
        float((np.abs(a - b) / both).max()) for a, b in waves if a is not None and b is not None
    )
