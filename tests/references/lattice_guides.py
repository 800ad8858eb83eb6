"""Swept parts for `loaded_guides`: hexahedra of a graded lattice, moved onto the part.

The lattice fills a straight guide x, y in [-1, 1] along z. Its lines are graded towards the ends of
the part, towards the walls and towards lines that the part asks for; every box is one hexahedron.
The map onto the part is written here in NGSolve's expressions, from the part's description alone,
and carried by polynomials of the elements' order plus one.
"""

import itertools
import math

import numpy as np

from tests.references.loaded_guides import FEED, LoadedGuide, Port

_CORNERS = ((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1))
_SIDES = ((0, 0), (1, 0), (1, 1), (0, 1))


def graded(start, stop, largest, layers=(0, 0), first=1.0, factor=0.2):
    """Lines from start to stop: `layers` shrinking ones of thickness `first` at the two ends."""
    span = stop - start
    first = min(first, 0.4 * span)
    low, high = (first * factor ** np.arange(n - 1, -1, -1.0) for n in layers)
    a = start + (first if layers[0] else 0.0)
    b = stop - (first if layers[1] else 0.0)
    middle = np.linspace(a, b, max(1, math.ceil((b - a) / largest - 1e-9)) + 1)
    return np.unique(
        np.round(np.concatenate([[start], start + low, middle, stop - high, [stop]]), 12)
    )


def along(length, layers, inner, feeds=(FEED, FEED), outer=13.0, first=2.5):
    """Lines along the axis: feeds, then the part, graded towards its ends."""
    return np.unique(
        np.concatenate(
            [
                graded(-feeds[0], 0.0, outer, (0, layers), first),
                graded(0.0, length, inner, (layers, layers), first),
                graded(length, length + feeds[1], outer, (layers, 0), first),
            ]
        )
    )


def quads_of(x, y):
    """Quadrilaterals of a plane lattice, each four points anticlockwise."""
    return [
        ((x[i], y[j]), (x[i + 1], y[j]), (x[i + 1], y[j + 1]), (x[i], y[j + 1]))
        for i in range(len(x) - 1)
        for j in range(len(y) - 1)
    ]


def quads_of_ring(core, rho):
    """A quarter of a square as a core up to 1/2 and two blocks that fan out from it to 1."""
    quads = quads_of(0.5 * core, 0.5 * core)
    for r0, r1 in itertools.pairwise(rho):
        for s0, s1 in itertools.pairwise(core):
            right = ((r0, r0 * s0), (r1, r1 * s0), (r1, r1 * s1), (r0, r0 * s1))
            quads += [right, tuple(p[::-1] for p in right[::-1])]
    return quads


def extruded(quads, z, mirrors):
    """NGSolve mesh of quadrilaterals times z; mirrors are x = 0 (magnetic), y = 0 (electric)."""
    import ngsolve
    from netgen import meshing as ng

    mesh = ng.Mesh(dim=3)
    names = ("wall", "port1", "port2", "magnetic")
    for number, name in enumerate(names, start=1):
        mesh.Add(ng.FaceDescriptor(surfnr=number, domin=1, domout=0, bc=number))
        mesh.SetBCName(number - 1, name)
    mesh.SetMaterial(1, "inside")
    points = {}

    def point(place, level):
        key = (round(place[0], 9), round(place[1], 9), level)
        if key not in points:
            points[key] = mesh.Add(ng.MeshPoint(ng.Pnt(*map(float, (*place, z[level])))))
        return points[key]

    def named(name, nodes):
        mesh.Add(ng.Element2D(names.index(name) + 1, nodes))

    sides = {}
    for quad in quads:
        for p, q in zip(quad, (*quad[1:], quad[0]), strict=True):
            key = frozenset((round(x, 9), round(y, 9)) for x, y in (p, q))
            sides.setdefault(key, []).append((p, q))
    last = len(z) - 1
    for level in range(last):
        for quad in quads:
            low, high = ([point(p, n) for p in quad] for n in (level, level + 1))
            mesh.Add(ng.Element3D(1, low + high))
        for (p, q), *other in sides.values():
            if not other:
                magnetic = mirrors[0] and p[0] == q[0] == 0
                corners = ((p, level), (q, level), (q, level + 1), (p, level + 1))
                named("magnetic" if magnetic else "wall", [point(*c) for c in corners])
    for quad in quads:
        named("port1", [point(p, 0) for p in quad])
        named("port2", [point(p, last) for p in quad])
    return ngsolve.Mesh(mesh)


