"""Chains of parts of every plane, solved in one piece in space with NGSolve.

An independent reference for parts that are solved one by one and joined: one lattice of hexahedra
from end to end, moved onto the chain by maps written here from the parts' descriptions, carried by
polynomials of the elements' order plus one; other elements, one frequency after the other.

A chain is a sequence of segments. Each gives, in its own frame (axis along z, broad wall along x,
narrow wall along y), the point of the lattice's (u, v) from -1 to 1 and of the share t of its
length, and the frame at its far end. Lengths are millimetres.
"""

import itertools
import math
from dataclasses import dataclass, field

import numpy as np

from tests.references.lattice_guides import extruded, graded, quads_of
from tests.references.loaded_guides import SPEED_OF_LIGHT

_FEED = 25.0
_LEFT = 1e-7


@dataclass(frozen=True)
class Segment:
    """A piece of a chain.

    Parameters
    ----------
    point : callable
        (u, v, t) as NGSolve expressions to (x, y, z), u and v from -1 to 1.
    length : float
        Of the axis [mm].
    cells : int
        Along the axis.
    graded : (bool, bool)
        Whether the lattice is graded towards its two ends.
    far : (rotation, shift)
        Of the frame at the far end, in the one at the near end.
    turned : bool
        Whether its frame is turned by 180 degrees about the axis against that of the lattice.
    """

    point: object
    length: float
    cells: int
    graded: tuple = (False, False)
    far: tuple = field(default=(np.eye(3), np.zeros(3)))
    turned: bool = False


def straight(size, length):
    """Straight guide (a, b)."""
    a, b = size
    cells = max(1, math.ceil(length / 13.0))
    far = np.eye(3), np.array([0.0, 0.0, length])
    return Segment(lambda u, v, t: (u * a / 2, v * b / 2, t * length), length, cells, far=far)


def _rotation(plane, angle):
    """Of the frame behind a turn of the axis away from +y (E) or +x (H)."""
    c, s = math.cos(angle), math.sin(angle)
    if plane == "E":
        return np.array([[1.0, 0, 0], [0, c, -s], [0, s, c]])
    return np.array([[c, 0, -s], [0, 1.0, 0], [s, 0, c]])


def bend(size, plane, angle, radius, turned=False, graded=True):
    """A bend of constant curvature; the axis turns away from +y (E) or +x (H)."""
    import ngsolve as ng

    a, b = size
    length = radius * angle

    def point(u, v, t):
        across, other = (v * b / 2, u * a / 2) if plane == "E" else (u * a / 2, v * b / 2)
        r = radius + across
        out, ahead = r * ng.cos(angle * t) - radius, r * ng.sin(angle * t)
        return (other, out, ahead) if plane == "E" else (out, other, ahead)

    side = radius * (math.cos(angle) - 1)
    shift = (0.0, side) if plane == "E" else (side, 0.0)
    far = _rotation(plane, angle), np.array([*shift, radius * math.sin(angle)])
    cells = max(1, math.ceil(length / 10.0))
    return Segment(point, length, cells, (graded, graded), far, turned)


def twist(size, angle, length):
    """A twist at a constant rate."""
    import ngsolve as ng

    a, b = size

    def point(u, v, t):
        c, s = ng.cos(angle * t), ng.sin(angle * t)
        x, y = u * a / 2, v * b / 2
        return x * c - y * s, x * s + y * c, t * length

    c, s = math.cos(angle), math.sin(angle)
    far = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]), np.array([0.0, 0.0, length])
    return Segment(point, length, max(1, math.ceil(length / 10.0)), (True, True), far)


def taper(size, to_size, length):
    """A linear taper."""

    def point(u, v, t):
        a, b = ((1 - t) * s + t * e for s, e in zip(size, to_size, strict=True))
        return u * a / 2, v * b / 2, t * length

    far = np.eye(3), np.array([0.0, 0.0, length])
    return Segment(point, length, max(1, math.ceil(length / 12.0)), (True, True), far)


