"""From a part, a band and a limit to a verdict: the whole chain in one call."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Any

from geometries.arrays import Array
from geometries.shapes.part import known_part
from solver.errors import BelowCutoffError
from solver.judgement.assessment import Assessment, Provenance
from solver.judgement.cost import check_length
from solver.judgement.port_frame import in_port_frame
from solver.judgement.verdict import judge
from solver.judgement.whole_band import WholeBand, groups, whole_band
from solver.parts.field_picture import FieldPicture
from solver.parts.peak_field import peak_field
from solver.parts.solved_part import SolvedPart, among_propagating, scattering_of
from solver.parts.solver_choice import solver_for
from solver.progress import Progress
from solver.rules.rules_of_thumb import rules_for
from solver.studies.band import Band
from solver.studies.limits import Limit, refuse_leakage
from solver.studies.study import Study
from solver.version import installed_version
from solver.waves.guide_modes import entering_cutoff
from solver.waves.resonances import resonance_text
from solver.waves.scattering import ScatteringMatrix
from solver.waves.walls import Walls

#: Resonances that the verdict tells of in sentences.
_MOST_TOLD = 3


def assess(
    component: Any,
    band: Band,
    *,
    limit: Limit | None = None,
    s_error: float = 1e-4,
    walls: Walls | None = None,
    title: str = "",
    in_space: bool = False,
    however_long: bool = False,
    picture_at: Sequence[float] = (),
    pictured: bool = True,
    further_at: Array | None = None,
    shown: Callable[[SolvedPart, WholeBand], None] | None = None,
    progress: Progress | None = None,
) -> Assessment:
    """Compute a part over a band and judge it.

    Parameters
    ----------
    component : object
        The part, in its guide: a Straight, Bend, Corner, Twist, Taper, Transition, Offset, Dent,
        ChokeFlange, RotatingJoint or MeshPart.
    band : Band
        Frequencies, all above the cutoff of the guide's dominant mode.
    limit : Limit, optional
        What is asked of the part.
    s_error : float
        Wanted bound on the error of every S-parameter [-].
    walls : Walls, optional
        Metal of the walls; lossless when absent.
    title : str
    in_space : bool
        Solve in three dimensions even where the exact reduction to a plane holds.
    however_long : bool
        Take also a part whose length costs more than ten minutes or so.
    picture_at : sequence of float
        Frequencies at which the field is wanted [Hz]; by default the worst and the middle.
    pictured : bool
        Whether the field is wanted at all; its largest value is found either way.
    further_at : (n,) array, optional
        Frequencies of the band at which S is wanted besides, as those of a measurement [Hz].
    shown : callable, optional
        Is shown the solved part and what lies between its points, for who wants more of it.
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
    from threadpoolctl import threadpool_limits

    start = time.perf_counter()
    frequency = band.frequencies
    refuse_leakage(component, limit)
    with threadpool_limits(1, user_api="blas"):
        if not however_long:
            check_length(component, band)
        solved, scattering = solve_part(
            component, band, s_error=s_error, walls=walls, in_space=in_space, progress=progress
        )
        if progress:
            progress("between the points of the band")
        whole = whole_band(solved, frequency, walls)
        if shown is not None:
            shown(solved, whole)
        further = None
        if further_at is not None:
            group = groups(further_at, whole.resonances)
            further = scattering_of(solved, solved.answers(further_at), group, walls)
        periodic = solved.periodic() if solved.periodic else None
        told = periodic.cautions if periodic else ()
        verdict = judge(
            whole.scattering,
            limit,
            solved.reached,
            wanted_error=s_error,
            cautions=[*whole.notes, *told, *_told(whole)],
            resonances=whole.resonances,
            unsampled=whole.unsampled,
        )
        if progress:
            progress("field")
        at = (picture_at or (verdict.at_hz, band.centre)) if pictured else ()
        pictures = _pictures(component, solved, at)
        heat = solved.heat(verdict.at_hz) if solved.heat else None
        peak = peak_field(component, solved.ratios, whole.scattering, whole.resonances)
    if progress:
        progress("closed forms and rules")
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
            method=solved.method,
            unknowns=solved.unknowns,
            mesh=solved.mesh,
            factorisations=solved.factorisations,
            seconds=solved.seconds | {"total": time.perf_counter() - start},
            convergence=solved.steps,
            accuracy_reached=solved.reached,
            libraries=_libraries(),
            uncoupled_modes=solved.uncoupled,
        ),
        field=pictures[0] if pictures else None,
        fields=pictures,
        peak_field=peak,
        wanted_error=s_error,
        resonances=whole.resonances,
        whole=whole.scattering,
        radiation=solved.radiation(frequency) if solved.radiation is not None else None,
        further=further,
        heat=heat,
        periodic=periodic,
    )


