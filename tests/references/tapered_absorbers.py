"""Loads by NGSolve, an independent finite element library with forms of its own.

In the H-plane E along b in two dimensions; in the E-plane either the vector field in space, with
nothing assumed but the mirror through the middle of the broad wall, or the two fields in the plane
that half a wave across leaves.  The port lies far enough away that only TE10 gets there.  The
absorber is a polygon of its own, not the solver's mesh.
"""

import numpy as np

SPEED_OF_LIGHT = 299_792_458.0


def polygons(load, feed):
    """Corners (z, t) of the air and of the absorber [m]; t counts from a wall."""
    width = load.width_in_plane
    end, taper, base = load.taper_length + load.base_length, load.taper_length, load.base_width
    low = 0.5 * (width - base) if load.position == "centre" else 0.0
    tip = 0.5 * width if load.position == "centre" else 0.0
    guide = [(-feed, 0.0), (end, 0.0), (end, width), (-feed, width)]
    if taper == 0.0:
        return guide, [(0.0, low), (end, low), (end, low + base), (0.0, low + base)]
    outline = [(0.0, tip), (taper, low), (end, low), (end, low + base), (taper, low + base)]
    return guide, [p for i, p in enumerate(outline) if p not in outline[:i]]


def _face(points):
    from netgen.occ import WorkPlane

    plane = WorkPlane().MoveTo(*points[0])
    for point in points[1:]:
        plane.LineTo(*point)
    return plane.Close().Face()


def _shape(load, feed, size, finest):
    """Both faces, glued, with fine cells at the absorber's edges."""
    from netgen.occ import Glue

    guide, absorber = (np.array(p) for p in polygons(load, feed))
    inside = _face([tuple(p) for p in absorber])
    inside.name, inside.maxh = "absorber", size[1]
    air = _face([tuple(p) for p in guide]) - inside
    air.name = "air"
    shape = Glue([air, inside])
    for vertex in shape.vertices:
        place = np.array([vertex.p.x, vertex.p.y])
        at_edge = np.abs(absorber - place).max(axis=1).min() < 1e-9
        if at_edge and place[0] < load.taper_length + load.base_length - 1e-9:
            vertex.maxh = finest
    return shape


def _cells(load, frequency, fine):
    wave = SPEED_OF_LIGHT / frequency
    index = abs(load.complex_permittivity * load.complex_permeability) ** 0.5
    size = min(wave, load.width_in_plane) * fine
    return size, size / max(1.0, index)


def _materials(mesh, load):
    eps = mesh.MaterialCF({"absorber": load.complex_permittivity}, default=1.0)
    return eps, mesh.MaterialCF({"absorber": load.complex_permeability}, default=1.0)


def _propagation(load, frequency):
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    return k, np.sqrt(k**2 - (np.pi / load.guide.broad_width) ** 2)


