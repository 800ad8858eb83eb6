"""Static field of a tee of two thin arms and a wide one, by finite elements of another library."""

import ngsolve
import numpy as np
from netgen.occ import MoveTo, OCCGeometry

ORDER = 6


def tee_potentials(gap, width, v_in, v_out):
    """Potentials at the ends of the three arms, carried back to the tee without its own drop.

    The arms of the gap run to both sides from the edges of the groove, the groove upward from the
    gap's upper side. `v_in` enters on the left, `v_out` leaves on the right, the rest leaves
    upward; walls let nothing through.

    Returns
    -------
    float, float, float
        Left, right and top, but for a common constant.
    """
    side, top = 5 * gap, 4 * width
    shape = MoveTo(-width / 2 - side, 0).Rectangle(width + 2 * side, gap).Face()
    shape = shape + MoveTo(-width / 2, 0).Rectangle(width, gap + top).Face()
    ends = {
        "left": (-width / 2 - side, gap / 2),
        "right": (width / 2 + side, gap / 2),
        "top": (0, gap + top),
    }
    for edge in shape.edges:
        edge.name = "wall"
        for name, place in ends.items():
            if np.hypot(edge.center.x - place[0], edge.center.y - place[1]) < 1e-9:
                edge.name = name
    for vertex in shape.vertices:
        if abs(vertex.p.y - gap) < 1e-9 and abs(abs(vertex.p.x) - width / 2) < 1e-9:
            vertex.maxh = 1e-3 * gap
    mesh = ngsolve.Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=width / 3, grading=0.5))
    space = ngsolve.H1(mesh, order=ORDER, dirichlet="top")
    u, v = space.TnT()
    stiffness = ngsolve.BilinearForm(ngsolve.grad(u) * ngsolve.grad(v) * ngsolve.dx).Assemble()
    flux = ngsolve.LinearForm(
        v_in / gap * v * ngsolve.ds("left") - v_out / gap * v * ngsolve.ds("right")
    ).Assemble()
    potential = ngsolve.GridFunction(space)
    potential.vec.data = stiffness.mat.Inverse(space.FreeDofs()) * flux.vec
    at = {
        name: ngsolve.Integrate(potential, mesh, ngsolve.BND, definedon=mesh.Boundaries(name))
        / (width if name == "top" else gap)
        for name in ends
    }
    return (
        at["left"] - v_in * side / gap,
        at["right"] + v_out * side / gap,
        at["top"] + (v_in - v_out) * top / width,
    )