def assessed(study: Study, **options: Any) -> Assessment:
    """Compute the part of a study over its band and judge it by its limit.

    Parameters
    ----------
    study : Study
    **options
        The rest of `assess`.

    Returns
    -------
    Assessment

    Raises
    ------
    As `assess`.
    """
    return assess(
        study.component,
        study.band,
        limit=study.limit,
        s_error=study.s_error,
        walls=study.walls,
        title=study.title,
        **options,
    )


def solve_part(
    component: Any,
    band: Band,
    *,
    s_error: float = 1e-4,
    walls: Walls | None = None,
    in_space: bool = False,
    progress: Progress | None = None,
) -> tuple[SolvedPart, ScatteringMatrix]:
    """Solve a part over a band, without the pictures and estimates of `assess`.

    Parameters
    ----------
    component, band, s_error, walls, in_space, progress
        As those of `assess`.

    Returns
    -------
    SolvedPart, ScatteringMatrix
        All port modes with the record of the solution; the modes that propagate.

    Raises
    ------
    BelowCutoffError, UnsupportedPartError, GeometryError, LinearSolveError, ProblemSizeError
    """
    from threadpoolctl import threadpool_limits

    frequency = band.frequencies
    cutoff = entering_cutoff(known_part(component))
    if frequency[0] <= cutoff:
        raise BelowCutoffError(
            f"the band starts at {frequency[0] / 1e9:.6g} GHz; it must start above the "
            f"cutoff of {component.entering_mode} in the guide, {cutoff / 1e9:.6g} GHz"
        )
    solve = solver_for(component, in_space)
    with threadpool_limits(1, user_api="blas"):
        solved = solve(component, frequency, s_error, walls, progress)
    return solved, among_propagating(solved, frequency, walls)


def _pictures(
    component: Any, solved: SolvedPart, frequencies: Sequence[float]
) -> tuple[FieldPicture, ...]:
    """The field at some frequencies, each once."""
    return tuple(in_port_frame(component, solved.picture(at)) for at in dict.fromkeys(frequencies))


def _told(whole: WholeBand) -> list[str]:
    """Sentences on the sharpest few resonances; those that cannot be sampled have their own."""
    rest = [found for found in whole.resonances if found not in whole.unsampled]
    sharpest = sorted(rest, key=lambda found: -found.quality)[:_MOST_TOLD]
    told = [resonance_text(found) for found in sorted(sharpest, key=lambda r: r.frequency)]
    if len(rest) > len(told):
        told.append(f"{len(rest) - len(told)} more resonances of less Q lie in the band")
    return told


def _estimates(component: Any, frequency: Array) -> tuple[Any, ...]:
    from solver.closed_forms.estimates import estimates_for

    return estimates_for(component, frequency)


def _libraries() -> dict[str, str]:
    from importlib.metadata import version

    from solver.fem.linear_solve import pardiso_is_there

    names = ["numpy", "scipy", "scikit-fem", "gmsh"]
    names += ["pypardiso"] if pardiso_is_there() else []
    return {name: version(name) for name in names}