def reflection_in_plane(load, frequency, degree=6, fine=0.3, finest=1e-5):
    """S11 of TE10 at one frequency, the plane at the tip."""
    import ngsolve as ng
    from netgen.occ import OCCGeometry

    feed = 2.2 * load.width_in_plane
    shape = _shape(load, feed, _cells(load, frequency, fine), finest)
    end = load.taper_length + load.base_length
    for edge in shape.edges:
        z, t = edge.center.x, edge.center.y
        outer = min(abs(t), abs(t - load.width_in_plane), abs(z - end)) < 1e-9
        edge.name = "port" if abs(z + feed) < 1e-9 else "wall" if outer else "inner"
    size = _cells(load, frequency, fine)[0]
    mesh = ng.Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=size, grading=0.6))
    eps, mu = _materials(mesh, load)
    k, beta = _propagation(load, frequency)
    on_port = ng.ds("port")
    if load.plane == "H":
        space = ng.H1(mesh, order=degree, dirichlet="wall", complex=True)
        u, v = space.TnT()
        mode = ng.sin(np.pi * ng.y / load.guide.broad_width)
        form = (ng.grad(u) * ng.grad(v) / mu - k**2 * eps * u * v) * ng.dx
        form += 1j * beta * u * v * on_port
        right = 2j * beta * mode * v * on_port
    else:
        across = np.pi / load.guide.broad_width
        space = ng.HCurl(mesh, order=degree - 1, dirichlet="wall", complex=True) * ng.H1(
            mesh, order=degree, dirichlet="wall", complex=True
        )
        (e, u), (f, v) = space.TnT()
        mode = 1
        form = ng.curl(e) * ng.curl(f) / mu * ng.dx
        form += (ng.grad(u) - across * e) * (ng.grad(v) - across * f) / mu * ng.dx
        form -= k**2 * eps * (e * f + u * v) * ng.dx
        form += 1j * beta * (e.Trace() * f.Trace() + u * v) * on_port
        right = 2j * beta * ng.CF((0, 1)) * f.Trace() * on_port
    found = _solved(space, form, right)
    solved = found if load.plane == "H" else found.components[0][1]
    over = ng.Integrate(mode * solved, mesh, definedon=mesh.Boundaries("port"), order=2 * degree)
    own = ng.Integrate(ng.CF(mode) * mode, mesh, definedon=mesh.Boundaries("port"), order=20)
    return (over / own - 1) * np.exp(2j * beta * feed)


def reflection_in_space(load, frequency, degree=3, fine=0.3, finest=2e-4):
    """S11 of TE10 of a load in the E-plane, from the vector field in half of the guide."""
    import ngsolve as ng
    from netgen.occ import OCCGeometry, Vec

    feed = 2.5 * load.width_in_plane
    half = 0.5 * load.guide.broad_width
    flat = _shape(load, feed, _cells(load, frequency, fine), finest)
    shape = flat.Extrude(Vec(0, 0, half))
    end = load.taper_length + load.base_length
    for face in shape.faces:
        z, t, x = face.center
        outer = min(abs(t), abs(t - load.width_in_plane), abs(z - end), abs(x)) < 1e-9
        face.name = "port" if abs(z + feed) < 1e-9 else "wall" if outer else "open"
    for edge in shape.edges:
        corners = polygons(load, feed)[1]
        place = (edge.center.x, edge.center.y)
        upright = abs(edge.center.z - 0.5 * half) < 1e-9
        if (
            upright
            and place[0] < end - 1e-9
            and min(np.hypot(*(np.array(corners) - place).T)) < 1e-9
        ):
            edge.maxh = finest
    size = _cells(load, frequency, fine)[0]
    mesh = ng.Mesh(OCCGeometry(shape).GenerateMesh(maxh=size, grading=0.6))
    eps, mu = _materials(mesh, load)
    k, beta = _propagation(load, frequency)
    space = ng.HCurl(mesh, order=degree - 1, dirichlet="wall", complex=True, type1=True)
    e, f = space.TnT()
    mode = ng.CF((0, ng.sin(np.pi * ng.z / load.guide.broad_width), 0))
    form = (ng.curl(e) * ng.curl(f) / mu - k**2 * eps * e * f) * ng.dx
    form += 1j * beta * e.Trace() * f.Trace() * ng.ds("port")
    found = _solved(space, form, 2j * beta * mode * f.Trace() * ng.ds("port"))
    port = mesh.Boundaries("port")
    over = ng.Integrate(mode * found, mesh, definedon=port, order=12)
    own = ng.Integrate(mode * mode, mesh, definedon=port, order=12)
    return (over / own - 1) * np.exp(2j * beta * feed)


def _solved(space, form, right):
    import ngsolve as ng

    matrix, load = ng.BilinearForm(space, symmetric=True), ng.LinearForm(space)
    matrix += form
    load += right
    matrix.Assemble()
    load.Assemble()
    found = ng.GridFunction(space)
    inverse = matrix.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")
    found.vec.data = inverse * load.vec
    found.vec.data += inverse * (load.vec - matrix.mat * found.vec)
    return found
