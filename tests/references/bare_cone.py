"""Conical horns with thin walls in free space by NGSolve, in the half-plane.

An independent reference: E for TM01 too (the repository solves for H there), triangles refined
towards the rim, own forms, complex matrices at each frequency, and about the horn a layer whose
stretch grows smoothly, unlike the sudden one it is compared with. Lengths are counted in radii of
the guide; the unknowns of order 1 are those of `joint_harmonic`.
"""

import numpy as np
from scipy.special import jn_zeros, jnp_zeros

from tests.references.joint_half_plane import SPEED_OF_LIGHT, _bessel_j1
from tests.references.joint_harmonic import _series


class BareCone:
    """A conical horn; lengths in metres, its mode TM01 or TE11."""

    def __init__(
        self, radius, aperture, length, mode, *, degree=4, finest=0.01, steepest=8.0, layer=1.6
    ):
        import ngsolve
        from netgen.occ import Glue, MoveTo, OCCGeometry

        self.scale, self.steepest, self.layer, self.mode = radius, steepest, layer, mode
        a, length = aperture / radius, length / radius
        self.feed, clear = 2.2, 0.6
        start = -length - self.feed
        self.front, self.back, self.side = clear, -length - clear, max(a, 1) + clear
        low, high, out = self.back - layer, self.front + layer, self.side + layer
        inside = MoveTo(start, 0).Rectangle(self.feed, 1).Face()
        column = MoveTo(low - self.feed, 0).Rectangle(-length - low + self.feed, 1).Face()
        if length:
            horn = MoveTo(-length, 0).LineTo(0, 0).LineTo(0, a).LineTo(-length, 1).Close().Face()
            inside, column = inside + horn, column + horn
        outside = MoveTo(low, 0).Rectangle(high - low, out).Face() - column
        shape = Glue([inside, outside])
        for edge in shape.edges:
            z, r = edge.center.x, edge.center.y
            edge.name = "wall"
            if abs(r) < 1e-9:
                edge.name = "axis"
            elif abs(z - start) < 1e-9 and r < 1:
                edge.name = "port1"
            elif abs(z) < 1e-9 and r < a:
                edge.name = "aperture"
        for vertex in shape.vertices:
            if abs(vertex.p.x) < 1e-9 and abs(vertex.p.y - a) < 1e-9:
                vertex.maxh = finest
        self.mesh = ngsolve.Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=0.35, grading=0.4))
        space = ngsolve.HCurl(self.mesh, order=degree, dirichlet="wall", complex=True)
        if mode == "TE11":
            space = space * ngsolve.H1(
                self.mesh, order=degree + 1, dirichlet="wall|axis", complex=True
            )
        self.space = space

    def medium(self):
        """Permittivity, which is also the permeability, along z, r and about the axis."""
        import ngsolve as ng

        z, r = ng.x, ng.y
        behind = ng.IfPos(r - 1, self.back - z, 0)
        depths = [ng.IfPos(z - self.front, z - self.front, behind), r - self.side]
        depths = [ng.IfPos(d, d, 0) / self.layer for d in depths]
        slope_z, slope_r = (1 - 1j * self.steepest * d**2 for d in depths)
        over = 1 - 1j * self.steepest * depths[1] ** 3 * self.layer / 3 / r
        return slope_r * over / slope_z, slope_z * over / slope_r, slope_z * slope_r / over

    def reflection(self, frequency):
        """S11 with its plane at the throat."""
        import ngsolve as ng

        k = 2 * np.pi * frequency / SPEED_OF_LIGHT * self.scale
        harmonic = self.mode == "TE11"
        root = (jnp_zeros(1, 1) if harmonic else jn_zeros(0, 1))[0]
        beta = np.sqrt(k**2 - root**2)
        r, (along_z, along_r, around) = ng.y, self.medium()
        form = ng.BilinearForm(self.space, symmetric=True)
        load = ng.LinearForm(self.space)
        port, at = ng.ds("port1", bonus_intorder=6), ng.ds("port1", bonus_intorder=10)
        field = ng.CF((along_z, along_r))

        def weighed(a, b, weights):
            return weights[0] * a[0] * b[0] + weights[1] * a[1] * b[1]

        if harmonic:
            (u, e), (v, f) = self.space.TnT()
            stiff = ng.CF((1 / along_r, 1 / along_z))
            ue, ve = r * u - ng.grad(e), r * v - ng.grad(f)
            whirls = [r * ng.curl(w) - w[0] for w in (u, v)]
            form += (
                r * whirls[0] * whirls[1] / around
                + r * weighed(u, v, stiff)
                - k**2 * r * weighed(ue, ve, field)
                - k**2 * around * e * f / r
            ) * ng.dx(bonus_intorder=6)
            ut, vt = u.Trace(), v.Trace()
            et, ft = ng.grad(e).Trace(), ng.grad(f).Trace()
            form += 1j * beta * (r * (r * ut - et) * (r * vt - ft) + e * f / r) * port
            mode_r, mode_e = _series(r, 0), _series(r, 1)
            load += (r * ng.CF((0, mode_r)) * (r * vt - ft) + mode_e * f / r) * at
            norm = ng.Integrate((r * mode_r**2 + mode_e**2 / r) * at, self.mesh)
            admittance = beta
        else:
            u, v = self.space.TnT()
            admittance = k**2 / beta
            form += (
                r * ng.curl(u) * ng.curl(v) / around - k**2 * r * weighed(u, v, field)
            ) * ng.dx(bonus_intorder=6)
            form += 1j * admittance * r * u.Trace() * v.Trace() * port
            mode_r = _bessel_j1(root, r)
            load += r * ng.CF((0, mode_r)) * v.Trace() * at
            norm = ng.Integrate(r * mode_r**2 * at, self.mesh)
        form.Assemble()
        load.Assemble()
        answer = load.vec.CreateVector()
        answer.data = form.mat.Inverse(self.space.FreeDofs(), inverse="umfpack") * load.vec
        s = 2j * admittance * ng.InnerProduct(answer, load.vec, conjugate=False) / norm - 1
        return complex(s * np.exp(2j * beta * self.feed))
