"""A guide with many square corners in one plane, solved in one piece with NGSolve.

An independent reference for parts that are solved one by one and joined: one mesh, own forms, the
port modes of `tests.references.corner_halves`. The mesh is refined geometrically, by 0.125 a layer,
towards every corner of both walls.
"""

import numpy as np

SPEED_OF_LIGHT = 299_792_458.0
_ARM = 1.4  # straight guide at both ends, in widths


class CorneredGuide:
    """Matrices of a guide with corners; frequencies are solved one at a time.

    Parameters
    ----------
    plane : "E" or "H"
    width, broad_width : float
        Inside dimension in the plane, and a [m].
    angles : sequence of float
        Angle of each corner, positive to the left [rad].
    distances : sequence of float
        Between the planes through the inner edges of neighbours [m]; one less than corners.
    degree, layers : int
        Degree of the functions, and layers of elements round each corner.
    """

    def __init__(self, plane, width, broad_width, angles, distances, degree=8, layers=6):
        self.plane, self.width, self.broad_width = plane, width, broad_width
        left, right = _walls(np.array(angles), np.array(distances) / width)
        self.mesh = _mesh(left, right, layers)
        self.ends = [
            (right[0], left[0] - right[0]),
            (right[-1], left[-1] - right[-1]),
        ]
        self.degree = degree

    def scattering(self, frequency, modes=20):
        """S of the dominant mode, (2, 2), at the planes of the outermost corners."""
        import ngsolve

        k0 = 2 * np.pi * frequency / SPEED_OF_LIGHT
        across = np.pi / self.broad_width if self.plane == "E" else 0.0
        squared = (k0**2 - across**2) * self.width**2
        orders = np.arange(modes) + (self.plane == "H")
        beta2 = squared - (np.pi * orders) ** 2
        beta = np.tile(np.where(beta2 > 0, 1.0, -1j) * np.sqrt(np.abs(beta2)), 2)
        walls = "wall" if self.plane == "H" else ""
        space = ngsolve.H1(self.mesh, order=self.degree, dirichlet=walls)
        z = beta * _impedance(space, squared, orders, self.plane, self.ends)
        s = np.linalg.solve(np.eye(2 * modes) + 1j * z, 1j * z - np.eye(2 * modes))
        s = s[::modes, ::modes] * np.exp(2j * beta[0] * _ARM)
        return s * np.where(np.eye(2) > 0, 1.0 if self.plane == "H" else -1.0, 1.0)


def _walls(angles, distances):
    """Corners of the left and of the right wall, ends included, in widths."""
    arms = np.tan(np.abs(angles) / 2) / 2
    lengths = [_ARM + arms[0], *(distances + arms[:-1] + arms[1:]), _ARM + arms[-1]]
    heading = np.concatenate([[0.0], np.cumsum(angles)])
    steps = np.stack([np.cos(heading), np.sin(heading)], axis=1) * np.array(lengths)[:, None]
    axis = np.concatenate([[[0.0, 0.0]], np.cumsum(steps, axis=0)])
    sides = []
    for side in (0.5, -0.5):
        normals = side * np.stack([-np.sin(heading), np.cos(heading)], axis=1)
        along = np.stack([np.cos(heading[:-1]), np.sin(heading[:-1])], axis=1)
        mitres = normals[:-1] - side * np.tan(angles / 2)[:, None] * along
        ends = axis[:1] + normals[:1], axis[-1:] + normals[-1:]
        sides.append(np.concatenate([ends[0], axis[1:-1] + mitres, ends[1]]))
    return sides


def _mesh(left, right, layers):
    import ngsolve
    from netgen.geom2d import SplineGeometry

    geometry = SplineGeometry()
    # the inner edges of two corners without guide between are one
    right, left = (_without_repeats(wall) for wall in (right, left))
    outline = np.concatenate([right, left[::-1]])
    n, last = len(right), len(outline) - 1
    ends = {0, n - 1, n, last}
    points = [
        geometry.AddPoint(x, y, hpref=0 if i in ends else 1) for i, (x, y) in enumerate(outline)
    ]
    for i in range(last + 1):
        name = "port2" if i == n - 1 else "port1" if i == last else "wall"
        line = ["line", points[i], points[(i + 1) % (last + 1)]]
        geometry.Append(line, bc=name, leftdomain=1, rightdomain=0)
    mesh = ngsolve.Mesh(geometry.GenerateMesh(maxh=0.5))
    mesh.RefineHP(layers, factor=0.125)
    return mesh


def _without_repeats(wall):
    steps = np.linalg.norm(np.diff(wall, axis=0), axis=1)
    return wall[np.concatenate([[True], steps > 1e-9])]


def _impedance(space, squared, orders, plane, ends):
    """B^T (K - q M)^-1 B over the modes of both ports."""
    import ngsolve

    u, v = space.TnT()
    form = ngsolve.BilinearForm(space, symmetric=True)
    form += (ngsolve.grad(u) * ngsolve.grad(v) - squared * u * v) * ngsolve.dx
    form.Assemble()
    inverse = form.mat.Inverse(space.FreeDofs(), inverse="umfpack")
    columns = []
    for port, (start, across) in enumerate(ends, start=1):
        t = across[0] * (ngsolve.x - start[0]) + across[1] * (ngsolve.y - start[1])
        for order in orders:
            size = 1.0 if order == 0 else np.sqrt(2.0)
            shape = (ngsolve.sin if plane == "H" else ngsolve.cos)(float(order) * np.pi * t)
            load = ngsolve.LinearForm(space)
            load += size * shape * v * ngsolve.ds(f"port{port}", bonus_intorder=int(3 * order) + 4)
            load.Assemble()
            columns.append(np.array(load.vec.FV().NumPy()))
    vector, answer = form.mat.CreateColVector(), form.mat.CreateColVector()
    result = np.empty((len(columns), len(columns)))
    for n, column in enumerate(columns):
        vector.FV().NumPy()[:] = column
        answer.data = inverse * vector
        result[:, n] = np.array(columns) @ answer.FV().NumPy()
    return result
