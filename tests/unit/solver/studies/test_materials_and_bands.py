"""Absorbers by name, and frequencies that are meant in another unit."""

from typing import get_args

import pytest
from pydantic_core import PydanticCustomError

from solver.loads.absorbers import AbsorberName, with_material
from solver.studies.study_keys import far_above


def test_every_name_gives_a_permittivity_that_falls_with_frequency():
    """As that of any material that relaxes; its loss is a part of it."""
    named = sorted(get_args(AbsorberName), key=lambda n: float(n.split("-")[-1].strip("ghz")))
    told = [with_material({"kind": "load", "material": name}) for name in named]
    real = [table["permittivity"] for table in told]
    assert real == sorted(real, reverse=True) and real[-1] > 1.0
    assert all(0.0 < table["loss_tangent"] < 1.0 and table["kind"] == "load" for table in told)
    assert [table["material"] for table in told] == named


@pytest.mark.parametrize("key", ["permittivity", "loss_tangent", "permeability"])
def test_a_number_beside_a_name_is_refused(key):
    with pytest.raises(PydanticCustomError) as told:
        with_material({"material": "steel-epoxy-10ghz", key: 1.0})
    assert told.value.context == {"key": key}


def test_what_names_no_material_stays_as_it_is():
    for table in ({"permittivity": 4.0}, {"material": None}, [1], "x", None):
        assert with_material(table) == table
    unknown = with_material({"material": "mud", "permittivity": 3.0})
    assert (unknown["material"], unknown["permittivity"], unknown["loss_tangent"]) == (
        "mud",
        3.0,
        0,
    )


@pytest.mark.parametrize(
    ("ghz", "end"),
    [
        (655.0, None),
        (9375.0, "for 9375 MHz write 9.375"),
        (9.375e9, "for 9.375e+09 Hz write 9.375"),
        # no unit makes it pass the guide
        (700.0, "lower it"),
    ],
)
def test_frequencies_in_other_units(ghz, end):
    told = far_above(6.557e9, ghz)
    assert told == "" if end is None else told.endswith(end)
