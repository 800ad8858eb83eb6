"""Pictures of the field in a part solved in three dimensions."""

from __future__ import annotations

import numpy as np

from geometries.arrays import ComplexArray, Numbers
from solver.parts.field_picture import FieldPicture
from solver.parts.solution import Solution
from solver.parts.space_solver import SpaceProblem
from solver.waves.matched_ports import flux_of_first

#: Pieces along a hexahedron's side; a tetrahedron is shown by its corners.
_PIECES = 6
#: The six tetrahedra of a cube whose vertex m is at (m & 1, m >> 1 & 1, m >> 2).
_CUBE = np.array(
    [[0, 1, 3, 7], [0, 1, 5, 7], [0, 2, 3, 7], [0, 2, 6, 7], [0, 4, 5, 7], [0, 4, 6, 7]]
)


def space_unknowns(solution: Solution[SpaceProblem], frequency: float) -> ComplexArray:
    """Unknowns of the electric field for a wave that enters in the first port mode.

    Parameters
    ----------
    solution : Solution
    frequency : float
        [Hz]

    Returns
    -------
    (n_dofs,) complex array
        Walls included; the incident mode has unit amplitude (unit integral of e^2).
    """
    model, space = solution.found.last.model, solution.found.space
    q = solution.problem.squared_at(np.array([frequency]))
    y = solution.problem.admittance_at(q)[0]
    flux = flux_of_first(model.impedance(q)[0], y)
    unknowns = np.zeros(space.n_dofs, dtype=complex)
    # a mode of unit amplitude has more on the part of its port that is meshed
    unknowns[space.free_dofs] = model.field(float(q[0]), flux) / np.sqrt(solution.found.mesh.images)
    return unknowns


def space_picture(solution: Solution[SpaceProblem], frequency: float) -> FieldPicture:
    """Magnitude of E for a wave in the first port mode, over the peak of that wave alone.

    Parameters
    ----------
    solution : Solution
    frequency : float
        [Hz]

    Returns
    -------
    FieldPicture
        On tetrahedra.
    """
    space, mode = solution.found.space, solution.problem.modes[0][0]
    unknowns = space_unknowns(solution, frequency)
    if space.mesh.t.shape[0] == 8:
        line = np.arange(_PIECES + 1) / _PIECES
        grid = np.stack([c.ravel() for c in np.meshgrid(line, line, line, indexing="ij")])
        pieces = _cut_cube(_PIECES)
    else:
        grid = np.vstack([np.zeros(3), np.eye(3)]).T
        pieces = np.arange(4)[:, None]
    points, real = space.electric_field(unknowns.real, grid)
    _, imaginary = space.electric_field(unknowns.imag, grid)
    size = np.sqrt((real**2 + imaginary**2).sum(axis=0))
    first = np.arange(points.shape[1]) * grid.shape[1]
    cells = (pieces[:, None, :] + first[None, :, None]).reshape(4, -1)
    return FieldPicture(
        points.reshape(3, -1),
        cells,
        (size / mode.peak).ravel().astype(complex),
        frequency,
        "E",
    )


def _cut_cube(pieces: int) -> Numbers:
    """Tetrahedra (4, n) on a regular grid of a cube, points numbered with the last axis fastest."""
    number = np.arange((pieces + 1) ** 3).reshape([pieces + 1] * 3)
    ends = (slice(None, -1), slice(1, None))
    corners = np.stack(
        [number[ends[m & 1], ends[m >> 1 & 1], ends[m >> 2]].ravel() for m in range(8)]
    )
    return np.concatenate([corners[tetrahedron] for tetrahedron in _CUBE], axis=1)
