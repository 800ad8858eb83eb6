"""Corners by their two mirror halves, with NGSolve's high-order elements and own forms.

An independent reference for the project's finite elements: another mesh generator, another
assembly, another solver, and half of the part at a time. The corner is cut along its mirror
plane; there the field has zero slope (even) or is zero (odd). Each half is a one-port:

    S11 = (S_even + S_odd) / 2,   S21 = (S_even - S_odd) / 2.

With ``du/dn = sum g_m e_m`` at the port, ``u = Z g`` with Z = B^T (K - q M)^-1 B, and incoming and
outgoing waves a, b of each mode obey a + b = Z j beta (a - b). The mesh is refined geometrically,
by 0.125 a layer, towards the inner edge and the two ends of the outer wall's flat; there the field
goes as a broken power of the distance, and only such a mesh converges exponentially.

Conventions: exp(+j w t); planes through the inner edge, one an arm; S refers to the transverse E
field, so the E-plane corner, whose scalar is H_x / sin(pi x / a), has S11 = -(scalar reflection).
"""

import numpy as np

SPEED_OF_LIGHT = 299_792_458.0
_ARM = 1.4  # length of the arm, in widths, before the part begins


class HalfCorner:
    """Matrices of one half of a corner; frequencies are solved one at a time.

    Parameters
    ----------
    plane : "E" or "H"
    width : float
        Inside dimension in the plane of the corner [m]: b (E), a (H).
    broad_width : float
        a [m].
    angle, cut : float
        Angle of turn [rad]; length of outer wall that the flat takes away on each arm [m].
    degree, layers : int
        Degree of the functions, and layers of elements round each singular point.
    """

    def __init__(self, plane, width, broad_width, angle, cut=0.0, degree=10, layers=8):
        self.plane, self.width, self.broad_width = plane, width, broad_width
        # lengths in widths, so that the matrices are well scaled
        tangent, cut = np.tan(angle / 2), cut / width
        self.arm = _ARM + max(0.0, cut - tangent)
        self.mesh = _mesh(angle, cut, tangent, self.arm, layers)
        self.degree = degree

    def matrix(self, frequency, modes=24):
        """S11 and S21 (m, m) among the propagating modes of the plane problem."""
        import ngsolve

        k0 = 2 * np.pi * frequency / SPEED_OF_LIGHT
        across = np.pi / self.broad_width if self.plane == "E" else 0.0
        squared = (k0**2 - across**2) * self.width**2
        orders = np.arange(modes) + (self.plane == "H")
        beta2 = squared - (np.pi * orders) ** 2
        beta = np.where(beta2 > 0, 1.0, -1j) * np.sqrt(np.abs(beta2))
        walls = "wall" if self.plane == "H" else ""
        count = int(np.sum(beta2 > 0))
        halves = []
        for mirror in ("", "|mirror" if walls else "mirror"):
            space = ngsolve.H1(self.mesh, order=self.degree, dirichlet=walls + mirror)
            z = beta * _impedance(space, squared, orders, self.plane)
            s = np.linalg.solve(np.eye(modes) + 1j * z, 1j * z - np.eye(modes))[:count, :count]
            turn = np.exp(1j * beta[:count] * self.arm)
            power = np.sqrt(beta[:count].real)
            halves.append(turn[:, None] * s * turn * power[:, None] / power)
        even, odd = halves
        sign = 1 if self.plane == "H" else -1
        return sign * (even + odd) / 2, (even - odd) / 2

    def scattering(self, frequency):
        """Complex S11 and S21 of the dominant mode."""
        s11, s21 = self.matrix(frequency)
        return complex(s11[0, 0]), complex(s21[0, 0])


def _mesh(angle, cut, tangent, arm, layers):
    """Half of the corner: port at x = -arm, inner edge at 0, mirror line through it."""
    import ngsolve
    from netgen.geom2d import SplineGeometry

    geometry = SplineGeometry()
    outline = [(-arm, 0.0), (-arm, -1.0)]
    names = ["port", "wall"]
    if cut:
        outline.append((tangent - cut, -1.0))
        names.append("wall")
    outline.append(
        (tangent - cut * (1 - np.cos(angle)) / 2, -1.0 + cut * np.sin(angle) / 2)
    )  # on the mirror line, with or without a flat
    names.append("mirror")
    outline.append((0.0, 0.0))
    names.append("wall")
    points = [geometry.AddPoint(x, y, hpref=1 if i > 1 else 0) for i, (x, y) in enumerate(outline)]
    for i, name in enumerate(names):
        ends = (points[i], points[(i + 1) % len(points)])
        geometry.Append(["line", *ends], bc=name, leftdomain=1, rightdomain=0)
    mesh = ngsolve.Mesh(geometry.GenerateMesh(maxh=0.5))
    mesh.RefineHP(layers, factor=0.125)
    return mesh


def _impedance(space, squared, orders, plane):
    """B^T (K - q M)^-1 B over the modes of the port."""
    import ngsolve

    u, v = space.TnT()
    form = ngsolve.BilinearForm(space, symmetric=True)
    form += (ngsolve.grad(u) * ngsolve.grad(v) - squared * u * v) * ngsolve.dx
    form.Assemble()
    inverse = form.mat.Inverse(space.FreeDofs(), inverse="umfpack")
    columns = []
    for order in orders:
        size = 1.0 if order == 0 else np.sqrt(2.0)
        shape = (ngsolve.sin if plane == "H" else ngsolve.cos)(float(order) * np.pi * -ngsolve.y)
        load = ngsolve.LinearForm(space)
        load += size * shape * v * ngsolve.ds("port", bonus_intorder=int(3 * order) + 4)
        load.Assemble()
        columns.append(np.array(load.vec.FV().NumPy()))
    vector, answer = form.mat.CreateColVector(), form.mat.CreateColVector()
    result = np.empty((len(orders), len(orders)))
    for n, column in enumerate(columns):
        vector.FV().NumPy()[:] = column
        answer.data = inverse * vector
        result[:, n] = np.array(columns) @ answer.FV().NumPy()
    return result
