"""Parts that stand so near each other that modes below cutoff pass between them.

Every member is solved with more modes at the ports that face a neighbour, in spaces of rising
order. The matrices are joined level by level, so that the bar of the whole is read from how the
whole draws together. The same with fewer modes, at ports that would not know the others, shows how
fast the whole settles with their number: as a power of it where two parts meet without guide
between, the power 4/3 about if an edge of 270 degrees stands there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.fem.error_bar import bar_of, changes_of
from solver.waves.cascade import Junction, joined
from solver.waves.guide_lines import share_after_turn
from solver.waves.matched_ports import outgoing_root
from solver.waves.scattering import PortMode
from solver.waves.space_modes import SpaceMode

Waves = Callable[[Array], ComplexArray]

#: Shares of the modes that are joined to see what they carry.
IN_PLANE, IN_SPACE = (0.5, 0.75), (0.25, 0.5)
#: Powers between which the fall of what modes carry is believed, and a margin.
_SLOWEST, _FASTEST, _MARGIN = 0.6, 3.0, 3.0


def left_out_in_space(quarter: Array, half: Array) -> Array:
    """Bound on what modes beyond those that were joined would change, in space, (n,).

    Parameters
    ----------
    quarter, half : (n,) array
        Change when only a quarter of the modes is joined, and when half of them is.

    Notes
    -----
    A quarter of the modes are those up to half the cutoff wavenumber. They matter by families, so
    that no power can be read from neighbouring counts; but what is left out falls faster than the
    first power of the wavenumber, and then the change is the larger.
    """
    change = np.maximum(quarter, half)
    return np.asarray(np.maximum(change, 0.3 * change.max()))


def left_out_in_plane(half: Array, most: Array) -> Array:
    """Bound on what modes beyond those that were joined would change, in a plane, (n,).

    Parameters
    ----------
    half, most : (n,) array
        Change when the second half of the modes is left out, and when the last quarter is.

    Notes
    -----
    If what is left out falls as N^-p with the number of modes, the changes go as 2^p - 1 and
    (4/3)^p - 1, and the first over 2^p - 1 is what is left. The power is read over the whole band
    and held between 0.6 and 3; the result is taken three times.
    """
    powers = np.linspace(_SLOWEST, _FASTEST, 61)
    ratio = float(half.max()) / max(float(most.max()), 1e-300)
    power = float(np.interp(ratio, (2**powers - 1) / ((4 / 3) ** powers - 1), powers))
    even = np.maximum(half, 0.3 * half.max())
    return np.asarray(_MARGIN * even / (2**power - 1))


def highest_kept(modes: Sequence[SpaceMode], share: float) -> float:
    """Largest cutoff wavenumber among a share of a port's modes [rad/m]."""
    known = sorted(mode.wavenumber for mode in modes)
    return known[max(1, math.ceil(share * len(known) - 1e-9)) - 1] * (1 + 1e-9)


@dataclass(frozen=True)
class NearJoint:
    """Straight guide between two members.

    Parameters
    ----------
    length : float
        Between the planes of reference [m], from 0.
    turn : float
        By which the second is turned [rad].
    """

    length: float
    turn: float = 0.0


@dataclass(frozen=True, eq=False)
class NearMember:
    """A member of a cluster, solved, in the direction of the run.

    Parameters
    ----------
    first, second : tuple of PortMode
        All modes kept at its two ports.
    sides : (tuple of SpaceMode, tuple of SpaceMode)
        The same, as modes of the guides; of longitudinal-section modes those that turn and decay
        alike.
    feeds : (float, float)
        Straight guide from the planes of reference to the ports, from which modes below cutoff are
        counted [m].
    levels : tuple of callable
        S without loss at frequencies (n,), in the compared spaces, coarse to fine.
    fewer : callable
        Gives, for a share of the modes of each port, S in the best space as if the others had not
        been kept, with 0 in their place.
    before : callable or None
        The last before the sweep was done.
    lossy : callable or None
        S with walls that lose power.
    share : callable
        Bound on the error of what the walls change (n,).
    least_ratio : float
        See `bar_from_levels`.
    doubted : (callable, callable) or empty
        Two answers for S whose difference is in doubt, as of two shapes that a file leaves open.
    """

    first: tuple[PortMode, ...]
    second: tuple[PortMode, ...]
    sides: tuple[tuple[SpaceMode, ...], tuple[SpaceMode, ...]]
    feeds: tuple[float, float]
    levels: tuple[Waves, ...]
    fewer: Callable[[float], Waves]
    before: Waves | None
    lossy: Waves | None
    share: Callable[[Array], Array]
    least_ratio: float
    doubted: tuple[Waves, ...] = ()

    @property
    def reversed(self) -> NearMember:
        """The same member, entered at its second port."""
        k, m = len(self.first), len(self.second)
        order = [*range(k, k + m), *range(k)]

        def turned(waves: Waves) -> Waves:
            return lambda f: waves(f)[:, order][:, :, order]

        return NearMember(
            self.second,
            self.first,
            self.sides[::-1],
            self.feeds[::-1],
            tuple(turned(level) for level in self.levels),
            lambda share: turned(self.fewer(share)),
            turned(self.before) if self.before is not None else None,
            turned(self.lossy) if self.lossy is not None else None,
            self.share,
            self.least_ratio,
            tuple(turned(answer) for answer in self.doubted),
        )