def corner(size, plane, angle, before, behind, turned=False):
    """A square corner with the straight guides beside it, as two segments that meet in the mitre.

    The planes of reference go through the inner edge, at -y (E) or -x (H).
    """
    a, b = size
    width = b if plane == "E" else a
    slope = math.tan(angle / 2)

    def first(u, v, t):
        across = (v if plane == "E" else u) * width / 2
        return u * a / 2, v * b / 2, t * (before + slope * (across + width / 2))

    def second(u, v, t):
        across = (v if plane == "E" else u) * width / 2
        return u * a / 2, v * b / 2, -(1 - t) * (behind + slope * (across + width / 2))

    # the axis meets the mitre half the width's slope behind the plane of reference
    half = slope * width / 2
    apex = np.array([0.0, 0.0, before + half])
    turn = _rotation(plane, angle)
    pieces = []
    for point, length, ends in (
        (first, before + half, (False, True)),
        (second, behind + half, (True, False)),
    ):
        cells = max(1, math.ceil(length / 13.0))
        pieces.append(Segment(point, length, cells, ends, (np.eye(3), apex), turned))
    # the second is described in the frame of its far end
    ahead = turn @ np.array([0.0, 0.0, behind + half])
    pieces[1] = Segment(
        lambda u, v, t: _moved(turn, ahead, second(u, v, t)),
        behind + half,
        pieces[1].cells,
        (True, False),
        (turn, ahead),
        turned,
    )
    return pieces


def _moved(rotation, shift, point):
    return tuple(
        sum(float(rotation[i, j]) * point[j] for j in range(3)) + float(shift[i]) for i in range(3)
    )


class ChainReference:
    """Matrices of a chain; frequencies are solved one at a time.

    Parameters
    ----------
    segments : sequence of Segment
    sizes : ((a, b), (a, b))
        Guide at the two ends [mm].
    highest : float
        Highest frequency [Hz].
    order : int
    across : ((int, int), (int, int))
        Cells and graded layers across the broad and across the narrow wall.
    layers : int
        Towards the ends of segments that ask for it.
    """

    def __init__(self, segments, sizes, highest, order, across=((2, 0), (1, 0)), layers=1):
        import ngsolve as ng

        ng.SetHeapSize(400_000_000)
        segments = [straight(sizes[0], _FEED), *segments, straight(sizes[1], _FEED)]
        x, y = (graded(-1.0, 1.0, 2 / n, (k, k), 0.3) for n, k in across)
        starts = [0.0, *itertools.accumulate(s.length for s in segments[:-1])]
        placed = list(zip(segments, starts, strict=True))
        z = np.unique(np.concatenate([_lines(s, z0, layers) for s, z0 in placed]))
        self.mesh = extruded(quads_of(x, y), z, (False, False))
        frames = [(np.eye(3), np.zeros(3))]
        half = np.diag([-1.0, -1.0, 1.0])
        for s in segments:
            rotation, shift = frames[-1]
            own, along = s.far
            if s.turned:
                own, along = half @ own @ half, half @ along
            frames.append((rotation @ own, rotation @ along + shift))
        target = None
        for (s, z0), frame in reversed(list(zip(placed, frames[:-1], strict=True))):
            sign = -1.0 if s.turned else 1.0
            px, py, pz = s.point(sign * ng.x, sign * ng.y, (ng.z - z0) / s.length)
            there = ng.CF(_moved(*frame, (sign * px, sign * py, pz)))
            target = there if target is None else ng.IfPos(z0 + s.length - ng.z, there, target)
        move = ng.GridFunction(ng.VectorH1(self.mesh, order=order + 1))
        move.Set(target - ng.CF((ng.x, ng.y, ng.z)), bonus_intorder=8)
        self._move = move  # the mesh does not keep it alive
        self.mesh.SetDeformation(move)
        ends = [(sizes[0], frames[0]), (sizes[1], frames[-1])]
        self._assemble(ends, highest, order)

    def _assemble(self, ends, highest, order):
        import ngsolve as ng

        self.space = ng.HCurl(self.mesh, order=order, dirichlet="wall")
        u, v = self.space.TnT()
        self.stiffness, self.mass = (ng.BilinearForm(self.space, symmetric=True) for _ in range(2))
        self.stiffness += ng.curl(u) * ng.curl(v) * ng.dx
        self.mass += u * v * ng.dx
        self.stiffness.Assemble()
        self.mass.Assemble()
        self.modes = [_modes(size, highest) for size, _ in ends]
        self.loads = []
        for number, (size, frame) in enumerate(ends, start=1):
            for mode in self.modes[number - 1]:
                form = ng.LinearForm(self.space)
                shape = _field(size, frame, mode) * v.Trace()
                form += shape * ng.ds(f"port{number}", bonus_intorder=8)
                self.loads.append(form.Assemble().vec)

    def scattering(self, frequency):
        """S (2, 2) of TE10 at the ends of the chain."""
        import ngsolve as ng

        k = 2e-3 * math.pi * frequency / SPEED_OF_LIGHT
        matrix = self.stiffness.mat.CreateMatrix()
        matrix.AsVector().data = self.stiffness.mat.AsVector() - k**2 * self.mass.mat.AsVector()
        inverse = matrix.Inverse(self.space.FreeDofs(), inverse="sparsecholesky")
        solutions, loads = (ng.MultiVector(self.loads[0], len(self.loads)) for _ in range(2))
        for load, vector in zip(loads, self.loads, strict=True):
            load.data = vector
        solutions.data = inverse * loads
        z = np.array(ng.InnerProduct(solutions, loads).NumPy())
        modes = [mode for kept in self.modes for mode in kept]
        squared = k**2 - np.array([mode[3] for mode in modes]) ** 2
        beta = np.where(squared > 0, 1, -1j) * np.sqrt(np.abs(squared))
        y = np.where([mode[0] == "TM" for mode in modes], k**2 / beta, beta)
        root = np.sqrt(y)
        s = root[:, None] * np.linalg.solve(np.eye(len(y)) + 1j * z * y, 2j * z * root)
        s = s - np.eye(len(y))
        ends = [0, len(self.modes[0])]
        turn = np.exp(1j * beta[ends].real * _FEED)
        return turn[:, None] * s[np.ix_(ends, ends)] * turn


