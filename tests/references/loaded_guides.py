"""Guides of any shape by NGSolve: edge elements of another library, own modes at the ports.

An independent reference for the project's finite elements: another library's elements and
solver, one frequency after the other, no reduced model. Ports lie at the far ends of feeds of
25 mm and carry every mode up to a decay of 1e-8 there and back; what the part itself looks like
comes with the mesh (`lattice_guides`, `sharp_guides`). Lengths are millimetres inside.

The field E obeys curl curl E = k^2 E with n x E = 0 on metal. At a port E_t = sum V_m e_m, and the
incident and reflected waves of E give n x curl E = -j Y (2 a - V) with Y = beta (TE) or k^2 / beta
(TM). So with V = Z g, Z = B^T A^-1 B, S = sqrt(Y) (Z^-1 + j Y)^-1 2 j sqrt(Y) - 1.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import jn_zeros, jnp_zeros, jv

SPEED_OF_LIGHT = 299_792_458.0
FEED = 25.0
_LEFT = 1e-8


@dataclass(frozen=True)
class Port:
    """A port: its boundary, guide ((a, b) or a diameter) and frame, all in mm.

    `classes` are the mirror classes (m odd, n odd) of the modes kept; None keeps all. `axes` are
    the directions in space of the port's x and y; None for those turned by `turn` about z.
    """

    name: str
    size: object
    origin: tuple
    turn: float = 0.0
    feed: float = FEED
    classes: tuple | None = None
    axes: tuple | None = None


def port_modes(port, highest):
    """Kinds, orders and cutoffs [1/mm] of the modes that a port needs, the lowest first."""
    k = 2e-3 * math.pi * highest / SPEED_OF_LIGHT
    cut = math.hypot(k, -math.log(_LEFT) / (2 * port.feed))
    found = []
    if isinstance(port.size, tuple):
        a, b = port.size
        for m in range(int(cut * a / math.pi) + 1):
            for n in range(int(cut * b / math.pi) + 1):
                cutoff = math.pi * math.hypot(m / a, n / b)
                kinds = ("TE", "TM") if m * n else ("TE",) if m + n else ()
                found += [(kind, m, n, cutoff, (m % 2, n % 2)) for kind in kinds]
    else:
        for m in range(12):
            for kind, zeros in (("TE", jnp_zeros), ("TM", jn_zeros)):
                for n, root in enumerate(zeros(m, 8), start=1):
                    for sine in (0, 1)[: 1 + (m > 0)]:
                        # parity of cos or sin of m phi; TE has E = z x grad psi
                        odd = ((m + sine) % 2, sine)
                        mirror = odd if kind == "TE" else (1 - odd[0], 1 - odd[1])
                        found.append((kind, m, (n, sine), 2 * root / port.size, mirror))
    kept = [f for f in found if f[3] < cut and (port.classes is None or f[4] in port.classes)]
    return sorted(kept, key=lambda f: f[3])


def _potential(port, mode, x, y):
    """Potential of a mode whose gradient has unit power, as an NGSolve expression."""
    import ngsolve as ng

    kind, m, n, cutoff, _ = mode
    if isinstance(port.size, tuple):
        a, b = port.size
        size = math.sqrt((2 - (m == 0)) * (2 - (n == 0)) / (a * b)) / cutoff
        wave = ng.cos if kind == "TE" else ng.sin
        sign = -1 if kind == "TE" else 1  # E of TE10 along +y
        return (
            sign * size * wave(m * math.pi / a * (x + a / 2)) * wave(n * math.pi / b * (y + b / 2))
        )
    rim = cutoff * port.size / 2
    left = rim**2 - m**2 if kind == "TE" else 1.0
    edge = jv(m, rim) if kind == "TE" else rim * 0.5 * (jv(m - 1, rim) - jv(m + 1, rim))
    size = 1 / math.sqrt((1 + (m == 0)) * math.pi / 2 * left) / abs(edge)
    real, imag = ng.CF(1), ng.CF(0)
    for _ in range(m):
        real, imag = real * x - imag * y, real * y + imag * x
    series, term = ng.CF(0), (cutoff / 2) ** m / math.factorial(m)
    power, square = ng.CF(1), x * x + y * y
    for i in range(1, 30):
        series = series + term * power
        term *= -((cutoff / 2) ** 2) / (i * (i + m))
        power = power * square
    return size * (imag if n[1] else real) * series


def _field(port, mode):
    import ngsolve as ng

    c, s = math.cos(port.turn), math.sin(port.turn)
    axes = port.axes or ((c, s, 0.0), (-s, c, 0.0))
    origin = (*port.origin, 0.0)[:3]  # without a third place, planes across z
    there = [place - start for place, start in zip((ng.x, ng.y, ng.z), origin, strict=True)]
    u, v = (sum(e * d for e, d in zip(axis, there, strict=True) if e) for axis in axes)
    potential = _potential(port, mode, u, v)
    slope = [potential.Diff(place) for place in (ng.x, ng.y, ng.z)]
    if mode[0] == "TM":
        return ng.CF(tuple(slope))
    n = np.cross(*axes)
    return ng.CF(tuple(n[i - 2] * slope[i - 1] - n[i - 1] * slope[i - 2] for i in range(3)))


class LoadedGuide:
    """A part between two ports along z.

    Parameters
    ----------
    mesh : ngsolve.Mesh
        With boundaries "wall" (metal) and those of the ports; others are magnetic walls.
    ports : sequence of two Port
    images : float
        How many times the mesh makes up the part.
    """

    def __init__(self, mesh, ports, highest, order, images=1.0):
        import ngsolve as ng

        self.ports, self.images = ports, images
        self.modes = [port_modes(port, highest) for port in ports]
        self.space = ng.HCurl(mesh, order=order, dirichlet="wall")
        u, v = self.space.TnT()
        self.stiffness, self.mass = (ng.BilinearForm(self.space, symmetric=True) for _ in range(2))
        self.stiffness += ng.curl(u) * ng.curl(v) * ng.dx
        self.mass += u * v * ng.dx
        self.stiffness.Assemble()
        self.mass.Assemble()
        self.loads = []
        for port, modes in zip(ports, self.modes, strict=True):
            for mode in modes:
                form = ng.LinearForm(self.space)
                form += _field(port, mode) * v.Trace() * ng.ds(port.name, bonus_intorder=10)
                self.loads.append(form.Assemble().vec)

    def scattering(self, frequency):
        """S (m, m) over all modes, at the ends of the part, and the row of port 2's first mode."""
        import ngsolve as ng

        k = 2e-3 * math.pi * frequency / SPEED_OF_LIGHT
        matrix = self.stiffness.mat.CreateMatrix()
        matrix.AsVector().data = self.stiffness.mat.AsVector() - k**2 * self.mass.mat.AsVector()
        inverse = matrix.Inverse(self.space.FreeDofs(), inverse="sparsecholesky")
        solutions = ng.MultiVector(self.loads[0], len(self.loads))
        loads = ng.MultiVector(self.loads[0], len(self.loads))
        for load, vector in zip(loads, self.loads, strict=True):
            load.data = vector
        solutions.data = inverse * loads
        z = self.images * np.array(ng.InnerProduct(solutions, loads).NumPy())
        squared = k**2 - np.array([mode[3] for modes in self.modes for mode in modes]) ** 2
        beta = np.where(squared > 0, 1, -1j) * np.sqrt(np.abs(squared))
        magnetic = [mode[0] == "TM" for modes in self.modes for mode in modes]
        y = np.where(magnetic, k**2 / beta, beta)
        root = np.sqrt(y)
        inner = np.linalg.solve(np.eye(len(y)) + 1j * z * y, 2j * z * root)
        s = root[:, None] * inner - np.eye(len(y))
        feeds = np.repeat([p.feed for p in self.ports], [len(m) for m in self.modes])
        turn = np.exp(1j * beta.real * feeds)
        return turn[:, None] * s * turn, len(self.modes[0])

    def pair(self, frequency):
        """Complex S11, S21 and S22 between the first modes of the ports."""
        s, row = self.scattering(frequency)
        return np.array([s[0, 0], s[row, 0], s[row, row]])
