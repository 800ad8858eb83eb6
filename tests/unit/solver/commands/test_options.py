"""Numbers and guides on the command line, refused with the limit; points that outlast a stop."""

import click
import pytest

from geometries.shapes.guides import CircularGuide, standard_guide
from solver.commands.kept_points import kept_points
from solver.commands.options import GUIDE, Amount
from solver.searches.part_curves import Refusal


@pytest.mark.parametrize(("text", "number"), [("0.5", 0.5), ("1e3", 1000.0), (2, 2.0)])
def test_an_amount_within_its_range(text, number):
    assert Amount(0.0, 1000.0).convert(text, None, None) == number


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0", "0 must be above 0 and at most 1000"),
        ("1000.1", "must be above 0 and at most 1000"),
        ("nan", "must be above 0"),
        ("inf", "must be above 0"),
        ("much", "much is not a number"),
        ("4,5", "4,5 is not a number; write a decimal point: 4.5"),
    ],
)
def test_another_amount_is_refused_with_the_limit(text, words):
    with pytest.raises(click.BadParameter) as told:
        Amount(0.0, 1000.0).convert(text, None, None)
    assert words in told.value.message and "\n" not in told.value.message


def test_a_guide_by_name_and_by_size():
    assert GUIDE.convert("WG16", None, None) == standard_guide("WR-90")
    assert GUIDE.convert("1.0in", None, None) == CircularGuide(25.4e-3)
    assert GUIDE.convert(CircularGuide(25.4e-3), None, None) == CircularGuide(25.4e-3)
    for text in ("WR-91", "10x20", "22,86x10,16"):
        with pytest.raises(click.BadParameter) as told:
            GUIDE.convert(text, None, None)
        assert "\n" not in told.value.message


def test_an_interrupt_tells_what_was_kept(tmp_path):
    folder = tmp_path / "out"
    with pytest.raises(KeyboardInterrupt) as told, kept_points(folder) as store:
        store.add("abc", Refusal("the bend folds"))
        raise KeyboardInterrupt
    assert "1" in str(told.value) and str(folder) in str(told.value)
    with kept_points(folder) as store:
        assert store.get("abc") == Refusal("the bend folds")


def test_an_interrupt_without_a_folder_has_nothing_to_tell():
    with pytest.raises(KeyboardInterrupt) as told, kept_points(None):
        raise KeyboardInterrupt
    assert str(told.value) == ""
