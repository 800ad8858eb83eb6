"""Bends along any axis, solved in the metal itself with NGSolve's curved high-order elements.

An independent reference: the axis is integrated by an ordinary differential equation and drawn as
a spline through its points; a rectangle of quadrilaterals is bent to it, and the Helmholtz
equation is solved there. No chart, no weights, no assembly or port code of the project.

With ``du/dn = sum g_m e_m`` at the ports, ``u = Z g`` with Z = B^T (K - q M)^-1 B, and incoming and
outgoing waves a, b of each mode obey a + b = Z j beta (a - b).

Conventions: exp(+j w t); planes at the two ends of the bend, feeds of one width taken out; S refers
to the transverse E field, so the E-plane bend, whose scalar is H_x / sin(pi x / a), has S11 =
-(scalar reflection).
"""

import itertools

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import make_interp_spline

SPEED_OF_LIGHT = 299_792_458.0


def raised_cosine_curvature(length, angle, onset):
    """Curvature along the axis [1/m]: half a cosine up over onset x length, flat, and down."""
    top = angle / (length * (1 - onset))

    def curvature(s):
        near = np.minimum(s, length - s)
        return top * (1 - np.cos(np.pi * np.clip(near / (onset * length), 0, 1))) / 2

    return curvature


def axis_by_ode(curvature, length, s):
    """Place (2, n) [m] and angle (n,) [rad] of the axis at s (n,), by Runge and Kutta."""

    def slope(at, state):
        return [np.cos(state[2]), np.sin(state[2]), float(curvature(at))]

    found = solve_ivp(
        slope,
        (0, length),
        [0.0, 0.0, 0.0],
        "DOP853",
        s,
        rtol=1e-12,
        atol=1e-15,
        max_step=length / 60,
    )
    return found.y[:2], found.y[2]


def bend_field(plane, width, broad_width, length, curvature, ends, frequency, cells=6, degree=8):
    """S (n, 2, 2) of the dominant mode of a bend with any curvature.

    Parameters
    ----------
    plane : "E" or "H"
    width, broad_width : float
        Inside dimension in the plane of the bend, and a [m].
    length : float
        Of the axis [m].
    curvature : callable
        Of the place along the axis [1/m].
    ends : sequence of float
        Fractions of the length where lines of the mesh have to lie, 0 and 1 among them.
    frequency : (n,) array
        [Hz]
    cells : int
        Cells along each stretch between two such lines.
    """
    import ngsolve

    # all lengths in widths
    long = length / width
    stretches = [np.linspace(-1, 0, 4)]
    stretches += [np.linspace(a, b, cells + 1) * long for a, b in itertools.pairwise(ends)]
    lines = np.unique(np.concatenate([*stretches, long + np.linspace(0, 1, 4)]).round(12))
    mesh = _rectangle(lines, 3)
    across = ngsolve.GridFunction(ngsolve.H1(mesh, order=1))
    across.Set(ngsolve.y)
    shift = ngsolve.GridFunction(ngsolve.VectorH1(mesh, order=degree + 2))
    shift.Set(_moved(lambda s: width * curvature(s * width), long), bonus_intorder=12)
    mesh.SetDeformation(shift)
    space = ngsolve.H1(mesh, order=degree, dirichlet="wall" if plane == "H" else "")
    orders = np.arange(16) + (plane == "H")
    columns = _columns(space, across, orders, plane)
    u, v = space.TnT()
    result = []
    for f in np.atleast_1d(frequency):
        k0 = 2 * np.pi * f / SPEED_OF_LIGHT
        squared = (k0**2 - (np.pi / broad_width if plane == "E" else 0.0) ** 2) * width**2
        form = ngsolve.BilinearForm(space, symmetric=True)
        form += (ngsolve.grad(u) * ngsolve.grad(v) - squared * u * v) * ngsolve.dx(bonus_intorder=8)
        form.Assemble()
        inverse = form.mat.Inverse(space.FreeDofs(), inverse="umfpack")
        vector, answer = form.mat.CreateColVector(), form.mat.CreateColVector()
        z = np.empty((len(columns), len(columns)))
        for n, column in enumerate(columns):
            vector.FV().NumPy()[:] = column
            answer.data = inverse * vector
            z[:, n] = np.array(columns) @ answer.FV().NumPy()
        beta2 = np.tile(squared - (np.pi * orders) ** 2, 2)
        beta = np.where(beta2 > 0, 1.0, -1j) * np.sqrt(np.abs(beta2))
        zb = z * (1j * beta)
        s = np.linalg.solve(np.eye(len(zb)) + zb, zb - np.eye(len(zb)))
        pick = np.array([0, len(orders)])
        whole = s[np.ix_(pick, pick)] * np.exp(2j * beta[0].real)
        sign = 1 if plane == "H" else -1
        result.append(whole * (np.eye(2) * sign + np.array([[0, 1], [1, 0]])))
    mesh.UnsetDeformation()
    return np.array(result)


def _rectangle(lines, rows):
    from ngsolve.meshes import MakeStructured2DMesh

    count = len(lines) - 1

    def place(x, y):
        return float(np.interp(x * count, np.arange(count + 1), lines)), y - 0.5

    mesh = MakeStructured2DMesh(quads=True, nx=count, ny=rows, mapping=place)
    for number, name in enumerate(mesh.GetBoundaries()):
        wall = {"left": "port1", "right": "port2"}.get(name, "wall")
        mesh.ngmesh.SetBCName(number, wall)
    return mesh


def _moved(curvature, long):
    """Place in the metal less that in the rectangle, as an expression; positive y lies outside."""
    import ngsolve

    s = np.linspace(0, long, 2001)
    (x, y), turned = axis_by_ode(curvature, long, s)
    inside = ngsolve.IfPos(ngsolve.x, ngsolve.IfPos(ngsolve.x - long, long, ngsolve.x), 0.0)
    axis_x, axis_y, theta = (_spline(s, values, inside) for values in (x, y, turned))
    cos, sin = ngsolve.cos(theta), ngsolve.sin(theta)
    beyond = ngsolve.x - inside
    return ngsolve.CoefficientFunction(
        (
            axis_x + beyond * cos + ngsolve.y * sin - ngsolve.x,
            axis_y + beyond * sin - ngsolve.y * cos - ngsolve.y,
        )
    )


def _spline(s, values, at):
    import ngsolve

    spline = make_interp_spline(s, values, k=3)
    # one more knot at the end, so that its last point lies inside
    knots = np.concatenate([spline.t, [spline.t[-1]]])
    return ngsolve.BSpline(4, list(knots), list(spline.c))(at)


def _columns(space, across, orders, plane):
    import ngsolve

    v = space.TestFunction()
    columns = []
    for port in ("port1", "port2"):
        for order in orders:
            size = 1.0 if order == 0 else np.sqrt(2.0)
            shape = ngsolve.sin if plane == "H" else ngsolve.cos
            load = ngsolve.LinearForm(space)
            angle = float(order) * np.pi * (across + 0.5)
            load += size * shape(angle) * v * ngsolve.ds(port, bonus_intorder=int(3 * order) + 4)
            load.Assemble()
            columns.append(np.array(load.vec.FV().NumPy()))
    return columns
