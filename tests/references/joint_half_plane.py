"""TM01 rotating joints by NGSolve in the half-plane, for H_phi itself, with own forms.

An independent reference: other unknown (H_phi, not r H_phi), other cells (triangles refined by
0.125 a layer towards each edge), other assembly and solver, complex matrices at each frequency, and
the radial line cut off farther out, where only its uniform wave is left. There
dE_z/dr and E_z of H0(2)(k r) give the ratio of d(r H_phi)/dr to r H_phi, k H0(2)/H1(2).
"""

import numpy as np
from scipy.special import hankel2, j1, jn_zeros

SPEED_OF_LIGHT = 299_792_458.0


class HalfPlane:
    """A joint without or with one groove in the flange of port 2; lengths in metres."""

    def __init__(self, radius, gap, rim, groove=None, *, degree=8, layers=6):
        import ngsolve
        from netgen.geom2d import SplineGeometry

        self.scale = radius
        gap = gap / radius
        self.feed, self.end = 1.6, rim / radius + 4 * gap
        self.gap = gap
        outline = [(-self.feed, 0), (gap + self.feed, 0), (gap + self.feed, 1), (gap, 1)]
        names = ["axis", "port2", "wall", "wall"]
        sharp = [False, False, False, True]
        if groove is not None:
            inner, outer, depth = (x / radius for x in groove)
            outline += [(gap, inner), (gap + depth, inner), (gap + depth, outer), (gap, outer)]
            names += ["wall"] * 4
            sharp += [True, False, False, True]
        outline += [(gap, self.end), (0, self.end), (0, 1), (-self.feed, 1)]
        names += ["rim", "wall", "wall", "port1"]
        sharp += [False, False, True, False]
        geometry = SplineGeometry()
        points = [
            geometry.AddPoint(*xy, hpref=int(s)) for xy, s in zip(outline, sharp, strict=True)
        ]
        for i, name in enumerate(names):
            ends = (points[i], points[(i + 1) % len(points)])
            geometry.Append(["line", *ends], bc=name, leftdomain=1, rightdomain=0)
        self.mesh = ngsolve.Mesh(geometry.GenerateMesh(maxh=0.4))
        self.mesh.RefineHP(layers, factor=0.125)
        self.space = ngsolve.H1(self.mesh, order=degree, dirichlet="axis", complex=True)

    def scattering(self, frequency, modes=5):
        """S11, S21 of TM01 with planes z = 0 and z = gap, and leaked over incident power.

        The frequency may be complex.
        """
        import ngsolve
        from ngsolve import grad, y

        k = 2 * np.pi * frequency / SPEED_OF_LIGHT * self.scale
        u, v = self.space.TnT()
        # (1/r) grad(r u) . grad(r v) - k^2 r u v, with y the radius
        whirl_u, whirl_v = y * grad(u)[1] + u, y * grad(v)[1] + v
        form = ngsolve.BilinearForm(self.space, symmetric=True)
        form += (y * grad(u)[0] * grad(v)[0] + whirl_u * whirl_v / y - k**2 * y * u * v) * (
            ngsolve.dx(bonus_intorder=6)
        )
        slope = k * hankel2(0, k * self.end) / hankel2(1, k * self.end)
        form += -slope * y * u * v * ngsolve.ds("rim")
        form.Assemble()
        inverse = form.mat.Inverse(self.space.FreeDofs(), inverse="umfpack")
        vectors = []
        for port in ("port1", "port2"):
            for root in jn_zeros(0, modes):
                field = _bessel_j1(root, y) * (np.sqrt(2) / abs(j1(root)))
                load = ngsolve.LinearForm(self.space)
                load += field * y * v * ngsolve.ds(port, bonus_intorder=20)
                vectors.append(load.Assemble().vec)
        z = np.empty((2 * modes, 2 * modes), dtype=complex)
        x = vectors[0].CreateVector()
        for j, vector in enumerate(vectors):
            x.data = inverse * vector
            z[:, j] = [ngsolve.InnerProduct(x, other, conjugate=False) for other in vectors]
        left = k**2 - jn_zeros(0, modes) ** 2 + 0j
        beta = np.tile(np.where(left.real > 0, np.sqrt(left), -1j * np.sqrt(-left)), 2)
        s = np.linalg.solve(np.eye(len(beta)) + 1j * z * beta, 1j * z * beta - np.eye(len(beta)))
        turn = np.exp(2j * beta[0] * self.feed)
        # H reflects with the opposite sign to E
        s11, s21 = -s[0, 0] * turn, s[modes, 0] * turn
        return complex(s11), complex(s21), 1 - abs(s11) ** 2 - abs(s21) ** 2


def _bessel_j1(root, r):
    """J1(root r) for r up to 1 as a series, good to round-off."""
    half = root * r / 2
    term, total = half, half
    for n in range(1, 40):
        term = -term * half * half / (n * (n + 1))
        total = total + term
    return total
