"""Assembly of stiffness and mass: our kernels against scikit-fem's loop over pairs of functions.

Run: ``python benchmarks/speed_assembly.py``.  Both sides assemble the same weak forms with the same
functions on the same mesh to the same matrices: in the plane a bend (quadrilaterals) and a corner
(triangles), in space a box of straight or bent tetrahedra and a twist of hexahedra.  scikit-fem has
the Nedelec tetrahedron of the lowest order; the others are our shape functions as an element of
scikit-fem.  Times are process times on one thread, the best of several runs, basis and quadrature
included, meshing excluded.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from scipy.sparse import triu
from skfem import CellBasis, ElementTetN1, MeshTet1, MeshTet2
from threadpoolctl import threadpool_limits

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from record import RESULTS, record  # noqa: E402

from geometries import Bend, Corner, Twist, standard_guide  # noqa: E402
from geometries.plane_meshes.parts_in_plane import mesh_in_plane  # noqa: E402
from geometries.space_meshes.swept_blocks import swept_mesh  # noqa: E402
from solver.elements.edge_elements import ElementTetNedelec  # noqa: E402
from solver.fem.edge_pencil import edge_pencil  # noqa: E402
from solver.fem.edge_space import edge_space  # noqa: E402
from solver.fem.scalar_field import assemble  # noqa: E402
from tests.references import weak_forms as forms  # noqa: E402
from tests.references.cell_forms import (  # noqa: E402
    cell_basis,
    glued,
    in_unknowns,
    plane_basis,
)

GUIDE = standard_guide("WR-90")
WAVELENGTH = 24e-3
Pair = tuple[Any, Any]


def plane_case(name: str, degree: int) -> tuple[Callable[[], Pair], Callable[[], Pair]]:
    """Both ways to assemble a bend or a corner in its plane; ports are left out."""
    shape = Bend(GUIDE, "E", math.pi / 2, 30e-3) if name == "bend" else Corner(GUIDE, "E", 1.3)
    mesh = mesh_in_plane(shape, WAVELENGTH)

    def none(_: Any, t: Any) -> Any:
        return np.zeros((0, *np.shape(t)))

    def ours() -> Pair:
        system = assemble(mesh, degree, none, fixed_wall=False)
        return system.stiffness, system.mass

    system = assemble(mesh, degree, none, fixed_wall=False)

    def theirs() -> Pair:
        basis = plane_basis(system, degree + 2)
        if not isinstance(shape, Bend):
            listed = (forms.stiffness, forms.mass)
            k, m = (in_unknowns(system, basis, form) for form in listed)
        else:
            metres = mesh.chart.stretch(np.asarray(basis.global_coordinates()))
            listed = (forms.developed_stiffness, forms.developed_mass)
            k, m = (in_unknowns(system, basis, form, metres=metres) for form in listed)
        return triu(k), triu(m)

    return ours, theirs


class _Tabulated(ElementTetNedelec):
    """Our tetrahedron, with all functions evaluated at once and not once for each of them."""

    def lbasis(self, X: Any, i: int) -> tuple[Any, Any]:
        if i == 0:
            self.tables = self.values(X), self.curls(X)
        return self.tables[0][i], self.tables[1][i]


def space_case(mesh: Any, order: int) -> tuple[Callable[[], Pair], Callable[[], Pair]]:
    """Both ways to assemble edge elements of an order on a mesh."""

    def ours() -> Pair:
        there = edge_space(mesh, order)
        return edge_pencil(there, np.arange(there.n_dofs))

    space = edge_space(mesh, order)
    rule = space.cell_rule(order + (1 if type(mesh) is MeshTet1 else 2))

    def theirs() -> Pair:
        if isinstance(mesh, MeshTet1):
            element = ElementTetN1() if order == 1 else _Tabulated(order)
            basis = CellBasis(mesh, element, quadrature=rule)
            one = np.ones(basis.dx.shape)
            k, m = forms.curl_curl.assemble(basis), forms.field_mass.assemble(basis, eps_r=one)
        else:
            basis = cell_basis(space, rule)
            one = np.ones(basis.dx.shape)
            k = glued(space, basis, forms.curl_curl)
            m = glued(space, basis, forms.field_mass, eps_r=one)
        return triu(k), triu(m)

    return ours, theirs


def box(cells: tuple[int, int, int], bent: bool = False) -> Any:
    """Six tetrahedra in each of some boxes, with sorted vertices; bent at their middles or not."""
    plain = MeshTet1.init_tensor(*(np.linspace(0.0, 1.0, n + 1) for n in cells))
    mesh = MeshTet1(plain.p, np.sort(plain.t, axis=0))
    if not bent:
        return mesh
    curved = MeshTet2.from_mesh(mesh)
    moved = curved.doflocs.copy()
    added = moved[:, mesh.p.shape[1] :]
    added += 0.01 / max(cells) * np.random.default_rng(1).standard_normal(added.shape)
    return MeshTet2(moved, curved.t)


def cases(size: int, highest: int) -> dict[str, Callable[[], tuple[Any, Any]]]:
    """All cases up to an order by name; `size` scales the meshes in space."""
    n = 2 * size
    twist = swept_mesh(
        Twist(GUIDE, math.pi / 2, 40e-3), wavelength=WAVELENGTH / size, feeds=(10e-3, 10e-3)
    ).mesh
    listed: dict[str, Callable[[], tuple[Any, Any]]] = {}
    for degree in (6, 8, 10):
        if degree <= highest + 6:
            for name in ("bend", "corner"):
                listed[f"{name} in its plane, degree {degree}"] = lambda n=name, d=degree: (
                    plane_case(n, d)
                )
    for order in range(1, highest + 1):
        finer = {1: 4 * n, 2: 2 * n}.get(order, n)
        for bent in (False, True):
            name = f"{'bent' if bent else 'straight'} tetrahedra, order {order}"
            listed[name] = lambda c=(finer,) * 3, o=order, b=bent: space_case(box(c, b), o)
        if order < 4:
            listed[f"hexahedra of a twist, order {order}"] = lambda o=order: space_case(twist, o)
    return listed


def best(run: Callable[[], Pair], runs: int) -> tuple[Pair, float]:
    """Last answer and best process time of several runs [s]."""
    least = math.inf
    for _ in range(runs):
        start = time.process_time()
        with threadpool_limits(1):
            pair = run()
        least = min(least, time.process_time() - start)
    return pair, least


def compare(case: tuple[Callable[[], Pair], Callable[[], Pair]], runs: int) -> dict[str, Any]:
    """Time both ways and compare their matrices."""
    ours, theirs = case
    mine, fast = best(ours, runs + 2)
    other, slow = best(theirs, runs)
    change = max(float(abs(a - b).max() / abs(b).max()) for a, b in zip(mine, other, strict=True))
    return {
        "unknowns": mine[0].shape[0],
        "ours_s": fast,
        "scikit_fem_s": slow,
        "ratio": slow / fast,
        "largest_difference": change,
    }


def main(
    size: int = 2,
    highest: int = 4,
    runs: int = 2,
    names: Sequence[str] = (),
    folder: Path = RESULTS,
) -> Path:
    """Measure every case, or those named, and record."""
    figures = {}
    for name, make in cases(size, highest).items():
        if not names or name in names:
            figures[name] = compare(make(), runs)
            row = figures[name]
            print(
                f"{name}: {row['unknowns']} unknowns, ours {row['ours_s']:.4f} s, scikit-fem "
                f"{row['scikit_fem_s']:.3f} s, ratio {row['ratio']:.1f}, largest difference "
                f"{row['largest_difference']:.0e}",
                flush=True,
            )
    return record("speed_assembly", figures, folder)


if __name__ == "__main__":
    print(main())
