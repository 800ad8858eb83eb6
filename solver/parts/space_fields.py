"""Pictures of the field in a part solved in three dimensions."""

from __future__ import annotations

import numpy as np

from geometries.arrays import ComplexArray
from geometries.cells.space_ports import SpacePort
from solver.fem.field_samples import pieces_of_cells
from solver.parts.field_picture import CutPlane, FieldPicture, MirrorPlane
from solver.parts.solution import Solution
from solver.parts.space_solver import SpaceProblem
from solver.waves.field_vectors import fields_in_space, wavenumber
from solver.waves.matched_ports import flux_of_first


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


def space_picture(
    solution: Solution[SpaceProblem],
    frequency: float,
    cuts: tuple[CutPlane, ...] = (),
    mirrors: tuple[MirrorPlane, ...] = (),
) -> FieldPicture:
    """Field for a wave in the first port mode, over the peak of that wave alone.

    Parameters
    ----------
    solution : Solution
    frequency : float
        [Hz]
    cuts : tuple of CutPlane
        Planes that tell, beside those through the axis of port 1.
    mirrors : tuple of MirrorPlane
        What makes the whole of it.

    Returns
    -------
    FieldPicture
        On tetrahedra; its values are the size of E.
    """
    space, peak = solution.found.space, solution.problem.modes[0][0].peak
    unknowns = space_unknowns(solution, frequency) / peak
    grid, pieces = pieces_of_cells(space)
    shown = solution.found.mesh.plain_cells
    points, e, h = fields_in_space(space, unknowns, grid, wavenumber(frequency), shown)
    first = np.arange(points.shape[1]) * grid.shape[1]
    cells = (pieces[:, None, :] + first[None, :, None]).reshape(4, -1)
    e, h = e.reshape(3, -1), h.reshape(3, -1)
    return FieldPicture(
        points.reshape(3, -1),
        cells,
        np.linalg.norm(e, axis=0).astype(complex),
        frequency,
        "E",
        e,
        h,
        cuts=(*_through_port(solution.found.mesh.ports[0]), *cuts),
        mirrors=mirrors,
    )


def _through_port(port: SpacePort) -> tuple[CutPlane, CutPlane]:
    """The two planes through the axis of a port."""
    inwards, plane = -port.outward, port.origin - port.feed_length * port.outward
    return (
        CutPlane("middle, along b", plane, inwards, port.y_axis, ("z", "y")),
        CutPlane("middle, along a", plane, inwards, port.x_axis, ("z", "x")),
    )
