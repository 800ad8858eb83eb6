"""A group of near parts as one task: solved, joined and sampled like a part."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.shapes.bends import width_in_plane
from geometries.shapes.offsets import Offset
from solver.runs import near_plane, near_space
from solver.runs.cluster import IN_SPACE, Cluster, NearJoint, NearMember, left_out_in_space
from solver.runs.local_polynomials import between_of, enough_nodes
from solver.runs.part_task import RECORD, KeptPart
from solver.runs.sampled_part import SampledPart, Spill
from solver.studies.band import Band
from solver.studies.plain_values import described_component, described_guide, file_content, plain
from solver.version import installed_version
from solver.waves.walls import Walls

#: What the polynomials between the nodes may leave, over the wanted error.
_BETWEEN = 0.01
_LEAST_NODES = 65
#: Frequencies at which the bar is read, and a margin for what lies between them.
_BARS, _MARGIN = 33, 1.25
#: Frequencies at which it is read to see whether members are exact enough.
_LOOKED_AT = 5
#: Members beside edges that stand in their ports are not worth more than this.
_ROUGH, _TOUCHING = 1e-3, 2e-4


@dataclass(frozen=True)
class ClusterTask:
    """A group of near parts to compute.

    Parameters
    ----------
    parts : tuple of Part
        In the direction of the run.
    backwards : tuple of bool
        Whether the wave enters port 2 of each.
    joints : tuple of NearJoint
        One between each two.
    band : Band
    s_error : float
        Wanted bound on the error of S.
    walls : Walls or None
    """

    parts: tuple[Any, ...]
    backwards: tuple[bool, ...]
    joints: tuple[NearJoint, ...]
    band: Band
    s_error: float
    walls: Walls | None

    @property
    def fingerprint(self) -> str:
        """As `PartTask.fingerprint`."""
        told = {
            "version": installed_version(),
            "record": RECORD,
            "near": [
                described_component(part)
                | {"guide": described_guide(part.guide), "back": back}
                | ({"content": content} if (content := file_content(part)) else {})
                for part, back in zip(self.parts, self.backwards, strict=True)
            ],
            "joints": [[joint.length, joint.turn] for joint in self.joints],
            "frequency_hz": self.band.frequencies,
            "s_error": self.s_error,
            "conductivity": self.walls.conductivity if self.walls is not None else None,
        }
        text = json.dumps(plain(told), sort_keys=True)
        return hashlib.sha256(text.encode("ascii")).hexdigest()[:32]

    def compute(self) -> KeptPart:
        """Solve every member with its ports near, and join them.

        Raises
        ------
        MeshingError, LinearSolveError, ProblemSizeError
        """
        from threadpoolctl import threadpool_limits

        with threadpool_limits(1, user_api="blas"):
            return self._computed()

    def _computed(self) -> KeptPart:
        flat = near_plane.same_plane(self.parts)
        cluster = _in_plane(self) if flat else _settled_in_space(self)
        frequency = self.band.frequencies
        start, stop = self.band.start, self.band.stop
        modes = cluster.port_modes
        kept = [i for i, mode in enumerate(modes) if mode.cutoff < stop]
        first = np.linspace(start, stop, _LEAST_NODES) if stop > start else frequency

        known, values, doubt = enough_nodes(cluster.waves, first, _BETWEEN * self.s_error)
        # the bar is smooth on the scale of the nodes and costs many answers
        chosen = np.unique(np.linspace(0, len(known) - 1, _BARS).round().astype(int))
        error = _MARGIN * between_of(known[chosen], cluster.bar(known[chosen]), known)
        size = np.abs(values[:, :, kept]).max(axis=(0, 2))
        spills = tuple(
            Spill(mode.port, mode.name, mode.cutoff, float(size[i]), cluster.feeds[mode.port - 1])
            for i, mode in enumerate(modes)
        )
        sampled = SampledPart(
            port_modes=tuple(modes[i] for i in kept),
            frequency=known,
            s=values[:, kept][:, :, kept],
            error=error,
            leak_error=np.zeros(len(known)),
            doubt=doubt,
            reached=bool(error.max() <= self.s_error),
            loses=self.walls is not None,
            spills=spills,
            resonances=(),
        )
        count = max(len(member.first) for member in cluster.members[1:])
        where = f"in the {self.parts[0].exact_plane}-plane" if flat else "in space"
        facts = {
            "method": f"joined {where} with {count} modes",
            "bar": float(error.max()),
            "cautions": [],
            "factorisations": 1,
            "seconds": 0.0,
        }
        return KeptPart(sampled, facts)


def _in_plane(task: ClusterTask) -> Cluster:
    parts, joints = task.parts, task.joints
    plane = parts[0].exact_plane
    width = width_in_plane(parts[0].guide, plane)
    count = near_plane.modes_at(width, joints, task.s_error)
    feeds = near_plane.feeds_of(parts, joints, width)
    made: dict[Any, NearMember] = {}
    members = []
    for part, (before, behind), back in zip(parts, feeds, task.backwards, strict=True):
        own = (behind, before) if back else (before, behind)
        # bends and corners are their own mirror image from port to port
        mirrored = own[0] > own[1] and not isinstance(part, Offset)
        key = (part, own[::-1] if mirrored else own)
        edge = min(own) <= 0 and part.has_sharp_edges
        wanted = max(task.s_error, _ROUGH) if edge else task.s_error
        if key not in made:
            made[key] = near_plane.near_member(
                part, key[1], count, task.band.frequencies, wanted, task.walls
            )
        member = made[key]
        members.append(member.reversed if mirrored != back else member)
    turned = near_plane.turned_in_plane(plane, parts)
    return Cluster(tuple(members), joints, turned)


def _settled_in_space(task: ClusterTask) -> Cluster:
    """Raise the order of the members solved in space until the whole is as exact as wanted."""
    made: dict[Any, NearMember] = {}
    start, stop = task.band.start, task.band.stop
    looked_at = np.unique(np.linspace(start, stop, _LOOKED_AT))
    fixed = [not near_space.rises(part) for part in task.parts]
    # between members alike the errors of one joint cancel; a member of a plane brings none
    orders = near_space.ORDERS[1:] if any(fixed) else near_space.ORDERS
    cluster = _in_space(task, orders[0], made)
    for order in () if all(fixed) else orders[1:]:
        if cluster.bar(looked_at).max() * _MARGIN <= task.s_error:
            break
        cluster = _in_space(task, order, made)
    return cluster


def _in_space(task: ClusterTask, order: int, made: dict[Any, NearMember]) -> Cluster:
    parts, joints = task.parts, task.joints
    couples = near_space.shared_symmetry(parts, joints)
    guides = [
        part.guides[::-1] if back else part.guides
        for part, back in zip(parts, task.backwards, strict=True)
    ]
    feeds = near_space.feeds_of(parts, joints, guides)
    most = [
        near_space.highest_wavenumber(guides[n][-1], joint, task.s_error, parts[n : n + 2])
        for n, joint in enumerate(joints)
    ]
    # without guide between, what modes leave out is more than that
    touching = min(joint.length for joint in joints) <= 0
    wanted = max(task.s_error, _TOUCHING) if touching else task.s_error
    members = []
    for number, (part, own, back) in enumerate(zip(parts, feeds, task.backwards, strict=True)):
        before = most[number - 1] if number else None
        behind = most[number] if number < len(joints) else None
        highest: tuple[float | None, float | None] = (before, behind)
        if back:
            own, highest = own[::-1], highest[::-1]
        key = (part, own, highest, order if near_space.rises(part) else 0)
        if key not in made:
            made[key] = near_space.near_member(
                part,
                own,
                highest,
                couples,
                task.band.frequencies,
                wanted,
                task.walls,
                order=order,
            )
        members.append(made[key].reversed if back else made[key])
    turned = near_space.turned_in_space
    return Cluster(tuple(members), joints, turned, IN_SPACE, left_out_in_space)
