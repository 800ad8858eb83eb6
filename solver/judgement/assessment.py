"""The answer for one part: numbers, error bar, estimates, rules, verdict and where it came from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from solver.judgement.verdict import Verdict
from solver.parts.field_picture import FieldPicture
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.scattering import ScatteringMatrix

if TYPE_CHECKING:
    from solver.closed_forms.estimates import Estimate
    from solver.loads.heat_profile import HeatProfile
    from solver.parts.peak_field import PeakField
    from solver.periodic.periodic_guide import PeriodicGuide
    from solver.rules.rules_of_thumb import RuleReading
    from solver.waves.radiation import Radiation
    from solver.waves.resonances import Resonance


@dataclass(frozen=True)
class Provenance:
    """Where a result came from.

    Parameters
    ----------
    version : str
        Version of this package.
    method : str
        What was solved, in words.
    unknowns : int
        Unknowns of the finest discretisation.
    mesh : dict
        Elements, nodes, order and the like.
    factorisations : int
        Factorisations of a full-size matrix, all levels together.
    seconds : dict
        Wall-clock time by stage [s].
    convergence : tuple of dict
        One entry for each discretisation, coarse to fine: its size and the change it made.
    accuracy_reached : bool
        Whether the error bar is under what was asked for.
    libraries : dict
        Versions of the libraries that computed it.
    uncoupled_modes : tuple of str
        Modes that propagate in the band and that symmetry keeps apart from the dominant one.
    """

    version: str
    method: str
    unknowns: int
    mesh: dict[str, Any]
    factorisations: int
    seconds: dict[str, float]
    convergence: tuple[dict[str, Any], ...]
    accuracy_reached: bool
    libraries: dict[str, str] = field(default_factory=dict)
    uncoupled_modes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Assessment:
    """The answer for one part over one band.

    Parameters
    ----------
    title : str
    component : object
        The part, from `geometries`.
    band : Band
    limit : Limit or None
    scattering : ScatteringMatrix
    estimates : sequence of Estimate
        Closed forms for the same part.
    rules : sequence of RuleReading
        Rules of thumb, each reading against the part.
    verdict : Verdict
    provenance : Provenance
    field : FieldPicture or None
    fields : sequence of FieldPicture
        At every frequency that is to be shown; `field` is the first of them.
    wanted_error : float
        Bound on the error of S that was asked for [-].
    peak_field : PeakField or None
        The largest electric field, and the power that it allows.
    resonances : sequence of Resonance
        Those in the band.
    whole : ScatteringMatrix or None
        At as many more frequencies as it takes to know every extreme of the band; the verdict
        and every summary are read from it.
    heat : HeatProfile or None
        Where a part that absorbs turns power to heat, at the listed frequency where that is most
        dense of those looked at.
    radiation : Radiation or None
        What a horn radiates, at the listed frequencies.
    periodic : PeriodicGuide or None
        What an endless row of the part's convolutions does.
    """

    title: str
    component: Any
    band: Band
    limit: Limit | None
    scattering: ScatteringMatrix
    estimates: Sequence[Estimate]
    rules: Sequence[RuleReading]
    verdict: Verdict
    provenance: Provenance
    field: FieldPicture | None = None
    wanted_error: float = 1e-4
    peak_field: PeakField | None = None
    resonances: Sequence[Resonance] = ()
    whole: ScatteringMatrix | None = None
    further: ScatteringMatrix | None = None
    heat: HeatProfile | None = None
    radiation: Radiation | None = None
    fields: Sequence[FieldPicture] = ()
    periodic: PeriodicGuide | None = None

    @property
    def over_band(self) -> ScatteringMatrix:
        """What a summary over the band is read from."""
        return self.whole if self.whole is not None else self.scattering
