"""Rectangular horns with thin walls in free space by NGSolve, on tetrahedra.

An independent reference: another mesh, other elements and layers of another library and strength.
Lengths in millimetres, frequencies in GHz.
"""

import itertools

import numpy as np

SPEED_OF_LIGHT = 299.792458
GAP, LAYER, STEEPNESS = 0.3, 0.4, 3.0


class BareHorn:
    """A quarter of the space; guide (a, b), aperture, length, frequency, size of edge cells."""

    def __init__(self, guide, aperture, length, frequency, *, finest, order=3):
        from netgen.occ import Box, Glue, OCCGeometry, Pnt
        from ngsolve import HCurl, Mesh, pml

        self.guide, self.frequency = guide, frequency
        self.wavelength = SPEED_OF_LIGHT / frequency
        half = np.array([guide, aperture]) / 2
        self.feed = 1.2 * guide[0]
        gap, layer = GAP * self.wavelength, LAYER * self.wavelength
        start = -(length + self.feed)
        x, y = half.max(axis=0) + gap
        inner = Box(Pnt(0, 0, start), Pnt(x, y, gap))
        within = [Box(Pnt(0, 0, start), Pnt(*half[0], -length))]
        if length:
            within.append(_flare(half, length))
        behind = Box(Pnt(0, 0, start - layer), Pnt(*half[0], start))
        whole = Box(Pnt(0, 0, start - layer), Pnt(x + layer, y + layer, gap + layer)) - behind
        beside, outside = inner, whole - inner
        for part in within:
            beside = beside - part
        outside.mat("layer")
        shape = Glue([*within, beside, outside])
        ends = (x + layer, y + layer, gap + layer)
        for face in shape.faces:
            face.name = _name(face, half, length, start, start - layer, ends)
        for edge in shape.edges:
            p = np.array([edge.center[d] for d in range(3)])
            along = np.isclose(p[:2], half[1]) & (p[:2] <= half[1] + 1e-6)[::-1]
            if abs(p[2]) < 1e-6 and along.any():
                edge.maxh = finest
        mesh = OCCGeometry(shape).GenerateMesh(maxh=0.35 * self.wavelength, grading=0.45)
        self.mesh = Mesh(mesh)
        stretched = pml.Cartesian(
            mins=(-10 * x, -10 * y, start), maxs=(x, y, gap), alpha=-1j * STEEPNESS
        )
        self.mesh.SetPML(stretched, "layer")
        self.space = HCurl(self.mesh, order=order, complex=True, dirichlet="wall")

    def reflection(self):
        """S11 of TE10 with its plane at the throat."""
        import ngsolve as ng

        k = 2 * np.pi / self.wavelength
        beta = np.sqrt(k**2 - (np.pi / self.guide[0]) ** 2)
        mode = ng.CoefficientFunction((0, ng.cos(np.pi * ng.x / self.guide[0]), 0))
        e, f = self.space.TnT()
        form = ng.BilinearForm(self.space, symmetric=True, condense=True)
        form += (ng.curl(e) * ng.curl(f) - k * k * e * f) * ng.dx
        form += 1j * beta * e.Trace() * f.Trace() * ng.ds("port")
        load = ng.LinearForm(self.space)
        load += 2j * beta * mode * f.Trace() * ng.ds("port")
        form.Assemble()
        load.Assemble()
        field, right = ng.GridFunction(self.space), load.vec.CreateVector()
        right.data = load.vec + form.harmonic_extension_trans * load.vec
        free = self.space.FreeDofs(coupling=True)
        field.vec.data = form.mat.Inverse(free, inverse="pardiso") * right
        field.vec.data += form.inner_solve * right
        field.vec.data += form.harmonic_extension * field.vec
        port = self.mesh.Boundaries("port")
        there = ng.Integrate(field * mode, self.mesh, ng.BND, definedon=port, order=12)
        whole = ng.Integrate(mode * mode, self.mesh, ng.BND, definedon=port, order=12)
        return (there / whole - 1) * np.exp(2j * beta * self.feed)


def _flare(half, length):
    from netgen.occ import Pnt, Segment, ThruSections, Wire

    rings = []
    for (a, b), z in zip(half, (-length, 0.0), strict=True):
        corners = [Pnt(*p, z) for p in ((0, 0), (a, 0), (a, b), (0, b), (0, 0))]
        rings.append(Wire([Segment(*ends) for ends in itertools.pairwise(corners)]))
    return ThruSections(rings)


def _name(face, half, length, start, behind, ends):
    low, high = (np.array([p[d] for d in range(3)]) for p in face.bounding_box)
    at = np.array([face.center[d] for d in range(3)])
    if high[0] < 1e-4:
        return "magnetic"
    flat = abs(high[2] - low[2]) < 1e-4
    if flat and abs(at[2] - start) < 1e-4 and (high[:2] < half[0] + 1e-4).all():
        return "port"
    outer = (low > np.array(ends) - 1e-4).any() or (flat and abs(at[2] - behind) < 1e-4)
    if outer or high[1] < 1e-4:
        return "wall"
    if at[2] > -1e-6:
        return "inside"
    opened = np.clip((at[2] + length) / length, 0, 1) if length else 0.0
    wall = half[0] + opened * (half[1] - half[0])
    on = np.abs(at[:2] - wall) < 1e-3
    within = at[:2] < wall + 1e-3
    return "wall" if (on[0] and within[1]) or (on[1] and within[0]) else "inside"
