"""The answer for a whole run, as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from geometries.arrays import Array
from solver.judgement.verdict import Verdict
from solver.runs.worst_case import WorstCase
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.run_chain import RunPart
from solver.waves.resonances import Resonance
from solver.waves.scattering import ScatteringMatrix
from solver.waves.walls import Walls


@dataclass(frozen=True)
class PartLine:
    """One part of a run by itself, and what it does to the whole.

    Parameters
    ----------
    name, kind : str
    worst_s11, worst_s11_error : float
        Largest reflection in the band, matched on both sides, and its bar [-].
    worst_loss_db : float or None
        Largest insertion loss in the band [dB]; None for a part with one port.
    breakdown_w : float or None
        Least power in the band at which its largest field reaches breakdown, matched on both
        sides [W]; None where only its terminals are known.
    breakdown_in_run_w : float or None
        The same with all that its neighbours send back, from below [W].
    without_it : float
        Worst case of the run if this part did not reflect [-].
    method : str
    cautions : tuple of str
    files : mapping of str to bytes
        Its own report, by file name.
    """

    name: str
    kind: str
    worst_s11: float
    worst_s11_error: float
    worst_loss_db: float | None
    breakdown_w: float | None
    breakdown_in_run_w: float | None
    without_it: float
    method: str
    cautions: tuple[str, ...] = ()
    files: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class RunCurve:
    """What is judged of a run: the reflection at the transmitter, whatever it ends in.

    Parameters
    ----------
    frequency : (n,) array
        [Hz]
    port_modes : tuple of PortMode
    s11 : (n,) complex array
        Of a run with an end of any phase: the size of the worst.
    error : (n,) array
        Bound on its error.
    leaked_power, leaked_error : (n,) array
        Over the power that enters, and its bar [-].
    """

    frequency: Array
    port_modes: tuple[Any, ...]
    s11: Any
    error: Array
    leaked_power: Array
    leaked_error: Array


@dataclass(frozen=True, eq=False)
class RunResult:
    """The answer for a whole run over one band.

    Parameters
    ----------
    title : str
    run : tuple of RunPart
        From the transmitter on, with their names.
    band : Band
    limit : Limit or None
    walls : Walls or None
    end_vswr : float or None
    scattering : ScatteringMatrix
        Of the whole run, matched at its end, at the listed frequencies.
    listed, whole : RunCurve
        What the transmitter sees at the listed frequencies, and at as many more as it takes to
        know every extreme of the band.
    verdict : Verdict
    parts : tuple of PartLine
    worst_case : WorstCase
    worst_loss_db : float or None
        Largest insertion loss in the band, matched [dB]; None for a run with one port.
    resonances : tuple of Resonance
    near : tuple of str
        Which parts stand so near that several modes pass between them, and how they were joined.
    cautions : tuple of str
    wanted_error : float
    radiated_power : (n,) array or None
        Of a run that ends in a horn, at the listed frequencies, over the power that enters [-].
    provenance : dict
    unsampled : tuple of Resonance
        Those of `resonances` whose effect nobody can tell.
    further : ScatteringMatrix or None
        Of the whole run, matched at its end, at the further frequencies that were asked for.
    """

    title: str
    run: tuple[RunPart, ...]
    band: Band
    limit: Limit | None
    walls: Walls | None
    end_vswr: float | None
    scattering: ScatteringMatrix
    listed: RunCurve
    whole: RunCurve
    verdict: Verdict
    parts: tuple[PartLine, ...]
    worst_case: WorstCase
    worst_loss_db: float | None
    resonances: tuple[Resonance, ...]
    near: tuple[str, ...]
    cautions: tuple[str, ...]
    wanted_error: float
    radiated_power: Array | None
    provenance: Mapping[str, Any]
    unsampled: tuple[Resonance, ...] = ()
    further: ScatteringMatrix | None = None

    @property
    def axis_length(self) -> float:
        """Length of the run's axis, without parts of which only a file is known [m]."""
        return sum(float(getattr(part.component, "axis_length", 0.0)) for part in self.run)

    @property
    def weakest_part(self) -> PartLine | None:
        """The part whose field reaches breakdown at the least power; None where none is known."""
        known = [line for line in self.parts if line.breakdown_w is not None]
        return min(known, key=lambda line: line.breakdown_w or 0.0) if known else None

    @property
    def improve_first(self) -> PartLine | None:
        """The part without whose reflection the worst case drops most; None if nothing does."""
        best = min(self.parts, key=lambda line: line.without_it)
        return best if best.without_it < self.worst_case.worst * (1 - 1e-9) else None