@dataclass(frozen=True, eq=False)
class Cluster:
    """Members one after the other.

    Parameters
    ----------
    members : tuple of NearMember
    joints : tuple of NearJoint
        One between each two members.
    turned_sign : callable
        Gives the amplitude that one mode has in the frame of another behind a turn.
    shares : (float, float)
        Shares of the modes that are joined to see what they carry.
    left_out : callable
        Bound on what is left out, from the changes that these make.
    """

    members: tuple[NearMember, ...]
    joints: tuple[NearJoint, ...]
    turned_sign: Callable[[SpaceMode, SpaceMode, float], float] = share_after_turn
    shares: tuple[float, float] = IN_PLANE
    left_out: Callable[[Array, Array], Array] = left_out_in_plane

    @property
    def port_modes(self) -> tuple[PortMode, ...]:
        """All modes at the two outer ports."""
        second = self.members[-1].second
        first = (PortMode(1, mode.name, mode.cutoff) for mode in self.members[0].first)
        return (*first, *(PortMode(2, mode.name, mode.cutoff) for mode in second))

    @property
    def feeds(self) -> tuple[float, float]:
        """Straight guide from the outer planes of reference to the ports [m]."""
        return self.members[0].feeds[0], self.members[-1].feeds[1]

    def waves(self, frequency: Array) -> ComplexArray:
        """Return S (n, m, m) among the modes at the outer ports, with the loss in the walls."""
        known = [member.lossy or member.levels[-1] for member in self.members]
        return self._whole(known, frequency)

    def bar(self, frequency: Array) -> Array:
        """Return the bound on the error of S between the modes that propagate, (n,)."""
        members = self.members
        depth = min(len(member.levels) for member in members)
        levels = [
            self._whole([member.levels[d - depth] for member in members], frequency)
            for d in range(depth)
        ]
        best = levels[-1]
        moves = frequency[:, None] > np.array([mode.cutoff for mode in self.port_modes])
        counted = moves[:, :, None] & moves[:, None, :]

        def largest(change: ComplexArray) -> Array:
            size = np.where(counted, np.abs(change), 0.0)
            return np.asarray(size.reshape(len(frequency), -1).max(axis=1))

        compared = [np.where(counted, level, 0.0) for level in levels]
        error = bar_of(changes_of(compared), max(member.least_ratio for member in members))
        before = [member.before or member.levels[-1] for member in members]
        error = error + 2 * largest(best - self._whole(before, frequency))
        if any(member.doubted for member in members):
            one, other = (
                [m.doubted[n] if m.doubted else m.levels[-1] for m in members] for n in (0, 1)
            )
            error = error + largest(self._whole(one, frequency) - self._whole(other, frequency))
        fewer = [
            largest(
                best - self._whole([member.fewer(share) for member in members], frequency, share)
            )
            for share in self.shares
        ]
        error = error + self.left_out(fewer[0], fewer[1])
        if all(member.lossy is None for member in members):
            return error
        share = sum(member.share(frequency) for member in members)
        return error + 4.0 * share

    def _whole(self, waves: Sequence[Waves], frequency: Array, share: float = 1.0) -> ComplexArray:
        whole: Junction | None = None
        for number, (member, own) in enumerate(zip(self.members, waves, strict=True)):
            part = Junction.of_matrix(own(frequency), len(member.first))
            if whole is None:
                whole = part
                continue
            past = self._past(number - 1, frequency, share)
            back = past.transpose(0, 2, 1)
            moved = Junction(back @ part.s11 @ past, back @ part.s12, part.s21 @ past, part.s22)
            whole = joined(whole, moved)
        assert whole is not None
        return whole.matrix

    def _past(self, joint: int, frequency: Array, share: float) -> ComplexArray:
        """From the modes that leave a member to those that enter the next, (n, k, m)."""
        one, other = self.members[joint], self.members[joint + 1]
        between = self.joints[joint]
        highest = highest_kept(one.sides[1], share)
        matrix = np.zeros((len(frequency), len(other.first), len(one.second)), dtype=complex)
        k = 2 * np.pi * frequency / 299_792_458.0
        for i, mode in enumerate(one.sides[1]):
            if mode.wavenumber > highest:
                continue
            beta = outgoing_root((k - mode.wavenumber) * (k + mode.wavenumber))
            near = between.length - one.feeds[1] - other.feeds[0]
            length = np.where(beta.real > 0, between.length, near)
            past = np.exp(-1j * beta * length)
            for j, same in enumerate(other.sides[0]):
                turned = self.turned_sign(mode, same, between.turn)
                if turned:
                    matrix[:, j, i] = turned * past
        return matrix