def _lines(segment, start, layers):
    first = 0.3 * segment.length / segment.cells
    ends = tuple(layers if end else 0 for end in segment.graded)
    step = segment.length / segment.cells
    return graded(start, start + segment.length, step, ends, first).round(9)


def _modes(size, highest):
    """Kinds, orders and cutoffs [1/mm] that a port needs, TE10 first."""
    k = 2e-3 * math.pi * highest / SPEED_OF_LIGHT
    cut = math.hypot(k, -math.log(_LEFT) / (2 * _FEED))
    a, b = size
    found = []
    for m in range(int(cut * a / math.pi) + 1):
        for n in range(int(cut * b / math.pi) + 1):
            kinds = ("TE", "TM") if m * n else ("TE",) if m + n else ()
            cutoff = math.pi * math.hypot(m / a, n / b)
            found += [(kind, m, n, cutoff) for kind in kinds if cutoff < cut]
    return sorted(found, key=lambda mode: mode[3])


def _field(size, frame, mode):
    """Transverse E of a mode, of unit power, with E of TE10 along the port's +y."""
    import ngsolve as ng

    rotation, centre = frame
    at = [ng.x - float(centre[0]), ng.y - float(centre[1]), ng.z - float(centre[2])]
    x, y = (sum(float(rotation[j, i]) * at[j] for j in range(3)) for i in (0, 1))
    (a, b), (kind, m, n, cutoff) = size, mode
    kx, ky = m * math.pi / a, n * math.pi / b
    sx, cx = ng.sin(kx * (x + a / 2)), ng.cos(kx * (x + a / 2))
    sy, cy = ng.sin(ky * (y + b / 2)), ng.cos(ky * (y + b / 2))
    scale = math.sqrt((2 - (m == 0)) * (2 - (n == 0)) / (a * b)) / cutoff
    along, up = (-ky * cx * sy, kx * sx * cy) if kind == "TE" else (kx * cx * sy, ky * sx * cy)
    return ng.CF(
        tuple(
            scale * (along * float(rotation[i, 0]) + up * float(rotation[i, 1])) for i in range(3)
        )
    )
