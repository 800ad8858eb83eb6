"""What Python users get shows itself, and holds all that was computed."""

import dataclasses
import inspect

from geometries import Straight, standard_guide
from solver import Assessment, Band, Limit, assess
from solver.judgement.assess_part import assess as assess_alone


def test_an_assessed_part_shows_itself():
    part = Straight(standard_guide("WR-90"), 0.02)
    result = assess(part, Band(8.2e9, 12.4e9, 11), limit=Limit(vswr=1.05), title="a run")
    assert isinstance(result, Assessment)
    assert result.to_json()["title"] == "a run"
    assert len(result.plot_vswr().axes) == 1
    assert "a run" in result._repr_html_()
    of_other_parts = {"further", "heat", "periodic", "radiation"}
    names = {item.name for item in dataclasses.fields(result)} - of_other_parts
    assert all(getattr(result, name) is not None for name in names)


def test_it_takes_what_the_data_alone_take():
    shown, alone = (inspect.signature(f).parameters for f in (assess, assess_alone))
    own = [name for name, one in shown.items() if one.kind is not one.VAR_KEYWORD]
    assert own == [name for name in alone if name in own]
