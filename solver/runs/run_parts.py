"""From the parts of a run to what the transmitter sees: the whole chain in one call."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

from geometries.arrays import Array
from solver.errors import StudyError
from solver.progress import Progress
from solver.runs.chain import Chain
from solver.runs.chain_band import chain_band
from solver.runs.near_parts import check_polarisation, neighbours
from solver.runs.part_store import PartStore
from solver.runs.run_answer import RunInputs, run_result
from solver.runs.run_result import RunResult
from solver.runs.run_units import computed_parts, joined_units, laid_out
from solver.runs.solve_parts import Report
from solver.runs.worst_case import worst_case
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.run_chain import MeasuredPart, RunPart, check_run, named
from solver.waves.scattering import reflection_of_vswr
from solver.waves.walls import Walls


def run(
    parts: Sequence[Any],
    band: Band,
    *,
    end_vswr: float | None = None,
    limit: Limit | None = None,
    s_error: float = 1e-4,
    walls: Walls | None = None,
    title: str = "",
    workers: int = 1,
    store: PartStore | None = None,
    report: Report | None = None,
    further_at: Array | None = None,
    progress: Progress | None = None,
) -> RunResult:
    """Compute a run of parts over a band and judge what the transmitter sees.

    Parameters
    ----------
    parts : sequence of Part or RunPart
        From the transmitter on; a `RunPart` gives a part a name or turns it about the axis.
    band : Band
    end_vswr : float, optional
        Of what the run ends in, of any phase; matched when absent.
    limit : Limit, optional
        What is asked of the run.
    s_error : float
        Wanted bound on the error of every S-parameter of the run [-].
    walls : Walls, optional
        Metal of the walls of every part; lossless when absent.
    title : str
    workers : int
        Processes that compute parts side by side.
    store : PartStore, optional
        Keeps every finished part, and gives back those of a run before.
    report : callable, optional
        A function of a module that gives the files of a part's own report from its assessment.
    further_at : (n,) array, optional
        Frequencies in the band at which the run has to be known besides, ascending [Hz].
    progress : callable, optional

    Returns
    -------
    RunResult

    Raises
    ------
    StudyError
        When the parts do not fit together, or one cannot be computed.
    GeometryError, LinearSolveError, ProblemSizeError
    """
    from threadpoolctl import threadpool_limits

    began = time.perf_counter()
    chosen = named(tuple(p if isinstance(p, RunPart) else RunPart(p) for p in parts))
    if not chosen:
        raise StudyError("a run has at least one part")
    check_run(chosen, chosen[0].guides[0])
    if end_vswr is not None and len(chosen[-1].guides) == 1:
        raise StudyError("the run ends in a part with one port: leave out end_vswr")
    end = 0.0 if end_vswr is None else float(reflection_of_vswr(end_vswr))
    stations, lines = laid_out(chosen)
    how = {"workers": workers, "store": store, "report": report, "progress": progress}
    computed = computed_parts(stations, band, s_error, walls, how)
    samples = [part.sampled for part in computed]
    check_polarisation(stations, samples, lines)
    beside = neighbours(stations, samples, lines, (band.start, band.stop), s_error)
    units = joined_units(stations, samples, lines, beside, band, s_error, walls, how)
    with threadpool_limits(1, user_api="blas"):
        chain = Chain(units.samples, units.lines, walls, units.doubts)
        axis = sum(_axis_length(station.component) for station in stations)
        whole = chain_band(chain, band.frequencies, units.names, axis, end)
        worst = worst_case(samples, lines, whole.answers.frequency, walls, end)
    return run_result(
        RunInputs(title, chosen, stations, band, limit, s_error, walls, end_vswr, end, further_at),
        computed,
        units,
        beside.cautions,
        chain,
        whole,
        worst,
        time.perf_counter() - began,
    )


def _axis_length(part: Any) -> float:
    return 0.0 if isinstance(part, MeasuredPart) else float(part.axis_length)
