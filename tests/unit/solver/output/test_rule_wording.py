"""One line a rule: the range of what its readings ask, and what would have to change."""

import pytest

from solver.closed_forms.source import Source
from solver.output.rule_wording import reading_row, reading_text, rule_lines, rules_frame
from solver.rules.readings import RuleReading

BOOK = Source(citation="a book", mark="published")
HABIT = Source(citation="shop practice", mark="common practice")


def reading(required, actual, name="two wavelengths", measure="mean length", source=BOOK, at=""):
    satisfied = actual >= required
    words = f"length at least {required * 1e3:g} mm{at}"
    missing = abs(required - actual)
    return RuleReading(name, words, source, measure, required, actual, satisfied, missing)


def test_readings_of_one_rule_make_one_line():
    found = rule_lines([reading(0.05, 0.06), reading(0.08, 0.06), reading(0.03, 0.06, "other")])
    assert [line.name for line in found] == ["two wavelengths", "other"]
    first, second = found
    assert (first.asks, first.has) == ("50 to 80 mm", "60 mm")
    assert (first.holds, first.change) == ("in 1 of 2 readings", "20 mm more")
    assert (second.asks, second.holds, second.change) == ("30 mm", "yes", "")


def test_no_reading_holds():
    (line,) = rule_lines([reading(0.07, 0.06), reading(0.0901, 0.06)])
    assert (line.holds, line.change) == ("no", "10 to 30.1 mm more")


def test_a_rule_of_some_length_may_ask_for_less():
    """A quarter wave is asked for, and the part is longer in one reading, shorter in the other."""
    both = [
        RuleReading("quarter", "a", BOOK, "depth", 8e-3, 9e-3, False, 1e-3),
        RuleReading("quarter", "b", BOOK, "depth", 11e-3, 9e-3, False, 2e-3),
    ]
    (line,) = rule_lines(both)
    assert line.change == "1 mm less or 2 mm more"


def test_two_measures_are_told_apart():
    both = [
        reading(0.05, 0.06, measure="mean length"),
        reading(0.02, 0.03, measure="inner radius"),
    ]
    (line,) = rule_lines(both)
    assert line.asks == "50 mm mean length; 20 mm inner radius"
    assert line.has == "60 mm; 30 mm"


def test_lengths_are_told_to_a_hundredth_of_a_millimetre():
    (line,) = rule_lines([reading(0.0500001, 0.0612345), reading(0.05, 0.0612345)])
    assert (line.asks, line.has) == ("50 mm", "61.23 mm")


@pytest.mark.parametrize(
    ("required", "row"),
    [(0.05, ("50 mm", "60 mm", "yes", "")), (0.08, ("80 mm", "60 mm", "no", "20 mm more"))],
)
def test_one_reading_is_one_row(required, row):
    assert reading_row(reading(required, 0.06)) == row


def test_a_reading_names_what_it_measures_once():
    assert reading_text(reading(0.05, 0.06)) == "length at least 50 mm (mean length)"
    told = reading(0.05, 0.06, measure="length")
    assert reading_text(told) == "length at least 50 mm"


def test_sources_are_numbered_where_they_first_stand():
    rules = [
        reading(0.05, 0.06, source=HABIT),
        reading(0.08, 0.06, source=BOOK),
        reading(0.07, 0.06, source=HABIT),
    ]
    frame = rules_frame(iter(rules), "has")
    assert frame["rule_sources"] == [str(HABIT), str(BOOK)]
    assert [row[-1] for row in frame["rule_readings"]] == ["[1]", "[2]", "[1]"]
    assert frame["actual_name"] == "has" and len(frame["rules"]) == 1
