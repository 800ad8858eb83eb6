"""TE11 horns in a wall by NGSolve: the vector field of azimuthal order 1 in the half-plane.

An independent reference: the unknowns of `joint_harmonic`, in a half-plane that ends in a layer in
which the distance from the aperture's middle turns complex, instead of spherical waves on hexahedra
of a quarter of the space. Such a layer is a medium of other permittivity and permeability along the
distance and across it. Lengths are counted in radii of the guide.
"""

import numpy as np

from tests.references.joint_harmonic import ROOT, SPEED_OF_LIGHT, _series


class HarmonicHorn:
    """A conical horn; lengths in metres."""

    def __init__(self, radius, aperture, length, *, degree=4, finest=0.02, steepest=6.0):
        import ngsolve
        from netgen.occ import MoveTo, OCCGeometry, WorkPlane

        self.scale, self.steepest = radius, steepest
        a, length = aperture / radius, length / radius
        self.feed, self.inner, self.layer = 2.2, a + 0.5, 1.6
        outer, start = self.inner + self.layer, -length - self.feed
        shape = MoveTo(start, 0).Rectangle(self.feed, 1).Face()
        if length:
            horn = MoveTo(-length, 0).LineTo(0, 0).LineTo(0, a).LineTo(-length, 1).Close()
            shape = shape + horn.Face()
        square = MoveTo(0, 0).Rectangle(outer, outer).Face()
        shape = shape + WorkPlane().Circle(0, 0, outer).Face() * square
        for edge in shape.edges:
            z, r = edge.center.x, edge.center.y
            edge.name = "axis" if abs(r) < 1e-9 else "wall"
            if abs(z - start) < 1e-9:
                edge.name = "port1"
        for vertex in shape.vertices:
            if abs(vertex.p.x) < 1e-9 and abs(vertex.p.y - a) < 1e-9:
                vertex.maxh = finest
        self.mesh = ngsolve.Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=0.3, grading=0.4))
        self.mesh.Curve(degree + 1)
        self.space = ngsolve.HCurl(
            self.mesh, order=degree, dirichlet="wall", complex=True
        ) * ngsolve.H1(self.mesh, order=degree + 1, dirichlet="wall|axis", complex=True)

    def reflection(self, frequency):
        """S11 of TE11 with its plane at the throat."""
        import ngsolve as ng

        k = 2 * np.pi * frequency / SPEED_OF_LIGHT * self.scale
        beta = np.sqrt(k**2 - ROOT**2)
        z, r = ng.x, ng.y
        far = ng.sqrt(z * z + r * r)
        depth = ng.IfPos(far - self.inner, far - self.inner, 0) / self.layer
        inside = ng.IfPos(z, depth, 0)
        slope = 1 - 1j * self.steepest * inside**2
        over = 1 - 1j * self.steepest * inside**3 * self.layer / 3 / far
        along, across = over * over / slope, slope
        (u, e), (v, f) = self.space.TnT()

        def whirl(w):
            return r * ng.curl(w) - w[0]

        def out(w):
            return (z * w[0] + r * w[1]) / far

        def turned(w):
            return (z * w[1] - r * w[0]) / far

        ue, ve = r * u - ng.grad(e), r * v - ng.grad(f)
        form = ng.BilinearForm(self.space, symmetric=True)
        form += (
            r * whirl(u) * whirl(v) / across
            # u is turned by 90 degrees against the curl's part in the half-plane
            + r * (turned(u) * turned(v) / along + out(u) * out(v) / across)
            - k**2 * r * (along * out(ue) * out(ve) + across * turned(ue) * turned(ve))
            - k**2 * across * e * f / r
        ) * ng.dx(bonus_intorder=6)
        ut, vt, et, ft = u.Trace(), v.Trace(), ng.grad(e).Trace(), ng.grad(f).Trace()
        port = ng.ds("port1", bonus_intorder=6)
        form += 1j * beta * (r * (r * ut - et) * (r * vt - ft) + e * f / r) * port
        form.Assemble()
        mode_r, mode_e = _series(r, 0), _series(r, 1)
        at = ng.ds("port1", bonus_intorder=10)
        load = ng.LinearForm(self.space)
        load += (r * ng.CF((0, mode_r)) * (r * vt - ft) + mode_e * f / r) * at
        load.Assemble()
        norm = ng.Integrate((r * mode_r**2 + mode_e**2 / r) * at, self.mesh)
        answer = load.vec.CreateVector()
        answer.data = form.mat.Inverse(self.space.FreeDofs(), inverse="umfpack") * load.vec
        s = 2j * beta * ng.InnerProduct(answer, load.vec, conjugate=False) / norm - 1
        return complex(s * np.exp(2j * beta * self.feed))