class SweptReference:
    """A part swept along z, on a lattice with a map.

    Parameters
    ----------
    quads : list
        Of the cross-section, in shares of the half guide, from -1 (or 0 at a mirror) to 1.
    z : array
        Lines along the axis [mm].
    move : callable
        Takes NGSolve's x, y, z and returns the point of the part [mm].
    ports : two Port
    """

    def __init__(self, quads, z, move, ports, mirrors, highest, order):
        import ngsolve as ng

        ng.SetHeapSize(400_000_000)
        self.mesh = extruded(quads, z, mirrors)
        shift = ng.GridFunction(ng.VectorH1(self.mesh, order=order + 1))
        target = ng.CF(tuple(move(ng.x, ng.y, ng.z))) - ng.CF((ng.x, ng.y, ng.z))
        shift.Set(target, bonus_intorder=8)
        self._shift = shift  # the mesh does not keep it alive
        self.mesh.SetDeformation(shift)
        self.guide = LoadedGuide(self.mesh, ports, highest, order, 2.0 ** sum(mirrors))

    def pair(self, frequency):
        """Complex S11, S21 and S22 of the first modes."""
        return self.guide.pair(frequency)


def within(z, length):
    """Position along the part, held at its ends."""
    from ngsolve import IfPos

    return IfPos(z, IfPos(z - length, length, z), 0.0)


def dent(a, b, wall, depth, length, width, *, order, layers, cells, highest):
    """A dent: raised cosines across the wall and along the axis; all lengths in mm."""
    import ngsolve as ng

    broad = wall == "broad"
    share = width / (a if broad else b)
    inner, beside, other, axis = cells
    span = [
        graded(-share, 0, share / inner, (layers, 0), 0.3 * share),
    ]
    span.append(-span[0][::-1])
    if share < 1 - 1e-9:
        outer = graded(share, 1.0, (1 - share) / beside, (layers, 0), 0.3 * share)
        span += [outer, -outer[::-1]]
    across = np.unique(np.round(np.concatenate(span), 12))
    mirrors = (broad, False)
    if broad:
        across = across[across >= 0]
    through = np.linspace(-1, 1, other + 1)
    z = along(length, layers, length / axis)
    quads = quads_of(across, through) if broad else quads_of(through, across)

    def move(x, y, z):
        t = (x * a if broad else y * b) / 2
        inside = ng.IfPos(z, ng.IfPos(length - z, 1.0, 0.0), 0.0)
        inside = inside * ng.IfPos(width / 2 - t, ng.IfPos(width / 2 + t, 1.0, 0.0), 0.0)
        bump = ng.cos(math.pi * t / width) * ng.cos(math.pi * (z / length - 0.5))
        pressed = depth * inside * bump * bump
        if broad:
            return x * a / 2, y * b / 2 - pressed * (1 + y) / 2, z
        return x * a / 2 - pressed * (1 + x) / 2, y * b / 2, z

    # TE10 has the class (1, 0): m stays odd with a broad dent, n even with a narrow one
    kept = ((1, 0), (1, 1)) if broad else None
    ports = (
        Port("port1", (a, b), (0, 0), classes=kept),
        Port("port2", (a, b), (0, 0), classes=kept),
    )
    return SweptReference(quads, z, move, ports, mirrors, highest, order)


def taper(first, last, length, *, order, layers, cells, highest):
    """A taper with flat walls between two guides (a, b) in mm; a quarter of it."""
    x, y = (graded(0.0, 1.0, 1 / n, (0, layers - 1), 0.3) for n in cells[:2])

    def move(x, y, z):
        t = within(z, length) / length
        wide, high = (p + (q - p) * t for p, q in zip(first, last, strict=True))
        return x * wide / 2, y * high / 2, z

    ports = (
        Port("port1", first, (0, 0), classes=((1, 0),)),
        Port("port2", last, (0, 0), classes=((1, 0),)),
    )
    z = along(length, layers, length / cells[2])
    return SweptReference(quads_of(x, y), z, move, ports, (True, True), highest, order)


def twist(a, b, angle, length, raised=False, *, order, layers, cells, highest):
    """A twist of a guide a by b mm, at a constant rate or at 1 - cos(2 pi z / length)."""
    import ngsolve as ng

    x, y = (graded(-1.0, 1.0, 2 / n, (layers - 1, layers - 1), 0.3) for n in cells[:2])

    def move(x, y, z):
        t = within(z, length) / length
        turn = angle * (t - ng.sin(2 * math.pi * t) / (2 * math.pi) if raised else t)
        u, v = x * a / 2, y * b / 2
        return u * ng.cos(turn) - v * ng.sin(turn), u * ng.sin(turn) + v * ng.cos(turn), z

    ports = (
        Port("port1", (a, b), (0, 0), classes=((1, 0), (0, 1))),
        Port("port2", (a, b), (0, 0), angle, classes=((1, 0), (0, 1))),
    )
    z = along(length, layers, length / cells[2])
    return SweptReference(quads_of(x, y), z, move, ports, (False, False), highest, order)


