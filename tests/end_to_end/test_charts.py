"""A chart of gradualness against exact bends in another guide of the same ratio."""

import json
import math

import numpy as np
import pytest

from geometries.shapes.guides import standard_guide
from solver.commands.command_line import main
from solver.errors import StudyError
from solver.searches.gradualness import _between, gradualness_chart
from tests.references.curved_guide_modes import bend_scattering

C = 299792458.0


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("chart") / "out"
    size = ["--radii", "3", "--angles", "3", "--workers", "1"]
    assert main(["chart", "--plane", "E", "--ratio", "2.25", *size, "-o", str(out)]) == 0
    return out


def test_chart_is_that_of_every_guide_of_the_ratio(folder):
    told = json.loads((folder / "chart.json").read_text())
    guide = standard_guide("WR-90")  # 0.9 by 0.4 inches: a/b = 2.25
    a, b = guide.broad_width, guide.narrow_height
    cutoff = C / 2 / a
    frequency = np.linspace(1.25 * cutoff, 1.9 * cutoff, 60)
    wavelength = C / (1.575 * cutoff)
    for row, radius in enumerate(told["radius_over_wavelength"]):
        for column, degrees in enumerate(told["angle_deg"][:2]):
            size = [
                abs(
                    bend_scattering("E", b, a, radius * wavelength, math.radians(degrees), f, 40)[0]
                )
                for f in frequency
            ]
            found = told["worst_s11"][row][column]
            # sixty frequencies miss the top of a ripple by little
            assert max(size) <= found + told["worst_s11_error"][row][column] + 1e-6
            assert found <= 1.02 * max(size)


def test_files_and_rules(folder):
    told = json.loads((folder / "chart.json").read_text())
    rules = {rule["words"]: rule["radius"] for rule in told["rules"]}
    two = next(
        v for k, v in rules.items() if "2 x the free-space wavelength at band centre, at" in k
    )
    assert two == pytest.approx([2.0, 2.0, 2.0])
    page = (folder / "chart.html").read_text()
    assert "<svg" in page and f"<li>{next(iter(rules))}</li>" in page
    assert (folder / "chart.csv").read_text().count("\n") == 4


def test_interpolation_error_is_that_of_half_the_spacing():
    x = np.linspace(0, 1, 9)
    table = np.exp(np.add.outer(x**2, np.zeros(3)))
    # x^2 is off a chord of length h by h^2/4 in its middle
    assert _between(table) == pytest.approx(math.expm1((1 / 4) ** 2 / 4 / 4))


@pytest.mark.parametrize(
    ("ratio", "edges", "told"), [(0.5, (1.25, 1.9), "a/b"), (2.0, (1.9, 1.25), "ascend")]
)
def test_refusals(ratio, edges, told):
    with pytest.raises(StudyError, match=told):
        gradualness_chart("E", ratio, edges, angles=[1.0])
