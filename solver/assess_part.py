"""From a part, a band and a limit to a verdict: the whole chain in one call."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.bends import Bend
from geometries.corners import Corner
from geometries.guides import RectangularGuide
from geometries.straights import Straight
from solver.assessment import Assessment, Progress, Provenance
from solver.band import Band
from solver.errors import BelowCutoffError, UnsupportedPartError
from solver.guide_modes import dominant_cutoff
from solver.limits import Limit
from solver.rules_of_thumb import rules_for
from solver.scattering import ScatteringMatrix
from solver.verdict import judge
from solver.version import installed_version
from solver.walls import Walls


def assess(
    component: Any,
    band: Band,
    *,
    limit: Limit | None = None,
    s_error: float = 1e-4,
    walls: Walls | None = None,
    title: str = "",
    progress: Progress | None = None,
) -> Assessment:
    """Compute a part over a band and judge it.

    Parameters
    ----------
    component : Straight, Bend or Corner
        The part, in its guide.
    band : Band
        Frequencies, all above the cutoff of the guide's dominant mode.
    limit : Limit, optional
        What is asked of the part.
    s_error : float
        Wanted bound on the error of every S-parameter [-].
    walls : Walls, optional
        Metal of the walls; lossless when absent.
    title : str
    progress : callable, optional
        Is told what is being done.

    Returns
    -------
    Assessment

    Raises
    ------
    BelowCutoffError
        When the band starts at or below cutoff.
    UnsupportedPartError
        When no solver takes this part.
    GeometryError, LinearSolveError, ProblemSizeError
    """
    start = time.perf_counter()
    cutoff = dominant_cutoff(component.guide)
    if band.frequencies[0] <= cutoff:
        raise BelowCutoffError(
            f"the band starts at {band.frequencies[0] / 1e9:.6g} GHz; it must start above the "
            f"cutoff of the guide, {cutoff / 1e9:.6g} GHz"
        )
    if not isinstance(component, Straight | Bend | Corner) or not isinstance(
        component.guide, RectangularGuide
    ):
        raise UnsupportedPartError(
            f"no solver takes a {component.kind} in {type(component.guide).__name__}"
        )
    return _assess_in_plane(component, band, limit, s_error, walls, title, progress, start)


def _assess_in_plane(
    component: Straight | Bend | Corner,
    band: Band,
    limit: Limit | None,
    s_error: float,
    walls: Walls | None,
    title: str,
    progress: Progress | None,
    start: float,
) -> Assessment:
    from threadpoolctl import threadpool_limits

    from solver.plane_fields import field_picture
    from solver.plane_modes import kept_apart
    from solver.plane_solver import solve_in_plane

    frequency = band.frequencies
    with threadpool_limits(1, user_api="blas"):
        solution = solve_in_plane(component, frequency, s_error, progress)
        s, error = solution.s, solution.error
        if walls is not None:
            from solver.plane_losses import lossy_scattering, second_order

            s = lossy_scattering(solution, walls.conductivity)
            error = error + second_order(frequency, walls.conductivity, _length(component))
        reached = bool(error.max() <= s_error)
        scattering = among_propagating(solution.modes.port_modes, s, error, frequency, walls)
        verdict = judge(scattering, limit, reached, wanted_error=s_error)
        picture = field_picture(solution, verdict.at_hz)
    if progress:
        progress("closed forms and rules")
    plane = solution.modes.plane
    return Assessment(
        title=title,
        component=component,
        band=band,
        limit=limit,
        scattering=scattering,
        estimates=_estimates(component, frequency),
        rules=rules_for(component, band),
        verdict=verdict,
        provenance=Provenance(
            version=installed_version(),
            method=f"scalar Helmholtz equation in the {plane}-plane (exact reduction), "
            f"hierarchical elements of degree {solution.degree}, reduced-model sweep",
            unknowns=solution.system.sizes[solution.degree],
            mesh=dict(solution.system.plane_mesh.description),
            factorisations=solution.factorisations,
            seconds=solution.seconds | {"total": time.perf_counter() - start},
            convergence=solution.steps,
            accuracy_reached=reached,
            libraries=_libraries(),
            uncoupled_modes=kept_apart(solution.modes.guide, plane, float(frequency[-1])),
        ),
        field=picture,
        wanted_error=s_error,
    )


def among_propagating(
    port_modes: Any,
    s: NDArray[np.complex128],
    error: NDArray[np.float64],
    frequency: NDArray[np.float64],
    walls: Walls | None,
) -> ScatteringMatrix:
    """Keep the modes that propagate somewhere in the band.

    Parameters
    ----------
    port_modes : callable
        Gives the modes of a port, for the numbers 1 and 2.
    s : (n, m, m) complex array
        Scattering among all modes, those of port 1 first.
    error, frequency : (n,) array
    walls : Walls or None
        Without walls nothing is dissipated.

    Returns
    -------
    ScatteringMatrix
        Elements of a mode below its cutoff are 0.
    """
    modes = [*port_modes(1), *port_modes(2)]
    keep = [i for i, mode in enumerate(modes) if mode.cutoff < frequency[-1]]
    kept = tuple(modes[i] for i in keep)
    above = frequency[:, None] > np.array([mode.cutoff for mode in kept])
    inner = np.where(above[:, :, None] & above[:, None, :], s[:, keep][:, :, keep], 0.0)
    lost = 1.0 - (np.abs(inner[:, :, 0]) ** 2).sum(axis=1)
    none = np.zeros(len(frequency))
    return ScatteringMatrix(
        frequency, kept, inner, error, none, none if walls is None else np.maximum(lost, 0.0)
    )


def _length(component: Straight | Bend | Corner) -> float:
    if isinstance(component, Straight):
        return component.length
    return component.arc_length if isinstance(component, Bend) else 2 * component.outer_arm


def _estimates(component: Any, frequency: NDArray[np.float64]) -> tuple[Any, ...]:
    from solver.closed_forms import estimates_for

    return estimates_for(component, frequency)


def _libraries() -> dict[str, str]:
    from importlib.metadata import version

    from solver.linear_solve import pardiso_is_there

    names = ["numpy", "scipy", "scikit-fem", "gmsh"]
    names += ["pypardiso"] if pardiso_is_there() else []
    return {name: version(name) for name in names}
