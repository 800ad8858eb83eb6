"""TM01 horns in a wall by NGSolve in the half-plane, with an absorbing layer, with own forms.

An independent reference: other unknown (H_phi, not r H_phi), other cells (triangles refined by
0.125 a layer towards the edges), other assembly and solver, complex matrices at each frequency,
and outside a layer in which the distance from the aperture's middle turns complex, instead of
spherical waves. Lengths are counted in radii of the guide.
"""

import numpy as np
from scipy.special import j1, jn_zeros

from tests.references.joint_half_plane import SPEED_OF_LIGHT, _bessel_j1


class HornHalfPlane:
    """A conical horn; lengths in metres."""

    def __init__(self, radius, aperture, length, *, degree=7, layers=5, reach=0.5, absorb=4.0):
        import ngsolve
        from netgen.geom2d import SplineGeometry

        self.scale, self.absorb = radius, absorb
        a, self.length, self.feed = aperture / radius, length / radius, 1.6
        self.inner = a + reach
        outer = self.inner + 1.5
        back = -self.length - self.feed
        geometry = SplineGeometry()

        def point(z, r, sharp=0):
            return geometry.AddPoint(z, r, hpref=sharp)

        start, near, far = point(back, 0), point(self.inner, 0), point(outer, 0)
        far_corner, far_wall = point(outer, outer), point(0, outer)
        near_corner, near_wall = point(self.inner, self.inner), point(0, self.inner)
        rim, throat, port = point(0, a, 1), point(-self.length, 1, 1), point(back, 1)
        lines = [
            (start, near, "axis", 1, 0),
            (near_wall, rim, "wall", 1, 0),
            (port, start, "port1", 1, 0),
            (near, far, "axis", 2, 0),
            (far_wall, near_wall, "wall", 2, 0),
        ]
        lines += (
            [(rim, throat, "wall", 1, 0), (throat, port, "wall", 1, 0)]
            if length
            else [(rim, port, "wall", 1, 0)]
        )
        for first, last, name, left, right in lines:
            geometry.Append(["line", first, last], bc=name, leftdomain=left, rightdomain=right)
        for spline, left, right in (
            ((near, near_corner, near_wall), 1, 2),
            ((far, far_corner, far_wall), 2, 0),
        ):
            geometry.Append(["spline3", *spline], bc="arc", leftdomain=left, rightdomain=right)
        geometry.SetMaterial(1, "air")
        geometry.SetMaterial(2, "layer")
        self.mesh = ngsolve.Mesh(geometry.GenerateMesh(maxh=0.5))
        self.mesh.RefineHP(layers, factor=0.125)
        self.mesh.Curve(degree + 2)
        self.space = ngsolve.H1(self.mesh, order=degree, dirichlet="axis", complex=True)

    def reflection(self, frequency, modes=5):
        """S11 of TM01 with its plane at the throat."""
        import ngsolve
        from ngsolve import grad, sqrt, x, y

        k = 2 * np.pi * frequency / SPEED_OF_LIGHT * self.scale
        u, v = self.space.TnT()
        distance = sqrt(x * x + y * y)
        form = ngsolve.BilinearForm(self.space, symmetric=True)
        for where, turn in (("air", 0.0), ("layer", -1j * self.absorb)):
            # X = x g(r): along the radius the map grows by dr g/dr, across it by g
            g = 1 + turn * (distance - self.inner) / distance
            along = 1 + turn

            def parts(w, g=g, along=along):
                """Components of the gradient of y w, along the radius and across it."""
                slope = [y * grad(w)[0], y * grad(w)[1] + w]
                out = (x * slope[0] + y * slope[1]) / distance
                across = (x * slope[1] - y * slope[0]) / distance
                return out / along, across / g

            (a, b), (c, d) = parts(u), parts(v)
            size = along * g / (y * g)
            integrand = size * (a * c + b * d - k**2 * y * u * y * v)
            form += integrand * ngsolve.dx(definedon=self.mesh.Materials(where), bonus_intorder=8)
        form.Assemble()
        inverse = form.mat.Inverse(self.space.FreeDofs(), inverse="umfpack")
        vectors = []
        for root in jn_zeros(0, modes):
            field = _bessel_j1(root, y) * (np.sqrt(2) / abs(j1(root)))
            load = ngsolve.LinearForm(self.space)
            load += field * y * v * ngsolve.ds("port1", bonus_intorder=20)
            vectors.append(load.Assemble().vec)
        z = np.empty((modes, modes), dtype=complex)
        solved = vectors[0].CreateVector()
        for j, vector in enumerate(vectors):
            solved.data = inverse * vector
            z[:, j] = [ngsolve.InnerProduct(solved, w, conjugate=False) for w in vectors]
        left = k**2 - jn_zeros(0, modes) ** 2 + 0j
        beta = np.where(left.real > 0, np.sqrt(left), -1j * np.sqrt(-left))
        s = np.linalg.solve(np.eye(modes) + 1j * z * beta, 1j * z * beta - np.eye(modes))
        # H reflects with the opposite sign to E
        return complex(-s[0, 0] * np.exp(2j * beta[0] * self.feed))
