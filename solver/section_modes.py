"""Modes of uniform guides of any cross-section: cutoffs, fields, degeneracies.

TE modes are the solutions of the scalar Neumann problem for the axial magnetic field, TM
modes those of the Dirichlet problem for the axial electric field, by hierarchical elements
of high degree. The difference to the two degrees below is the error bar.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, triu
from scipy.sparse.linalg import LinearOperator, eigsh

from geometries.guides import CircularGuide, RectangularGuide
from geometries.section_meshes import section_mesh
from geometries.sections import CoaxialSection, PolygonSection, RidgedSection, Section
from solver.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.linear_solve import SymmetricSolver
from solver.scalar_field import ScalarSystem, assemble

Array = NDArray[np.float64]

#: Degree of the elements on quadrilaterals with exact geometry and on graded triangles.
_DEGREE_QUADS, _DEGREE_TRIANGLES = 12, 7
#: What cells of a millionth of the width leave unresolved at a re-entrant corner.
_LEFT_AT_CORNERS = 1e-8
_DENSE = 700
_SAME = 1e-7


@dataclass(frozen=True, eq=False)
class SectionMode:
    """One mode of a cross-section.

    Parameters
    ----------
    kind : {"TE", "TM", "TEM"}
    cutoff : float
        Cutoff frequency [Hz]; 0 for a TEM wave.
    error : float
        Bound on the error of the cutoff [Hz]; of a TEM wave, on that of its impedance [ohm].
    multiplicity : int
        Modes of this kind that share the cutoff within the error; each is listed.
    impedance : float or None
        Of a TEM wave [ohm].
    system : ScalarSystem
        Where the potential lives.
    potential : (n,) array
        Its unknowns; the squared gradient has unit integral over the section.
    """

    kind: str
    cutoff: float
    error: float
    multiplicity: int
    impedance: float | None
    system: ScalarSystem
    potential: Array

    @property
    def wavenumber(self) -> float:
        """Cutoff wavenumber [rad/m]."""
        return 2 * np.pi * self.cutoff / SPEED_OF_LIGHT

    def field(self, pieces: int = 6) -> tuple[Array, Array]:
        """Transverse electric field on a regular grid in every cell.

        Parameters
        ----------
        pieces : int
            Intervals along a cell's side.

        Returns
        -------
        (2, n) array, (2, n) array
            Points [m] and field [1/m]; its square has unit integral over the section.
        """
        mesh, element = self.system.plane_mesh.mesh, self.system.element
        chart = self.system.plane_mesh.chart
        grid = _grid(pieces, mesh.t.shape[0] == 3)
        # just inside the cell: where two of them meet the chart has two slopes
        grid = grid + 1e-9 * (1 / 3 - grid)
        padded = np.append(self.potential, 0.0)
        local = padded[self.system.local]
        slopes = np.stack(
            [
                np.broadcast_to(element.lbasis(grid, i)[1], grid.shape)
                for i in range(len(self.system.local))
            ]
        )
        mapping = mesh._mapping()
        gradient = np.einsum("aicq,jc,jaq->icq", mapping.invDF(grid), local, slopes, optimize=True)
        place = mapping.F(grid)
        if hasattr(chart, "jacobian"):
            inverse = np.linalg.inv(np.moveaxis(chart.jacobian(place), (0, 1), (-2, -1)))
            gradient = np.einsum("cqai,acq->icq", inverse, gradient)
        if self.kind == "TE":
            gradient = np.stack([-gradient[1], gradient[0]])
        return chart.position(place).reshape(2, -1), gradient.reshape(2, -1)


def section_modes(section: Section, count: int = 10) -> tuple[SectionMode, ...]:
    """Modes of a cross-section in order of cutoff.

    Parameters
    ----------
    section : RectangularGuide, CircularGuide, CoaxialSection, RidgedSection or PolygonSection
    count : int
        How many; a coaxial section starts with its TEM wave.

    Returns
    -------
    tuple of SectionMode

    Raises
    ------
    MeshingError, LinearSolveError

    Examples
    --------
    >>> from geometries.guides import standard_guide
    >>> modes = section_modes(standard_guide("WR-90"), 4)
    >>> [(mode.kind, round(mode.cutoff / 1e9, 4)) for mode in modes]
    [('TE', 6.5571), ('TE', 13.1143), ('TE', 14.7536), ('TE', 16.1451)]
    """
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1, user_api="blas"):
        return _found(section, count)


def _found(section: Section, count: int) -> tuple[SectionMode, ...]:
    mesh = section_mesh(section, _resolved(section, count))
    degree = _DEGREE_TRIANGLES if mesh.mesh.t.shape[0] == 3 else _DEGREE_QUADS
    rough = _LEFT_AT_CORNERS if _has_edges(section) else 1e-12
    found = [mode for kind in ("TE", "TM") for mode in _scalar(mesh, kind, degree, count, rough)]
    if isinstance(section, CoaxialSection):
        found.append(_tem(mesh, degree))
    found.sort(key=lambda mode: (round(mode.cutoff, -3), mode.kind))
    return tuple(found[:count])


def _resolved(section: Section, count: int) -> float:
    """Wavelength of the last of some modes, by the law of Weyl from the area [m]."""
    if isinstance(section, RectangularGuide):
        area = section.broad_width * section.narrow_height
    elif isinstance(section, CircularGuide):
        area = np.pi * section.radius**2
    elif isinstance(section, CoaxialSection):
        area = np.pi / 4 * (section.outer_diameter**2 - section.inner_diameter**2)
    else:
        polygon = section.polygon if isinstance(section, RidgedSection) else section
        x, y = polygon.outline.T
        area = abs(0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))
    return float(np.sqrt(np.pi * area / (count + 2)))


def _has_edges(section: Section) -> bool:
    polygon = section.polygon if isinstance(section, RidgedSection) else section
    return isinstance(polygon, PolygonSection) and bool(polygon.reentrant)


def _scalar(mesh: Any, kind: str, degree: int, count: int, rough: float) -> list[SectionMode]:
    """Lowest modes of one kind."""
    system = assemble(mesh, degree, _no_modes, fixed_wall=kind == "TM")
    skipped = 1 if kind == "TE" else 0  # the constant carries no field
    levels = []
    # functions of one degree more may have the wrong symmetry on few, regular cells
    quads = mesh.mesh.t.shape[0] == 4
    for p in (degree - 2, degree - 1, degree) if quads else (degree - 2, degree):
        stiffness, mass, _ = system.at_degree(p)
        squared, x = _lowest(stiffness, mass, count + skipped)
        levels.append(np.sqrt(squared[skipped:]))
    found, x = levels[-1], x[:, skipped:] / levels[-1]
    error = np.max([np.abs(found - level) for level in levels[:-1]], axis=0) + rough * found
    same = np.abs(found[:, None] - found) <= np.maximum(error[:, None], error) + _SAME * found
    scale = SPEED_OF_LIGHT / (2 * np.pi)
    return [
        SectionMode(kind, float(scale * k), float(scale * e), int(n), None, system, potential)
        for k, e, n, potential in zip(found, error, same.sum(axis=1), x.T, strict=True)
    ]


def _no_modes(port: object, t: Array) -> Array:
    return np.zeros((0, *np.shape(t)))


def _lowest(stiffness: csr_matrix, mass: csr_matrix, count: int) -> tuple[Array, Array]:
    """Least eigenvalues, ascending, and eigenvectors normalised in the mass."""
    n = stiffness.shape[0]
    if n <= _DENSE:
        from scipy.linalg import eigh

        full = [(m + triu(m, 1).T).toarray() for m in (stiffness, mass)]
        return eigh(*full, subset_by_index=(0, min(count, n) - 1))
    solver = SymmetricSolver(stiffness, mass)
    shift = -0.1 * float(stiffness.diagonal().sum() / mass.diagonal().sum()) / n
    solver.factorise(shift)

    def operator(apply: Any) -> LinearOperator:
        return LinearOperator(
            stiffness.shape, matvec=lambda x: apply(x.reshape(-1, 1))[:, 0], dtype=float
        )

    squared, x = eigsh(
        operator(lambda x: solver.product(stiffness, x)),
        count,
        operator(lambda x: solver.product(mass, x)),
        shift,
        OPinv=operator(solver.solve),
        v0=np.random.default_rng(31).standard_normal(n),
        tol=1e-11,
    )
    order = np.argsort(squared)
    return squared[order], x[:, order]


def _tem(mesh: Any, degree: int) -> SectionMode:
    """TEM wave between the boundary ``inner`` and the rest of the wall.

    Z = eta / integral of |grad phi|^2 with phi from 0 to 1.
    """
    from skfem.assembly.dofs import Dofs

    system = assemble(mesh, degree, _no_modes, fixed_wall=False)
    dofs = Dofs(mesh.mesh, system.element)
    number = np.full(dofs.N, -1)
    number[dofs.element_dofs] = system.local
    fixed = number[dofs.get_facet_dofs(mesh.mesh.boundaries["wall"]).flatten()]
    vertices = np.unique(mesh.mesh.facets[:, mesh.mesh.boundaries["inner"]])
    one = number[dofs.nodal_dofs[0, vertices]]
    impedances = []
    for p in (degree - 2, degree - 1, degree):
        stiffness, _, _ = system.at_degree(p)
        n = stiffness.shape[0]
        lifted = np.zeros(n)
        lifted[one] = 1.0
        free = np.setdiff1d(np.arange(n), fixed)
        right = -SymmetricSolver.product(stiffness, lifted[:, None])[free]
        inside = (stiffness + triu(stiffness, 1).T).tocsr()[free][:, free]
        upper = triu(inside, format="csr")
        solver = SymmetricSolver(upper, csr_matrix((0.0 * upper.data, upper.indices, upper.indptr)))
        solver.factorise(0.0)
        lifted[free] = solver.solve(right)[:, 0]
        energy = float(lifted @ SymmetricSolver.product(stiffness, lifted[:, None])[:, 0])
        impedances.append(ETA0 / energy)
    error = max(abs(impedances[-1] - z) for z in impedances[:2]) + 1e-12 * impedances[-1]
    return SectionMode("TEM", 0.0, error, 1, impedances[-1], system, lifted / np.sqrt(energy))


def _grid(pieces: int, simplex: bool) -> Array:
    line = np.linspace(0.0, 1.0, pieces + 1)
    points = np.stack([c.ravel() for c in np.meshgrid(line, line, indexing="ij")])
    return points[:, points.sum(axis=0) <= 1 + 1e-12] if simplex else points
