"""Rows of printed numbers: how they are read, and the tolerance that follows from their digits.

Columns: quantity (a function of the test), inputs, printed (the number as printed), unit, digits
("rounded": half a unit of the last digit either way; "truncated": one unit, upward only;
"exact": words such as "the square", no digits to round; "refuted": rounded, and wrong by more
than that, the note says by what evidence), speed_of_light that the source used, where it differs
from the exact one, constant (a rounded constant that the source multiplied by: half a unit of its
last digit is added, relatively), where in the source, mark, note. The mark says how a row was
read: "published", in the source or a page that reproduces it; "quoted", in another text that
quotes the source; or "from memory". The first line names what was read. Rows that a field
solution must meet have one more, neglected: what the source's form leaves out, in the unit of the
row, with the reason in the note.
"""

import csv
import math
from decimal import Decimal
from pathlib import Path

import pytest

from geometries.shapes.guides import RectangularGuide, standard_guide

VALUES = Path(__file__).parent / "values"
C = 299792458.0
UNITS = {
    "GHz": 1e9,
    "rad/m": 1.0,
    "ohm": 1.0,
    "Np/m": 1.0,
    "dB/m": math.log(10) / 20,
    "1": 1.0,
    "in": 0.0254,
    "dB": 1.0,
    "W/V^2": 1.0,
}


class Inputs(dict):
    """The inputs of a row, and the speed of light that its source used."""

    def __init__(self, row):
        pairs = (pair.split("=") for pair in row["inputs"].split(";"))
        super().__init__(dict(pairs))
        self.speed = float(row["speed_of_light"] or C)

    def number(self, key, default=None):
        return float(self[key]) if default is None else float(self.get(key, default))

    @property
    def guide(self):
        if "guide" in self:
            return standard_guide(self["guide"])
        return RectangularGuide(self.number("a_cm") / 100, self.number("b_cm") / 100)

    @property
    def slowness(self):
        """Wavenumber in the source's filling over that in vacuum at the exact speed of light."""
        return math.sqrt(self.number("permittivity", 1)) * C / self.speed

    @property
    def frequency(self):
        return self.number("f_ghz") * 1e9


def last_digit(printed):
    """One unit of the last printed digit."""
    return 10.0 ** Decimal(printed).as_tuple().exponent


def limits(row):
    """Lowest and highest value that the printed number can stand for, in the printed unit."""
    value, unit = float(row["printed"]), last_digit(row["printed"])
    below, above = {
        "rounded": (unit / 2, unit / 2),
        "truncated": (0, unit),
        "exact": (0, 0),
        "refuted": (unit / 2, unit / 2),
    }[row["digits"]]
    slack = 1e-9 * abs(value) + float(row.get("neglected") or 0)
    if row["constant"]:
        slack += abs(value) * last_digit(row["constant"]) / 2 / float(row["constant"])
    return value - below - slack, value + above + slack


def check_form(row):
    """Refuse a row whose reading or place is not stated."""
    assert row["mark"] in ("published", "quoted", "from memory")
    assert row["where"]
    assert row["note"] or not (row.get("neglected") or row["digits"] == "refuted")


def rows_in(folder):
    """Every row of every file in a folder, as parameters of a test."""
    for path in sorted(folder.glob("*.csv")):
        citation, *table = path.read_text(encoding="utf-8").splitlines()
        assert citation.startswith("# ")
        for row in csv.DictReader(table):
            assert None not in row, path.name
            yield pytest.param(row, id=f"{path.stem}-{row['quantity']}-{row['inputs']}")
