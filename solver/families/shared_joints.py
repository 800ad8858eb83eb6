"""Prepare the basis that joints of a box share: where to take snapshots, and up to which order."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from geometries.arrays import Array, Numbers
from geometries.cells.hexahedral_mesh import HexahedralMesh
from geometries.cells.space_ports import SpaceMesh
from solver.families.affine_pencil import STRETCHED, AffinePencil, Pair, affine_pencil
from solver.families.joint_family import JointFamily
from solver.families.shared_basis import SharedLevel
from solver.families.shared_space import Member, SharedSpace
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import EdgeSpace, edge_space
from solver.fem.error_bar import largest
from solver.fem.level_problem import counted_answer
from solver.fem.reduced_model import ReducedModel
from solver.progress import Progress

#: Values of each length at which snapshots are taken at first, and at which the basis is looked at.
_TAKEN, _LOOKED_AT = 3, 5
#: Values of each at which the bar decides on the order.
_JUDGED = 4
#: Parts of the band at which the first snapshots are taken, in turns.
_IN_BAND = (0.25, 0.75)
#: Frequencies at which the basis is looked at.
_SAMPLES = 33
#: What the basis may leave out, over the wanted accuracy, and most snapshots.
_LEFT_OUT, _MOST = 0.02, 40
#: Snapshots that one joint may add for resonances that the basis lacks.
_FOR_RESONANCES = 3
#: Part of the joints looked at that the bar must suit; the others are solved alone. Where half of
#: them are suited, an order that brings so few more is the last.
_ENOUGH, _MORE = 0.9, 0.1


@dataclass(frozen=True, eq=False)
class Prepared:
    """A family ready to answer.

    Parameters
    ----------
    family : JointFamily
    snapshots : int
        Joints and frequencies at which the basis was taken.
    factorisations : int
    """

    family: JointFamily
    snapshots: int
    factorisations: int


def prepared(family: JointFamily, report: Progress | None = None) -> Prepared:
    """Take the snapshots of a family, in spaces of rising order until the bar is small enough.

    Parameters
    ----------
    family : JointFamily
        Without its levels.
    report : callable, optional

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    problem, places = family.setting[0], _Places(family)
    orders = [int(order) for order in problem.orders[0]]
    levels: list[SharedLevel] = []
    factorisations, suited, following = 0, 0.0, assembled(family, orders[0] - 1)
    for order in range(orders[0] - 1, orders[-1] + 1):
        if report:
            report(f"basis of many joints, order {order}")
        space, pencil = following
        shared = SharedSpace(pencil, problem.moving)
        places.take(shared)
        following = assembled(family, order + 1)
        within = problem.places(space, following[0])
        corners = [*_lattice(family, 2), np.ones(family.bounds.shape[1])]
        members = [family.member(family.part_of(at)) for at in corners]
        levels.append(shared.level(following[1], within, members, problem.squared))
        factorisations += shared.factorisations
        ready = replace(family, levels=tuple(levels[-3:]), order=order)
        if order < orders[0]:
            continue
        before, suited = suited, _suited(ready)
        if suited >= _ENOUGH or (suited >= 0.5 and suited - before < _MORE):
            break
    return Prepared(ready, len(places.taken), factorisations)


def assembled(family: JointFamily, order: int) -> tuple[EdgeSpace, AffinePencil]:
    """Space of the joint at the reference, and the matrices of all joints.

    Parameters
    ----------
    family : JointFamily
    order : int
        Of the elements.

    Returns
    -------
    EdgeSpace, AffinePencil

    Raises
    ------
    MeshingError
    """
    problem, mesh = family.setting
    alike = np.ones(family.bounds.shape[1])
    space = edge_space(mesh.mesh, order)
    everywhere, stretched = np.arange(mesh.mesh.t.shape[1]), []
    for number in range(len(alike)):
        ends = []
        for x in STRETCHED:
            lengths = np.where(np.arange(len(alike)) == number, x, alike)
            other = family.problem_alone(lengths).mesh(0).mesh
            moved = _stretching(mesh.mesh, other)
            ends.append(_matrices(edge_space(other, order), mesh, moved))
        everywhere = np.setdiff1d(everywhere, moved)
        stretched.append((ends[0], ends[1]))
    fixed = _matrices(space, mesh, everywhere)
    columns = problem.columns(space, mesh)
    return space, affine_pencil(fixed, stretched, columns)


