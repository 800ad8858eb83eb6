"""The curves of one part over a band: what a grid of parts keeps of each, and writes down."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.user_meshes import MeshPart
from solver.assessment import Progress
from solver.result_json import described_component, described_guide, plain
from solver.scattering import PortMode
from solver.study import Study
from solver.version import installed_version


@dataclass(frozen=True, eq=False)
class PartCurves:
    """What a part does to a wave that enters in the first mode of port 1.

    Parameters
    ----------
    frequency : (n,) array
        [Hz]
    port_modes : tuple of PortMode
    s11, s21 : (n,) complex array
        Reflection and transmission in the dominant modes; s21 is 0 for a part with one port.
    error : (n,) array
        Bound on the error of each.
    leaked_power, dissipated_power : (n,) array
        Over the power that enters [-].
    reached : bool
        Whether the accuracy that was asked for was reached.
    """

    frequency: NDArray[np.float64]
    port_modes: tuple[PortMode, ...]
    s11: NDArray[np.complex128]
    s21: NDArray[np.complex128]
    error: NDArray[np.float64]
    leaked_power: NDArray[np.float64]
    dissipated_power: NDArray[np.float64]
    reached: bool


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
    As `solver.assess_part.solve_part`.
    """
    from solver.assess_part import solve_part

    solved, scattering = solve_part(
        study.component, study.band, s_error=study.s_error, walls=study.walls, progress=progress
    )
    passing = scattering.transmitted is not None
    return PartCurves(
        frequency=scattering.frequency,
        port_modes=scattering.port_modes,
        s11=scattering.s11,
        s21=scattering.s21 if passing else np.zeros_like(scattering.s11),
        error=scattering.error,
        leaked_power=scattering.leaked_power,
        dissipated_power=scattering.dissipated_power,
        reached=solved.reached,
    )


def fingerprint(study: Study) -> str:
    """Return a short text that differs between any two computations with different curves.

    It covers the part, its guide, the frequencies, the accuracy, the walls and the version of
    this package; not the title nor the limit, which no curve depends on.
    """
    part: Any = study.component
    told = {
        "version": installed_version(),
        "component": described_component(part),
        "guide": described_guide(part.guide),
        "frequency_hz": study.band.frequencies,
        "s_error": study.s_error,
        "conductivity": study.walls.conductivity if study.walls is not None else None,
    }
    if isinstance(part, MeshPart) and part.file.is_file():
        told["file"] = hashlib.sha256(part.file.read_bytes()).hexdigest()
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
            **{f"{name}_re": getattr(outcome, name).real for name in ("s11", "s21")},
            **{f"{name}_im": getattr(outcome, name).imag for name in ("s11", "s21")},
            "error": outcome.error,
            "leaked_power": outcome.leaked_power,
            "dissipated_power": outcome.dissipated_power,
            "reached": outcome.reached,
        }
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
    s11, s21 = (
        np.array(record[f"{name}_re"], dtype=float) + 1j * np.array(record[f"{name}_im"])
        for name in ("s11", "s21")
    )
    return PartCurves(
        frequency=np.array(record["frequency_hz"], dtype=float),
        port_modes=tuple(PortMode(int(p), str(n), float(c)) for p, n, c in record["port_modes"]),
        reached=bool(record["reached"]),
        **curves,
        s11=s11,
        s21=s21,
    )
