"""TE11 rotating joints by NGSolve: the vector field of azimuthal order 1 in the half-plane.

An independent reference for closed forms: finite elements of another library with own forms.
E = (E_r cos phi, E_phi sin phi, E_z cos phi); with e = r E_phi and E_t = r u - grad e, u in H(curl)
and e in H1, the curl is regular on the axis. The ports take TE11, the only mode of this order that
travels; the rim takes the outward Hankel function of order 1. Where waves that vary across the gap
leave too, a layer beyond the rim absorbs all of them instead: there r goes on into the complex
plane, which turns the medium into one of different permittivity and permeability along r, phi, z.
"""

import numpy as np
from scipy.special import h2vp, hankel2, jnp_zeros

SPEED_OF_LIGHT = 299_792_458.0
ROOT = jnp_zeros(1, 1)[0]
FEED = 2.2
#: Slope of the complex radius at the end of the absorbing layer.
STEEPEST = 5.0


class HarmonicJoint:
    """A joint with any number of grooves (inner, outer, depth, flange); lengths in metres.

    Beyond the rim an absorbing layer of some length may follow.
    """

    def __init__(self, radius, gap, rim, grooves=(), degree=4, absorber=0.0):
        import ngsolve
        from netgen.occ import MoveTo, OCCGeometry

        self.scale, gap, self.rim = radius, gap / radius, (rim + absorber) / radius
        self.layer = absorber / radius

        def box(z0, z1, r0, r1):
            return MoveTo(z0, r0).Rectangle(z1 - z0, r1 - r0).Face()

        shape = box(-FEED, gap + FEED, 0, 1) + box(0, gap, 0.9, self.rim)
        for inner, outer, depth, flange in grooves:
            inner, outer, depth = (x / radius for x in (inner, outer, depth))
            z = (gap / 2, gap + depth) if flange == 2 else (-depth, gap / 2)
            shape = shape + box(*z, inner, outer)
        for edge in shape.edges:
            z, r = edge.center.x, edge.center.y
            edge.name = "wall"
            for name, at, target in (
                ("axis", r, 0),
                ("port1", z, -FEED),
                ("port2", z, gap + FEED),
                ("rim", r, self.rim),
            ):
                if abs(at - target) < 1e-9 and (name != "rim" or 0 < z < gap):
                    edge.name = name
        for vertex in shape.vertices:
            if vertex.p.y > 0.5 and min(abs(vertex.p.x), abs(vertex.p.x - gap)) < 1e-9:
                vertex.maxh = 0.02 * gap
        self.mesh = ngsolve.Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=0.3, grading=0.4))
        fixed = "wall|rim|axis"
        self.space = ngsolve.HCurl(
            self.mesh, order=degree, dirichlet="wall", complex=True
        ) * ngsolve.H1(self.mesh, order=degree + 1, dirichlet=fixed, complex=True)

    def medium(self):
        """Permittivity, which is also the permeability, along r, phi and z."""
        import ngsolve as ng

        if not self.layer:
            return ng.CF(1), ng.CF(1), ng.CF(1)
        r = ng.y
        inside = ng.IfPos(r - (self.rim - self.layer), r - (self.rim - self.layer), 0) / self.layer
        slope = 1 - 1j * STEEPEST * inside**2
        over = 1 - 1j * STEEPEST * inside**3 * self.layer / 3 / r
        return over / slope, slope / over, slope * over

    def scattering(self, frequency):
        """Return S11 and S21 of TE11, planes at the ends of the feeds, and leaked power."""
        import ngsolve as ng

        k = 2 * np.pi * frequency / SPEED_OF_LIGHT * self.scale
        beta = np.sqrt(k**2 - ROOT**2)
        r = ng.y
        (u, e), (v, f) = self.space.TnT()

        def whirl(w):
            # curl (r w) = r curl w + grad r x w, in axes (z, r)
            return r * ng.curl(w) - w[0]

        form = ng.BilinearForm(self.space, symmetric=True)
        along_r, around, along_z = self.medium()
        # u is turned by 90 degrees against the curl's part in the half-plane
        field, stiff = ng.CF((along_z, along_r)), ng.CF((1 / along_r, 1 / along_z))
        ue, ve = r * u - ng.grad(e), r * v - ng.grad(f)
        form += (
            r * whirl(u) * whirl(v) / around
            + r * (stiff[0] * u[0] * v[0] + stiff[1] * u[1] * v[1])
            - k**2 * r * (field[0] * ue[0] * ve[0] + field[1] * ue[1] * ve[1])
            - k**2 * around * e * f / r
        ) * ng.dx(bonus_intorder=4)
        ut, vt, et, ft = u.Trace(), v.Trace(), ng.grad(e).Trace(), ng.grad(f).Trace()
        ports = ng.ds("port1|port2", bonus_intorder=6)
        form += 1j * beta * (r * (r * ut - et) * (r * vt - ft) + e * f / r) * ports
        if not self.layer:
            slope = k * h2vp(1, k * self.rim) / hankel2(1, k * self.rim)
            form += -slope * r**3 * ut * vt * ng.ds("rim")
        form.Assemble()
        # TE11 from H_z = J1 sin phi: E_r = J1/r, e = -r J1'
        mode_r, mode_e = _series(r, 0), _series(r, 1)
        mode = ng.CF((0, mode_r))
        loads, norm = [], 0
        for port in ("port1", "port2"):
            at = ng.ds(port, bonus_intorder=10)
            load = ng.LinearForm(self.space)
            load += (r * mode * (r * vt - ft) + mode_e * f / r) * at
            loads.append(load.Assemble().vec)
            norm = ng.Integrate((r * mode_r**2 + mode_e**2 / r) * at, self.mesh)
        answer = loads[0].CreateVector()
        answer.data = form.mat.Inverse(self.space.FreeDofs(), inverse="umfpack") * loads[0]
        s = [2j * beta * ng.InnerProduct(answer, load, conjugate=False) / norm for load in loads]
        s[0] -= 1
        return complex(s[0]), complex(s[1]), 1 - abs(s[0]) ** 2 - abs(s[1]) ** 2


def _series(r, which):
    """J1(pr)/r (0) or -r dJ1(pr)/dr (1), p the first zero of J1', as a power series."""
    half = ROOT / 2
    coefficient, power, total = half, 1, 0
    for n in range(1, 20):
        total = total + coefficient * (r ** (power - 1) if which == 0 else -power * r**power)
        coefficient *= -(half**2) / (n * (n + 1))
        power += 2
    return total