def _matrices(space: EdgeSpace, mesh: SpaceMesh, cells: Numbers) -> Pair:
    return edge_pencil(space, permittivity=mesh.permittivity, only=cells)


def _stretching(mesh: HexahedralMesh, other: HexahedralMesh) -> Numbers:
    """Cells that are not as high in the one mesh as in the other."""
    heights = [np.ptp(each.p[2][each.t], axis=0) for each in (mesh, other)]
    return np.flatnonzero(np.abs(heights[1] / heights[0] - 1.0) > 1e-6)


class _Places:
    """Joints and q at which snapshots are taken; found in the coarsest space.

    Attributes
    ----------
    taken : list of ((n,) array, float)
    """

    def __init__(self, family: JointFamily) -> None:
        self._family = family
        self.taken: list[tuple[Array, float]] = []

    def take(self, space: SharedSpace) -> None:
        """Take all snapshots in a space; in the first one, find out where."""
        if self.taken:
            for lengths, q in self.taken:
                space.take(self._member(lengths), q)
            return
        low, high = self._family.squared_band
        for number, lengths in enumerate(_lattice(self._family, _TAKEN)):
            part = _IN_BAND[number % len(_IN_BAND)]
            self._add(space, lengths, low + part * (high - low))
        level = space.level_alone()
        for lengths in _lattice(self._family, _TAKEN):
            level = self._resonances(space, level, lengths)
        looked_at = list(_lattice(self._family, _LOOKED_AT))
        while len(self.taken) < _MOST:
            doubts = [self._doubt(level, lengths) for lengths in looked_at]
            worst = int(np.argmax([doubt for doubt, _ in doubts]))
            if doubts[worst][0] <= _LEFT_OUT * self._family.s_error:
                break
            self._add(space, looked_at[worst], doubts[worst][1])
            level = space.level_alone()

    def _member(self, lengths: Array) -> Member:
        return self._family.member(self._family.part_of(lengths))

    def _add(self, space: SharedSpace, lengths: Array, q: float) -> None:
        space.take(self._member(lengths), q)
        self.taken.append((lengths, q))

    def _resonances(self, space: SharedSpace, level: SharedLevel, lengths: Array) -> SharedLevel:
        """Add snapshots where the basis lacks a resonance of the closed joint in the band."""
        band = self._family.squared_band
        for _ in range(_FOR_RESONANCES):
            poles = self._poles(level, lengths)
            missing = space.missing(lengths, band, poles)
            if not missing:
                break
            space.take(self._member(lengths), missing[0])
            wider = space.level_alone()
            if _count(self._poles(wider, lengths), band) <= _count(poles, band):
                # of a field that symmetry keeps apart from the ports: no snapshot holds it
                space.forget_last()
                break
            self.taken.append((lengths, missing[0]))
            level = wider
        return level

    def _models(self, level: SharedLevel, lengths: Array) -> tuple[ReducedModel, ReducedModel]:
        return self._family.models(level, self._member(lengths))[:2]

    def _poles(self, level: SharedLevel, lengths: Array) -> Array:
        return self._models(level, lengths)[0].poles

    def _doubt(self, level: SharedLevel, lengths: Array) -> tuple[float, float]:
        """Most that the last moments change of a joint's answer, and the q at which they do."""
        problem = self._family.problem_of(self._family.part_of(lengths))
        mesh, squared = self._family.setting[1], np.linspace(*self._family.squared_band, _SAMPLES)
        models = self._models(level, lengths)
        weights = problem.weights(problem.scattering(mesh, models[0].impedance(squared), squared))
        whole, inner = (counted_answer(problem, mesh, model, squared, weights) for model in models)
        change = 2 * largest(whole - inner)
        return float(change.max()), float(squared[int(np.argmax(change))])


def _count(poles: Array, band: tuple[float, float]) -> int:
    return int(((poles > band[0]) & (poles < band[1])).sum())


def _suited(family: JointFamily) -> float:
    """Part of the joints looked at whose bar is small enough."""
    looked_at = [family.part_of(lengths) for lengths in _lattice(family, _JUDGED)]
    reached = [family.found(part)[0].reached for part in looked_at]
    return float(np.mean(reached))


def _lattice(family: JointFamily, count: int) -> Iterator[Array]:
    """Lengths (n,), `count` of each, with even ratios from the least to the largest."""
    low, high = family.bounds
    lines = [np.geomspace(a, b, count) for a, b in zip(low, high, strict=True)]
    yield from (np.array(lengths) for lengths in itertools.product(*lines))
