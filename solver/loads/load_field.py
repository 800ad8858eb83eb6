"""The field of a solved load, read anywhere in its plane, and the heat that it makes.

The weak form itself says how much: for the field x that one wave excites, the imaginary part of
``x^H (K - k^2 M) x`` is the power that stays, and it is an integral over the cells of

    k^2 eps'' |E|^2 + mu''/|mu|^2 |curl E|^2,

over the phase constant beta of the entering wave when its squared field has unit integral.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray, Numbers
from solver.elements.conical_rules import gauss_jacobi
from solver.elements.plane_edges import ElementTriField, field_tables
from solver.loads.load_problem import LoadProblem
from solver.waves.matched_ports import flux_of_first

#: Lines that are cut through the mesh at once.
_BATCH = 48


class LoadField:
    """Field of a TE10 wave that enters, its squared field of unit integral over the port.

    Parameters
    ----------
    problem : LoadProblem
    system : PlaneSystem
    unknowns : (n,) complex array
        Those of a space of lower degree are the first ones.
    frequency : float
        [Hz]
    """

    def __init__(
        self, problem: LoadProblem, system: Any, unknowns: ComplexArray, frequency: float
    ) -> None:
        self.problem, self.system, self.frequency = problem, system, frequency
        self.vector = isinstance(system.element, ElementTriField)
        self.mesh, filling = system.plane_mesh.mesh, system.plane_mesh.filling
        padded = np.zeros(max(system.sizes.values()) + 1, dtype=complex)
        padded[: len(unknowns)] = unknowns
        self._local = padded[system.local]
        self.electric = -np.imag(filling.permittivity)
        self.magnetic = np.imag(1 / filling.permeability)
        #: Cells that turn power to heat.
        self.absorbing: Numbers = np.flatnonzero((self.electric > 0) | (self.magnetic > 0))
        self._q = problem.squared_at(np.array([frequency]))
        self.beta = float(problem.modes.phase_constants(self._q)[0, 0].real)

    @classmethod
    def of_model(cls, problem: LoadProblem, system: Any, model: Any, frequency: float) -> LoadField:
        """Take the field from a reduced model of the system or of a lower degree."""
        squared = problem.squared_at(np.array([frequency]))
        admittance = problem.admittance_at(squared)[0]
        load = flux_of_first(model.impedance(squared)[0], admittance)
        return cls(problem, system, model.field(float(squared[0]), load), frequency)

    def values(self, grid: Array, cells: Numbers) -> ComplexArray:
        """Electric field at points (2, q) of some cells, (components, c, q) [m^-1/2].

        One component along b in the H-plane; in the E-plane those along the axis and along b,
        largest midway between the narrow walls, and that along a, largest on them.
        """
        return self._fields(grid, cells, np.arange(len(cells)))[0]

    def magnetic_field(self, grid: Array, cells: Numbers) -> ComplexArray:
        """Return eta0 H along the axis and across it, of an H-plane load, (2, c, q) [m^-1/2]."""
        _, slope = self._fields(grid, cells, np.arange(len(cells)))
        permeability = self.system.plane_mesh.filling.permeability[cells][:, None]
        # H = j curl E / (k mu), the curl of E upon the plane being its gradient turned
        turned = np.stack([slope[1], -slope[0]])
        return np.asarray(1j * turned / (permeability * np.sqrt(self._q[0])))

    def density(self, grid: Array, cells: Numbers) -> tuple[Array, Array]:
        """Heat at points (2, q) of some cells, over the entering power, (c, q) each [m^-2].

        The part that varies across the plane as sin^2, or not at all in the H-plane; and the part
        that varies as cos^2.
        """
        return self._heat(grid, cells, np.arange(len(cells)))

    def fractions(self, place: Array) -> Array:
        """Heat in a length over the entering power at places along the axis, (n,) [1/m]."""
        parts = [self._fractions(place[i : i + _BATCH]) for i in range(0, len(place), _BATCH)]
        return np.concatenate(parts)

    def _fractions(self, place: Array) -> Array:
        corners = self.mesh.p[:, self.mesh.t[:, self.absorbing]]
        low, high = corners[0].min(axis=0), corners[0].max(axis=0)
        line, cell = np.nonzero((low < place[:, None]) & (place[:, None] < high))
        if not line.size:
            return np.zeros(len(place))
        start, end = _crossed(corners[:, :, cell], place[line])
        s, w = gauss_jacobi(self.system.element.p + 2)
        t = start[:, None] + (end - start)[:, None] * s
        points = np.stack([np.broadcast_to(place[line][:, None], t.shape), t])
        cells = self.absorbing[cell]
        reference = self.mesh._mapping().invF(points, tind=cells)
        numbers = np.repeat(np.arange(len(cells)), len(s))
        heat = sum(self._heat(reference.reshape(2, -1), cells, numbers))
        along = (np.reshape(heat, t.shape) * w).sum(axis=1) * (end - start)
        return np.asarray(np.bincount(line, along, minlength=len(place)), dtype=float)

    def _heat(self, points: Array, cells: Numbers, numbers: Numbers) -> tuple[Array, Array]:
        fields, turned = self._fields(points, cells, numbers)
        many = numbers if fields.ndim == 2 else np.arange(len(cells))[:, None]
        electric = float(self._q[0]) * self.electric[cells][many] / self.beta
        magnetic = self.magnetic[cells][many] / self.beta
        e2, c2 = np.abs(fields) ** 2, np.abs(turned) ** 2
        if not self.vector:
            return electric * e2[0] + magnetic * c2.sum(axis=0), np.zeros(e2[0].shape)
        sines = electric * (e2[0] + e2[1]) + magnetic * c2[2]
        return sines, electric * e2[2] + magnetic * (c2[0] + c2[1])

    def _fields(
        self, points: Array, cells: Numbers, numbers: Numbers
    ) -> tuple[ComplexArray, ComplexArray]:
        """E and its curl (components, ...) at reference points.

        Either the same points (2, q) in all cells, `numbers` being that of every cell, or one
        point of the cell ``cells[number]`` for each of the numbers (q,).
        """
        one_each = len(numbers) == points.shape[1] and len(numbers) != len(cells)
        local = self._local[:, cells]
        sums = "iq,iq->q" if one_each else "ic,iq->cq"
        turns = "iq,iaq->aq" if one_each else "ic,iaq->acq"
        weights = local[:, numbers] if one_each else local
        middle = np.full((2, 1), 1 / 3)
        inverse = self.mesh._mapping().invDF(middle, tind=cells)[..., 0]
        det = self.mesh._mapping().detDF(middle, tind=cells)[:, 0]
        inverse = inverse[:, :, numbers] if one_each else inverse[..., None]
        det = det[numbers] if one_each else det[:, None]
        pull = "aiq,aq->iq" if one_each else "aicq,acq->icq"
        if not one_each:
            inverse = np.broadcast_to(inverse, (*inverse.shape[:3], points.shape[1]))
        degree = self.system.element.p
        if not self.vector:
            found = [self.system.element.lbasis(points, i) for i in range(len(local))]
            value = np.array([v for v, _ in found])
            slope = np.array([np.broadcast_to(d, points.shape) for _, d in found])
            u = np.einsum(sums, weights, value, optimize=True)
            slopes = np.einsum(turns, weights, slope, optimize=True)
            return u[None], np.einsum(pull, inverse, slopes, optimize=True)
        tables = field_tables(degree, points)
        u = np.einsum(sums, weights, tables[0], optimize=True)
        slopes, e = (
            np.einsum(pull, inverse, np.einsum(turns, weights, table, optimize=True), optimize=True)
            for table in tables[1:3]
        )
        curl = np.einsum(sums, weights, tables[3], optimize=True) / det
        turned = slopes - self.problem.modes.across * e
        return np.concatenate([e, u[None]]), np.concatenate([turned, curl[None]])


def _crossed(corners: Array, place: Array) -> tuple[Array, Array]:
    """Ends, across the plane, of the lines at places (n,) within triangles (2, 3, n)."""
    z, t = corners
    found = []
    for a, b in ((0, 1), (1, 2), (0, 2)):
        span = np.where(z[b] == z[a], 1.0, z[b] - z[a])
        share = (place - z[a]) / span
        inside = (share >= 0) & (share <= 1) & (z[b] != z[a])
        found.append(np.where(inside, t[a] + share * (t[b] - t[a]), np.nan))
    both = np.array(found)
    return np.nanmin(both, axis=0), np.nanmax(both, axis=0)
