"""TE and TM modes of uniform guides by the plane solver's elements: cutoffs, degeneracies.

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

from geometries.shapes.guides import CircularGuide, RectangularGuide
from solver.fem.linear_solve import SymmetricSolver
from solver.fem.scalar_field import assemble
from solver.waves.guide_modes import SPEED_OF_LIGHT
from tests.references.section_meshes import Polygon, Ring, Section, section_mesh

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
    kind : {"TE", "TM"}
    cutoff : float
        Cutoff frequency [Hz].
    error : float
        Bound on its error [Hz].
    multiplicity : int
        Modes of this kind that share the cutoff within the error; each is listed.
    """

    kind: str
    cutoff: float
    error: float
    multiplicity: int

    @property
    def wavenumber(self) -> float:
        """Cutoff wavenumber [rad/m]."""
        return 2 * np.pi * self.cutoff / SPEED_OF_LIGHT


def section_modes(section: Section, count: int = 10) -> tuple[SectionMode, ...]:
    """Modes of a cross-section in order of cutoff.

    Parameters
    ----------
    section : RectangularGuide, CircularGuide, Ring or Polygon
    count : int
        How many.

    Returns
    -------
    tuple of SectionMode
    """
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1, user_api="blas"):
        return _found(section, count)


def _found(section: Section, count: int) -> tuple[SectionMode, ...]:
    mesh = section_mesh(section, _resolved(section, count))
    degree = _DEGREE_TRIANGLES if mesh.mesh.t.shape[0] == 3 else _DEGREE_QUADS
    edges = isinstance(section, Polygon) and section.reentrant
    rough = _LEFT_AT_CORNERS if edges else 1e-12
    found = [mode for kind in ("TE", "TM") for mode in _scalar(mesh, kind, degree, count, rough)]
    found.sort(key=lambda mode: (round(mode.cutoff, -3), mode.kind))
    return tuple(found[:count])


def _resolved(section: Section, count: int) -> float:
    """Wavelength of the last of some modes, by the law of Weyl from the area [m]."""
    if isinstance(section, RectangularGuide):
        area = section.broad_width * section.narrow_height
    elif isinstance(section, CircularGuide):
        area = np.pi * section.radius**2
    elif isinstance(section, Ring):
        area = np.pi / 4 * (section.outer_diameter**2 - section.inner_diameter**2)
    else:
        x, y = np.array(section.vertices, dtype=float).T
        area = abs(0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))
    return float(np.sqrt(np.pi * area / (count + 2)))


def _scalar(mesh: Any, kind: str, degree: int, count: int, rough: float) -> list[SectionMode]:
    """Lowest modes of one kind."""
    system = assemble(mesh, degree, _no_modes, fixed_wall=kind == "TM")
    skipped = 1 if kind == "TE" else 0  # the constant carries no field
    levels = []
    # functions of one degree more may have the wrong symmetry on few, regular cells
    quads = mesh.mesh.t.shape[0] == 4
    for p in (degree - 2, degree - 1, degree) if quads else (degree - 2, degree):
        stiffness, mass, _ = system.at_degree(p)
        levels.append(np.sqrt(_lowest(stiffness, mass, count + skipped)[skipped:]))
    found = levels[-1]
    error = np.max([np.abs(found - level) for level in levels[:-1]], axis=0) + rough * found
    same = np.abs(found[:, None] - found) <= np.maximum(error[:, None], error) + _SAME * found
    scale = SPEED_OF_LIGHT / (2 * np.pi)
    return [
        SectionMode(kind, float(scale * k), float(scale * e), int(n))
        for k, e, n in zip(found, error, same.sum(axis=1), strict=True)
    ]


def _no_modes(port: object, t: Array) -> Array:
    return np.zeros((0, *np.shape(t)))


def _lowest(stiffness: csr_matrix, mass: csr_matrix, count: int) -> Array:
    """Least eigenvalues, ascending."""
    n = stiffness.shape[0]
    if n <= _DENSE:
        from scipy.linalg import eigh

        full = [(m + triu(m, 1).T).toarray() for m in (stiffness, mass)]
        return eigh(*full, eigvals_only=True, subset_by_index=(0, min(count, n) - 1))
    solver = SymmetricSolver(stiffness, mass)
    shift = -0.1 * float(stiffness.diagonal().sum() / mass.diagonal().sum()) / n
    solver.factorise(shift)

    def operator(apply: Any) -> LinearOperator:
        return LinearOperator(
            stiffness.shape, matvec=lambda x: apply(x.reshape(-1, 1))[:, 0], dtype=float
        )

    squared = eigsh(
        operator(lambda x: solver.product(stiffness, x)),
        count,
        operator(lambda x: solver.product(mass, x)),
        shift,
        OPinv=operator(solver.solve),
        v0=np.random.default_rng(31).standard_normal(n),
        tol=1e-11,
        return_eigenvectors=False,
    )
    return np.sort(squared)