def transition(a, b, diameter, length, *, order, layers, cells, highest):
    """A ruled loft from a rectangle a by b mm to a circle; a quarter of it.

    A rectangle's point at the share eta of a side moves on a straight line to the circle's angle
    phi_c eta (narrow sides) or 90 degrees - (90 degrees - phi_c) eta (broad sides).
    """
    import ngsolve as ng

    corner = math.atan2(b, a)
    core = np.linspace(0, 1, cells[0] + 1)
    rho = graded(0.5, 1.0, 0.5 / cells[1], (0, layers - 1), 0.15)

    def move(x, y, z):
        t = within(z, length) / length
        right = ng.IfPos(x - y, 1.0, 0.0)
        r = right * x + (1 - right) * y + 1e-14
        eta = (right * y + (1 - right) * x) / r
        phi = right * corner * eta + (1 - right) * (math.pi / 2 - (math.pi / 2 - corner) * eta)
        rim = ng.IfPos(r - 0.5, 2 * r - 1, 0.0)
        grow = diameter / math.hypot(a, b) * ng.IfPos(r - 0.5, (1 - rim) * 0.5 / r, 1.0)
        xs = x * a / 2 * grow + rim * diameter / 2 * ng.cos(phi)
        ys = y * b / 2 * grow + rim * diameter / 2 * ng.sin(phi)
        return (1 - t) * x * a / 2 + t * xs, (1 - t) * y * b / 2 + t * ys, z

    ports = (
        Port("port1", (a, b), (0, 0), classes=((1, 0),)),
        Port("port2", diameter, (0, 0), classes=((1, 0),)),
    )
    z = along(length, layers, length / cells[2])
    quads = quads_of_ring(core, rho)
    return SweptReference(quads, z, move, ports, (True, True), highest, order)


def flexible(a, b, pitch, depth, count, *, order, layers, cells, highest):
    """A convoluted guide, both pairs of walls swinging outward from a by b mm; a quarter of it."""
    import ngsolve as ng

    length = pitch * count
    x, y = (
        graded(0.0, 1.0, 1 / n, (0, layers), min(0.6, pitch / size), 0.3)
        for n, size in zip(cells[:2], (a, b), strict=True)
    )
    inner = np.linspace(0.0, length, cells[2] * count + 1)
    z = np.unique(np.concatenate([along(length, layers, length), inner]).round(9))

    def move(x, y, z):
        inside = within(z, length)
        out = 0.5 * depth * (1 - ng.cos(2 * math.pi * inside / pitch))
        return x * (a / 2 + out), y * (b / 2 + out), z

    ports = (
        Port("port1", (a, b), (0, 0), classes=((1, 0),)),
        Port("port2", (a, b), (0, 0), classes=((1, 0),)),
    )
    return SweptReference(quads_of(x, y), z, move, ports, (True, True), highest, order)


def bent_flexible(a, b, pitch, depth, count, plane, angle, *, order, layers, cells, highest):
    """A convoluted guide along an arc, in the metal itself; a half of it, cut along its plane.

    The axis runs on a circle of radius count pitch / angle; every cut square to it is the
    rectangle of the straight guide at that place of the axis.
    """
    import ngsolve as ng

    length = pitch * count
    radius = length / angle
    half = 0 if plane == "E" else 1

    def lines(direction):
        first = min(0.6, pitch / (a, b)[direction])
        found = graded(0.0, 1.0, 1 / cells[direction], (0, layers), first, 0.3)
        return found if direction == half else np.unique(np.concatenate([-found, found]))

    inner = np.linspace(0.0, length, cells[2] * count + 1)
    z = np.unique(np.concatenate([along(length, layers, length), inner]).round(9))

    def move(x, y, z):
        inside = within(z, length)
        out = 0.5 * depth * (1 - ng.cos(2 * math.pi * inside / pitch))
        across = x * (a / 2 + out), y * (b / 2 + out)
        turned, beyond = inside / radius, z - inside
        from_centre = radius + across[1 - half]
        outward = from_centre * ng.cos(turned) - radius - beyond * ng.sin(turned)
        ahead = from_centre * ng.sin(turned) + beyond * ng.cos(turned)
        return (across[0], outward, ahead) if plane == "E" else (outward, across[1], ahead)

    c, s = math.cos(angle), math.sin(angle)
    outward, ahead = radius * (c - 1), radius * s
    if plane == "E":
        axes, origin = ((1.0, 0.0, 0.0), (0.0, c, s)), (0.0, outward, ahead)
    else:
        axes, origin = ((c, 0.0, s), (0.0, 1.0, 0.0)), (outward, 0.0, ahead)
    classes = ((1, 0), (1, 1)) if plane == "E" else ((1, 0), (0, 0))
    ports = (
        Port("port1", (a, b), (0, 0), classes=classes),
        Port("port2", (a, b), origin, classes=classes, axes=axes),
    )
    mirrors = (plane == "E", plane == "H")
    quads = quads_of(lines(0), lines(1))
    return SweptReference(quads, z, move, ports, mirrors, highest, order)
