"""The curves of one part over a band: what a grid of parts keeps of each, and writes down."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.progress import Progress
from solver.studies.plain_values import described_component, described_guide, file_content, plain
from solver.studies.study import Study
from solver.version import installed_version
from solver.waves.resonances import Resonance
from solver.waves.scattering import PortMode

if TYPE_CHECKING:
    from solver.parts.solved_part import SolvedPart

#: Changes whenever what is kept of a point, or how it is computed, changes.
RECORD = 3
_WHOLE = ("error", "leaked_power", "leaked_error")


@dataclass(frozen=True, eq=False)
class BandCurve:
    """What is judged of a part, at as many frequencies as it takes to know every extreme.

    Parameters
    ----------
    frequency : (n,) array
        [Hz]
    port_modes : tuple of PortMode
    s11 : (n,) complex array
    error : (n,) array
        Bound on its error.
    leaked_power, leaked_error : (n,) array
        Over the power that enters, and the bound on its error [-].
    unsampled : tuple of Resonance
        Resonances whose effect nobody can tell.
    resonances : tuple of Resonance
    """

    frequency: Array
    port_modes: tuple[PortMode, ...]
    s11: ComplexArray
    error: Array
    leaked_power: Array
    leaked_error: Array
    resonances: tuple[Resonance, ...] = ()
    unsampled: tuple[Resonance, ...] = ()


@dataclass(frozen=True, eq=False)
class PartCurves:
    """What a part does to a wave that enters in the first mode of port 1.

    Parameters
    ----------
    frequency : (n,) array
        [Hz]
    port_modes : tuple of PortMode
    s11 : (n,) complex array
        Reflection of the dominant mode.
    s21 : (n,) complex array or None
        Transmission into that of port 2; None for a part with one port.
    error : (n,) array
        Bound on the error of each.
    leaked_power, dissipated_power : (n,) array
        Over the power that enters [-].
    reached : bool
        Whether the accuracy that was asked for was reached.
    whole : BandCurve
        From which every summary over the band is read.
    shared : bool
        Whether they come from a basis that the part shares with others.
    """

    frequency: Array
    port_modes: tuple[PortMode, ...]
    s11: ComplexArray
    s21: ComplexArray | None
    error: Array
    leaked_power: Array
    dissipated_power: Array
    reached: bool
    whole: BandCurve
    shared: bool = False


@dataclass(frozen=True)
class Refusal:
    """A part that could not be computed.

    Parameters
    ----------
    reason : str
        One line.
    lasting : bool
        Whether another try would end in the same way; too little memory may not.
    """

    reason: str
    lasting: bool = True


def curves_of(study: Study, progress: Progress | None = None) -> PartCurves:
    """Compute the part of a study over its band.

    Parameters
    ----------
    study : Study
    progress : callable, optional

    Returns
    -------
    PartCurves

    Raises
    ------
    As `solver.judgement.assess_part.solve_part`.
    """
    from solver.judgement.assess_part import solve_part

    solved, _ = solve_part(
        study.component, study.band, s_error=study.s_error, walls=study.walls, progress=progress
    )
    return curves_from(solved, study)


def curves_from(solved: SolvedPart, study: Study, *, shared: bool = False) -> PartCurves:
    """Follow a solved part over the whole band of its study.

    Parameters
    ----------
    solved : SolvedPart
    study : Study
    shared : bool
        Whether a basis answered that the part shares with others.
    """
    from solver.judgement.whole_band import whole_band
    from solver.parts.solved_part import among_propagating

    scattering = among_propagating(solved, study.band.frequencies, study.walls)
    whole = whole_band(solved, study.band.frequencies, study.walls)
    return PartCurves(
        frequency=scattering.frequency,
        port_modes=scattering.port_modes,
        s11=scattering.s11,
        s21=scattering.s21 if scattering.transmitted is not None else None,
        error=scattering.error,
        leaked_power=scattering.leaked_power,
        dissipated_power=scattering.dissipated_power,
        reached=solved.reached,
        shared=shared,
        whole=BandCurve(
            frequency=whole.scattering.frequency,
            port_modes=whole.scattering.port_modes,
            s11=whole.scattering.s11,
            error=whole.scattering.error,
            leaked_power=whole.scattering.leaked_power,
            leaked_error=whole.scattering.leaked_bar,
            resonances=whole.resonances,
            unsampled=whole.unsampled,
        ),
    )


def fingerprint(study: Study) -> str:
    """Return a short text that differs between any two computations with different curves.

    It covers the part, its guide, the frequencies, the accuracy, the walls and the version of
    this package; not the title nor the limit, which no curve depends on.
    """
    part: Any = study.component
    told = {
        "version": installed_version(),
        "record": RECORD,
        "component": described_component(part),
        "guide": described_guide(part.guide),
        "frequency_hz": study.band.frequencies,
        "s_error": study.s_error,
        "conductivity": study.walls.conductivity if study.walls is not None else None,
    }
    if (content := file_content(part)) is not None:
        told["file"] = content
    text = json.dumps(plain(told), sort_keys=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:32]


def as_record(outcome: PartCurves | Refusal) -> dict[str, Any]:
    """Return curves, or a refusal, as plain values for a JSON line."""
    if isinstance(outcome, Refusal):
        return {"refused": outcome.reason}
    return plain(
        {
            "frequency_hz": outcome.frequency,
            "port_modes": [[m.port, m.name, m.cutoff] for m in outcome.port_modes],
            **_parts_of("s11", outcome.s11),
            **_parts_of("s21", outcome.s21),
            "error": outcome.error,
            "leaked_power": outcome.leaked_power,
            "dissipated_power": outcome.dissipated_power,
            "reached": outcome.reached,
            "shared": outcome.shared,
            "whole": {
                "frequency_hz": outcome.whole.frequency,
                "s11_re": outcome.whole.s11.real,
                "s11_im": outcome.whole.s11.imag,
                **{name: getattr(outcome.whole, name) for name in _WHOLE},
                "resonances": [_resonance_record(r) for r in outcome.whole.resonances],
                "unsampled": [_resonance_record(r) for r in outcome.whole.unsampled],
            },
        }
    )


def _parts_of(name: str, wave: ComplexArray | None) -> dict[str, Any]:
    """Real and imaginary part by name; nothing for a wave that is not there."""
    return {} if wave is None else {f"{name}_re": wave.real, f"{name}_im": wave.imag}


def _wave_of(name: str, record: Mapping[str, Any]) -> ComplexArray:
    real = np.array(record[f"{name}_re"], dtype=float)
    return np.asarray(real + 1j * np.array(record[f"{name}_im"]))


def _resonance_record(found: Resonance) -> list[Any]:
    # a bound that is not there is written as null
    return [found.frequency, found.error, found.quality, found.about, found.driven]


def _whole_of(record: Mapping[str, Any], port_modes: tuple[PortMode, ...]) -> BandCurve:
    resonances, unsampled = (
        tuple(
            Resonance(float(f), np.inf if bar is None else float(bar), float(q), str(about), on)
            for f, bar, q, about, on in record[name]
        )
        for name in ("resonances", "unsampled")
    )
    arrays = {name: np.array(record[name], dtype=float) for name in _WHOLE}
    return BandCurve(
        frequency=np.array(record["frequency_hz"], dtype=float),
        port_modes=port_modes,
        s11=_wave_of("s11", record),
        **arrays,
        resonances=resonances,
        unsampled=unsampled,
    )


def from_record(record: Mapping[str, Any]) -> PartCurves | Refusal:
    """Return what `as_record` wrote; digit for digit the same.

    Raises
    ------
    KeyError, TypeError, ValueError
        If the record is not one.
    """
    if "refused" in record:
        return Refusal(str(record["refused"]))
    curves = {
        name: np.array(record[name], dtype=float)
        for name in ("error", "leaked_power", "dissipated_power")
    }
    port_modes = tuple(PortMode(int(p), str(n), float(c)) for p, n, c in record["port_modes"])
    return PartCurves(
        frequency=np.array(record["frequency_hz"], dtype=float),
        port_modes=port_modes,
        whole=_whole_of(record["whole"], port_modes),
        reached=bool(record["reached"]),
        shared=bool(record["shared"]),
        **curves,
        s11=_wave_of("s11", record),
        s21=_wave_of("s21", record) if "s21_re" in record else None,
    )
