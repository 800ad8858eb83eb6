"""The far field of what a box encloses, from the fields on the box.

By Huygens' principle in Love's form, the field outside is that of the currents n x H and -n x E on
the box. It need not be closed behind: its sides run on through the absorbing layer there, in whose
complex coordinates both the field and what it sends forwards decay.

References
----------
C. A. Balanis, "Antenna Theory: Analysis and Design", 3rd ed., 2005, section 12.3, equations 12-10
and 12-12 (from memory): the far field of such currents.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray, Numbers
from geometries.cells.space_ports import BOX, SpaceMesh
from solver.fem.edge_space import EdgeSpace, cofactor_matrices

#: Points along either side of a face of the box.
_POINTS = 7


@dataclass(frozen=True, eq=False)
class HuygensBox:
    """The quarter x > 0, y > 0 of a box between a magnetic mirror x = 0 and an electric y = 0.

    Parameters
    ----------
    points : (3, p) complex array
        Where the field is read [m].
    normals : (3, p) complex array
        Outward, times the area that a point stands for [m^2].
    """

    points: ComplexArray
    normals: ComplexArray

    @classmethod
    def of(cls, mesh: SpaceMesh, space: EdgeSpace) -> HuygensBox:
        """Take the faces named `BOX` of a mesh with a layer behind its first port."""
        port = mesh.ports[0].origin[2]
        points, normals = [], []
        for face, cells, X, weights in _faces(space):
            there, jacobians = space.located(X, cells)
            stretch = mesh.stretch[:, cells][:, :, None]
            place = there.astype(complex)
            place[2] = port + (there[2] - port) * stretch[2]
            axis, side = divmod(face, 2)
            sign = 2 * side - 1
            normal = sign * cofactor_matrices(jacobians)[:, axis] * weights
            normal = normal * (stretch.prod(axis=0) / stretch)
            points.append(place.reshape(3, -1))
            normals.append(normal.reshape(3, -1))
        return cls(np.concatenate(points, axis=1), np.concatenate(normals, axis=1))

    def far_field(self, wavenumber: Array, values: ComplexArray, angle: Array) -> ComplexArray:
        """Far field (n, 2, a) in the E and the H plane.

        Parameters
        ----------
        wavenumber : (n,) array
            k in free space [rad/m].
        values : (n, 6 p) complex array
            As `watched_box` gives them.
        angle : (a,) array
            From the axis [rad].

        Returns
        -------
        (n, 2, a) complex array
            Its square is the power per solid angle, over that of a wave whose field has the
            square integral 1/k over a surface that it crosses head-on.
        """
        e, curl = np.moveaxis(values.reshape(len(values), 2, 3, -1), 1, 0)
        h = 1j * curl / wavenumber[:, None, None]
        electric, magnetic = _cross(self.normals, h), -_cross(self.normals, e)
        found = np.empty((len(values), 2, len(angle)), dtype=complex)
        for i, k in enumerate(wavenumber):
            phase = np.exp(1j * k * np.multiply.outer(np.cos(angle), self.points[2]))
            beside = k * np.multiply.outer(np.sin(angle), self.points[:2])
            c, s = np.cos(angle), np.sin(angle)
            # images by the mirrors: J goes with E, M with H
            even, odd = phase * np.cos(beside[:, 1]), 1j * phase * np.sin(beside[:, 1])
            n_y, n_z = even @ electric[i, 1], odd @ electric[i, 2]
            found[i, 0] = n_y * c - n_z * s - even @ magnetic[i, 0]
            even, odd = phase * np.cos(beside[:, 0]), 1j * phase * np.sin(beside[:, 0])
            l_x, l_z = even @ magnetic[i, 0], odd @ magnetic[i, 2]
            found[i, 1] = l_x * c - l_z * s - even @ electric[i, 1]
        return np.asarray(found * (4 * wavenumber**1.5 / (4 * np.pi))[:, None, None])


def watched_box(mesh: SpaceMesh, space: EdgeSpace, basis: Array) -> ComplexArray:
    """E and curl E at the points of a box, components along x, y and z, (6 p, r).

    Parameters
    ----------
    mesh : SpaceMesh
    space : EdgeSpace
    basis : (f, r) array
        Fields by their free unknowns.
    """
    unknowns = np.zeros((space.n_dofs, basis.shape[1]))
    unknowns[space.free_dofs] = basis
    fields: list[ComplexArray] = []
    curls: list[ComplexArray] = []
    for _, cells, X, _ in _faces(space):
        _, jacobians = space.located(X, cells)
        cofactors = cofactor_matrices(jacobians)
        size = np.einsum("icq,icq->cq", jacobians[:, 0], cofactors[:, 0])
        local = space.coefficients(unknowns, cells)
        stretch = mesh.stretch[:, cells]
        for table, turn, kept, factor in (
            (space.element.values(X), cofactors / size, fields, 1 / stretch),
            (space.element.curls(X), jacobians / size, curls, stretch / stretch.prod(axis=0)),
        ):
            reference = np.einsum("cir,iaq->acqr", local, table, optimize=True)
            there = np.einsum("iacq,acqr->icqr", turn, reference, optimize=True)
            kept.append((there * factor[:, :, None, None]).reshape(3, -1, basis.shape[1]))
    both = np.stack([np.concatenate(kept, axis=1) for kept in (fields, curls)])
    return np.asarray(both.reshape(-1, basis.shape[1]))


def _faces(space: EdgeSpace) -> Iterator[tuple[int, Numbers, Array, Array]]:
    """Yield local faces with their cells, reference points (3, q) and weights (q,)."""
    cells, faces = space.facet_cells(space.mesh.boundaries[BOX])
    rule, weights = space.face_rule(_POINTS)
    for face in np.unique(faces):
        yield int(face), cells[faces == face], space.face_points(face, rule)[0], weights


def _cross(normals: ComplexArray, field: ComplexArray) -> ComplexArray:
    return np.cross(normals[None], field, axis=1)
