"""Datasets as netCDF files, which open in one line: ``xarray.open_dataset("dataset.nc")``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import xarray


def netcdf_bytes(dataset: xarray.Dataset) -> bytes:
    """Return a dataset as a netCDF file, version 3.

    Parameters
    ----------
    dataset : xarray.Dataset

    Returns
    -------
    bytes
        That format knows no complex numbers and no texts of different lengths: a complex variable
        becomes two, ``_re`` and ``_im``; texts become small numbers, whose meaning the
        attributes ``flag_values`` and ``flag_meanings`` give, as in the CF conventions.
    """
    import xarray

    variables: dict[str, Any] = {}
    for name, variable in dataset.data_vars.items():
        values, told = variable.values, {k: v for k, v in variable.attrs.items() if v is not None}
        if np.iscomplexobj(values):
            variables[f"{name}_re"] = (variable.dims, values.real.copy(), told)
            variables[f"{name}_im"] = (variable.dims, values.imag.copy(), told)
        elif values.dtype.kind in "OUS":
            variables[str(name)] = (variable.dims, *_flags(values, told))
        else:
            variables[str(name)] = (variable.dims, values, told)
    attributes = {k: v for k, v in dataset.attrs.items() if v is not None}
    plain = xarray.Dataset(variables, dataset.coords, attributes)
    return bytes(plain.to_netcdf(engine="scipy", format="NETCDF3_64BIT"))


def _flags(values: Any, told: dict[str, Any]) -> tuple[Any, dict[str, Any]]:
    meanings = sorted({str(value) for value in values.flat})
    number = {meaning: place for place, meaning in enumerate(meanings)}
    flags = np.array([number[str(value)] for value in values.flat], dtype=np.int8)
    return flags.reshape(values.shape), told | {
        "flag_values": np.arange(len(meanings), dtype=np.int8),
        "flag_meanings": " ".join(meaning.replace(" ", "_") for meaning in meanings),
    }
