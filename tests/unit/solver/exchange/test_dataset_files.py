"""netCDF files are read back as they were, and files of shapes are refused before any work."""

import io
from types import SimpleNamespace

import numpy as np
import pytest
import xarray

from geometries.shapes.guides import standard_guide
from geometries.shapes.straights import Straight
from solver.errors import OutputError, StudyError
from solver.exchange.dataset_files import netcdf_bytes
from solver.exchange.datasets import columns_dataset, gradual_dataset, seek_dataset
from solver.exchange.shape_files import check_shape_path, save_shape
from solver.studies.limits import Limit


def test_a_dataset_is_read_back_in_what_the_format_knows():
    made = xarray.Dataset(
        {
            "s": (("f", "to"), np.array([[1 + 2j, 3j], [0.5, -1]])),
            "outcome": ("f", np.array(["meets", "no limit"])),
            "worst": ("f", [0.1, np.nan], {"units": "dB", "nothing": None}),
        },
        {"f": ("f", [9e9, 10e9], {"units": "Hz"}), "to": [1, 2]},
        {"title": "a part", "limit": None},
    )
    with xarray.open_dataset(io.BytesIO(netcdf_bytes(made)), engine="scipy") as found:
        np.testing.assert_array_equal(found["s_re"] + 1j * found["s_im"], made["s"])
        np.testing.assert_array_equal(found["worst"], made["worst"])
        assert found["worst"].attrs == {"units": "dB"} and found.attrs == {"title": "a part"}
        assert found["f"].attrs["units"] == "Hz"
        flags = found["outcome"]
        words = flags.attrs["flag_meanings"].split()
        assert [words[i] for i in flags.values] == ["meets", "no_limit"]
        np.testing.assert_array_equal(flags.attrs["flag_values"], [0, 1])


def test_columns_along_one_of_them():
    found = columns_dataset("ghz", {"ghz": [9.0, 10.0], "loss": [0.1, 0.2]}, {"kind": "x"})
    assert float(found["loss"].sel(ghz=10.0)) == 0.2 and found.attrs == {"kind": "x"}
    assert set(found.data_vars) == {"loss"}


def test_a_search_for_a_size():
    result = SimpleNamespace(
        sizes=np.array([0.02, 0.03]),
        worst_s11=np.array([0.2, 0.1]),
        worst_s11_error=np.zeros(2),
        estimated_s11=np.array([0.19, np.nan]),
        limit=Limit(vswr=1.5, return_loss_db=20.0, leakage_db=-60.0),
        kind="bend",
        smallest=0.031,
        first_met=None,
        uncertainty=1e-5,
    )
    found = gradual_dataset(result)
    # 20 dB are the tighter of the two; leakage is another matter
    assert found.attrs["allowed_s11"] == pytest.approx(0.1)
    assert np.isnan(found.attrs["first_met"]) and found.attrs["smallest"] == 0.031
    assert float(found["worst_s11"].sel(size=0.03)) == 0.1 and found["size"].attrs["units"] == "m"


def test_a_search_for_the_least_names_its_keys_apart():
    one, two = "component.width_mm", "guide.width_mm"
    result = SimpleNamespace(
        values={one: 2.0, two: 3.0},
        tried=[({one: 1.0, two: 2.0}, 0.5), ({one: 2.0, two: 3.0}, 0.4)],
        title="a part",
        quantity="leakage_db",
        least=SimpleNamespace(value=0.4),
    )
    found = seek_dataset(result)
    np.testing.assert_array_equal(found[one], [1.0, 2.0])
    assert (found.attrs[two], found.attrs["least_amplitude"]) == (3.0, 0.4)
    short = SimpleNamespace(
        **vars(result) | {"values": {one: 2.0}, "tried": [({one: 1.0}, 0.5), ({one: 2.0}, 0.4)]}
    )
    assert set(seek_dataset(short).data_vars) == {"amplitude", "width_mm"}


@pytest.mark.parametrize("name", ["part", "part.obj", "stl"])
def test_another_ending_is_refused(tmp_path, name):
    with pytest.raises(StudyError, match=r"end it in .stl or .step"):
        check_shape_path(tmp_path / name)


def test_a_shape_goes_into_its_folder(tmp_path):
    part = Straight(standard_guide("WR-90"), 20e-3)
    path = save_shape(part, tmp_path / "new" / "part.STL")
    assert path.name == "part.STL" and path.stat().st_size > 0
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError) as told:
        check_shape_path(tmp_path / "taken" / "part.stl")
    assert "\n" not in str(told.value)
