"""Results as xarray datasets: named axes with units, for whoever computes on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from solver.searches.varied_keys import key_in_words
from solver.studies.limits import amplitude_of

if TYPE_CHECKING:
    import xarray

    from solver.judgement.assessment import Assessment
    from solver.searches.exploration import Cell, Exploration
    from solver.searches.gradual import GradualResult
    from solver.searches.seek_result import SeekResult

_HERTZ, _METRE = {"units": "Hz"}, {"units": "m"}


def assessment_dataset(assessment: Assessment) -> xarray.Dataset:
    """Return an assessment over its frequencies.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    xarray.Dataset
        ``s`` with the axes frequency, to, from (port modes), its bound ``s_error``, ``vswr``,
        ``return_loss_db``, the powers that leak and that turn to heat, and the closed forms'
        ``estimated_s11`` by name; frequencies in Hz.
    """
    import xarray

    scattering, verdict = assessment.scattering, assessment.verdict
    modes = [f"port {mode.port} {mode.name}" for mode in scattering.port_modes]
    variables: dict[str, Any] = {
        "s": (("frequency", "to", "from"), scattering.s),
        "s_error": ("frequency", scattering.error),
        "vswr": ("frequency", scattering.vswr),
        "return_loss_db": ("frequency", scattering.return_loss_db, {"units": "dB"}),
        "leaked_power": ("frequency", scattering.leaked_power),
        "dissipated_power": ("frequency", scattering.dissipated_power),
    }
    if assessment.estimates:
        values = np.array([np.asarray(e.s11_abs, dtype=float) for e in assessment.estimates])
        variables["estimated_s11"] = (("estimate", "frequency"), values)
    coordinates = {
        "frequency": ("frequency", scattering.frequency, _HERTZ),
        "to": modes,
        "from": modes,
    }
    if assessment.estimates:
        coordinates["estimate"] = [estimate.name for estimate in assessment.estimates]
    told = {
        "title": assessment.title,
        "kind": assessment.component.kind,
        "outcome": verdict.outcome,
        "verdict": verdict.text,
        "version": assessment.provenance.version,
    }
    return xarray.Dataset(variables, coordinates, told)


def exploration_dataset(result: Exploration) -> xarray.Dataset:
    """Return a grid over the keys that were varied.

    Parameters
    ----------
    result : Exploration

    Returns
    -------
    xarray.Dataset
        With one axis a key, in the key's unit, or for a sample one axis ``point``: ``outcome``,
        the worst |S11| over the band with its ends, the worst root of the leaked power if anything
        leaks, the ends of the band that meets; and ``s11``, ``s21``, ``s_error`` with frequency
        besides. NaN where there is no part.
    """
    import xarray

    names = _axis_names([variation.key for variation in result.variations])
    axes = ["point"] if result.sampled else names
    lengths = tuple(len(variation.values) for variation in result.variations)
    shape = lengths[:1] if result.sampled else lengths
    frequency = result.band.frequencies

    def of_cells(values: Sequence[Any]) -> tuple[Sequence[str], Any]:
        return axes, np.array(values).reshape(shape)

    worst = [cell.reflection for cell in result.cells]
    held = [cell.held.sure if cell.held is not None else None for cell in result.cells]
    variables: dict[str, Any] = {
        "outcome": of_cells([cell.outcome for cell in result.cells]),
        "worst_s11": of_cells([w.value if w else np.nan for w in worst]),
        "worst_s11_low": of_cells([w.low if w else np.nan for w in worst]),
        "worst_s11_high": of_cells([w.high if w else np.nan for w in worst]),
        "met_from": (*of_cells([h[0].at if h else np.nan for h in held]), _HERTZ),
        "met_to": (*of_cells([h[1].at if h else np.nan for h in held]), _HERTZ),
    }
    if result.leaks:
        leaked = [cell.leakage.value if cell.leakage else np.nan for cell in result.cells]
        variables["worst_leakage"] = of_cells(leaked)
    for name, of_part in (("s11", "s11"), ("s21", "s21"), ("s_error", "error")):
        curves = [_curve(cell, of_part, frequency) for cell in result.cells]
        stacked = np.array(curves).reshape((*shape, len(frequency)))
        variables[name] = ((*axes, "frequency"), stacked)
    coordinates: dict[str, Any] = {"frequency": ("frequency", frequency, _HERTZ)}
    for name, variation in zip(names, result.variations, strict=True):
        told = {"key": variation.key, "units": key_in_words(variation.key)[1]}
        coordinates[name] = ("point" if result.sampled else name, list(variation.values), told)
    return xarray.Dataset(variables, coordinates, {"title": result.title})


def gradual_dataset(result: GradualResult) -> xarray.Dataset:
    """Return the worst |S11| against size of a search, sizes in metres.

    Parameters
    ----------
    result : GradualResult

    Returns
    -------
    xarray.Dataset
        ``worst_s11`` with its bound and the closed form's value along the axis size; what was
        found stands in the attributes.
    """
    import xarray

    found = {name: getattr(result, name) for name in ("smallest", "first_met", "uncertainty")}
    largest = [amplitude_of(q, v) for q, v in result.limit.values.items() if q != "leakage_db"]
    return xarray.Dataset(
        {
            "worst_s11": ("size", result.worst_s11),
            "worst_s11_error": ("size", result.worst_s11_error),
            "estimated_s11": ("size", result.estimated_s11),
        },
        {"size": ("size", result.sizes, _METRE)},
        {"kind": result.kind, "allowed_s11": min(largest)}
        | {name: np.nan if value is None else value for name, value in found.items()},
    )


def seek_dataset(result: SeekResult) -> xarray.Dataset:
    """Return every part that a search tried, in the order of the search.

    Parameters
    ----------
    result : SeekResult

    Returns
    -------
    xarray.Dataset
        ``amplitude`` and the value of each key along the axis part; the best in the attributes.
    """
    import xarray

    names = _axis_names(list(result.values))
    variables = {"amplitude": ("part", [amplitude for _, amplitude in result.tried])}
    for name, key in zip(names, result.values, strict=True):
        variables[name] = ("part", [values[key] for values, _ in result.tried])
    best = dict(zip(names, result.values.values(), strict=True))
    told = {"title": result.title, "least": result.quantity, "least_amplitude": result.least.value}
    return xarray.Dataset(variables, {"part": np.arange(len(result.tried))}, told | best)


def columns_dataset(
    axis: str, columns: dict[str, Any], attributes: dict[str, Any]
) -> xarray.Dataset:
    """Return columns of equal length as a dataset along one of them.

    Parameters
    ----------
    axis : str
        Name of the column that is the axis.
    columns : dict of str to (n,) array
    attributes : dict
    """
    import xarray

    rest = {name: (axis, values) for name, values in columns.items() if name != axis}
    return xarray.Dataset(rest, {axis: columns[axis]}, attributes)


def _axis_names(keys: Sequence[str]) -> list[str]:
    """Names of keys without their table, where that tells them apart."""
    short = [key.rpartition(".")[2] for key in keys]
    return short if len(set(short)) == len(short) else list(keys)


def _curve(cell: Cell, name: str, frequency: Any) -> Any:
    if cell.curves is None:
        return np.full(len(frequency), np.nan)
    found = getattr(cell.curves, name)
    return np.full(len(frequency), np.nan) if found is None else found
