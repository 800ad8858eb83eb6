"""Field of a thin gap round a rectangular opening, in its own plane, by NGSolve."""

import numpy as np


def closed_gap_work(a, b, rim, wavenumber, degree=6):
    """CLOSED INT E_z cos(pi x/a) dl on both broad walls, where dE_z/dn = cos(pi x/a) there.

    dE_z/dn = 0 on the narrow walls and E_z = 0 at the rim; n points into the gap. The quadrant
    x, y > 0 is solved, E_z odd in y and even in x.
    """
    import ngsolve as ng
    from netgen.occ import Circle, MoveTo, OCCGeometry, Pnt

    a, b, k = a / rim, b / rim, wavenumber * rim
    quadrant = MoveTo(0, 0).Rectangle(1.1, 1.1).Face() * Circle(Pnt(0, 0), 1).Face()
    shape = quadrant - MoveTo(-1, -1).Rectangle(1 + a / 2, 1 + b / 2).Face()
    for edge in shape.edges:
        x, y = edge.center.x, edge.center.y
        edge.name = "free"
        if abs(y - b / 2) < 1e-9 and x < a / 2:
            edge.name = "broad"
        elif abs(y) < 1e-9 or (min(x, y) > 1e-9 and not np.isclose(x, a / 2)):
            edge.name = "zero"
    for vertex in shape.vertices:
        if np.hypot(vertex.p.x - a / 2, vertex.p.y - b / 2) < 1e-9:
            vertex.maxh = 1e-3
    mesh = ng.Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=0.1, grading=0.4))
    mesh.Curve(degree)
    space = ng.H1(mesh, order=degree, dirichlet="zero")
    u, v = space.TnT()
    form = ng.BilinearForm((ng.grad(u) * ng.grad(v) - k**2 * u * v) * ng.dx).Assemble()
    drive = ng.cos(np.pi * ng.x / a)
    # n points out of the domain at its inner edge; into the gap it is the other way.
    load = ng.LinearForm(-drive * v * ng.ds("broad")).Assemble()
    field = form.mat.Inverse(space.FreeDofs()) * load.vec
    work = -ng.InnerProduct(load.vec, field)
    return 4 * work * rim**2
