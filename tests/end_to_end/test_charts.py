"""A chart of gradualness against exact bends in another guide of the same ratio."""

import json
import math

import numpy as np
import pytest

from geometries.shapes.guides import standard_guide
from solver.commands.command_line import main
from solver.errors import StudyError
from solver.searches.gradualness import gradualness_chart, interpolation_error
from solver.searches.length_charts import length_chart
from solver.sheets.chart_files import lax_rows
from tests.references.curved_guide_modes import bend_scattering
from tests.references.twist_modes import s11, twist_modes

C = 299792458.0


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("chart") / "out"
    size = ["--radii", "3", "--angles", "3", "--workers", "1"]
    assert main(["chart", "--plane", "E", "--ratio", "2.25", *size, "-o", str(out)]) == 0
    return out


@pytest.mark.slow
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


@pytest.mark.slow
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
    assert interpolation_error(table) == pytest.approx(math.expm1((1 / 4) ** 2 / 4 / 4))


@pytest.mark.parametrize(
    ("ratio", "edges", "told"), [(0.5, (1.25, 1.9), "a/b"), (2.0, (1.9, 1.25), "ascend")]
)
def test_refusals(ratio, edges, told):
    with pytest.raises(StudyError, match=told):
        gradualness_chart("E", ratio, edges, angles=[1.0])


def _told(tmp_path, *words):
    assert main(["chart", *words, "--workers", "1", "-o", str(tmp_path / "out")]) == 0
    return json.loads((tmp_path / "out" / "chart.json").read_text())


@pytest.mark.slow
def test_twists_are_those_of_coupled_modes_in_another_guide(tmp_path):
    told = _told(tmp_path, "--kind", "twist", "--ratio", "2.25", "--lengths", "3", "--angles", "3")
    guide = standard_guide("WR-90")
    cutoff = C / 2 / guide.broad_width
    wavelength = C / (1.575 * cutoff)
    modes = [twist_modes(guide.broad_width, guide.narrow_height, n) for n in (4, 8)]
    frequency = np.linspace(1.25 * cutoff, 1.9 * cutoff, 9)
    length = told["length_over_wavelength"][1] * wavelength
    angle = math.radians(told["angle_deg"][1])
    coarse, fine = (np.array([s11(m, angle / length, length, f) for f in frequency]) for m in modes)
    # they converge as one over the order
    exact = np.abs(2 * fine - coarse).max()
    allowed = told["worst_s11_error"][1][1] + np.abs(fine - coarse).max() / 2
    # nine frequencies may miss the top of a ripple
    assert exact - allowed <= told["worst_s11"][1][1] <= 1.05 * exact + allowed
    assert allowed < 0.3 * exact


@pytest.mark.slow
def test_tapers_keep_the_words_of_the_rules(tmp_path):
    told = _told(tmp_path, "--kind", "taper", "--lengths", "3", "--heights", "3")
    assert told["height_over_first"] == [0.2, 0.55, 0.9]
    rules = {rule["words"]: rule["length"] for rule in told["rules"]}
    [one] = [v for k, v in rules.items() if k.startswith("one guide") and "centre" in k]
    # guide wavelength over wavelength at 1.575 cutoffs
    assert one == pytest.approx([1 / math.sqrt(1 - 1.575**-2)] * 3)
    # a smaller second height reflects more, at the shortest length
    assert told["worst_s11"][0] == sorted(told["worst_s11"][0], reverse=True)
    assert "Where a rule is too lax" in (tmp_path / "out" / "chart.html").read_text()


def test_lax_rules_are_found_in_their_columns():
    y, x = np.array([1.0, 2.0, 4.0]), np.array([10.0, 20.0, 30.0])
    # |S11| = 0.02 x/10 / y; VSWR 1.05 allows 0.0244
    worst = 0.002 * x / y[:, None]
    # 0.01, 0.02, 0.03; then beyond the chart in all but the first
    rows = lax_rows(x, y, worst, {"two": np.full(3, 2.0), "far": np.array([4.0, 5.0, 6.0])})
    assert [row[3] for row in rows] == ["30 to 30 (1 of 3)", "nowhere"]
    # VSWR 1.02 allows 0.0099, 1.10 allows 0.0476
    assert (rows[0][2], rows[0][4]) == ("10 to 30 (3 of 3)", "nowhere")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "--plane"),
        (["--kind", "twist", "--plane", "E"], "lies in none"),
        (["--kind", "taper", "--angles", "5"], "takes --lengths and --heights"),
    ],
)
def test_options_of_another_kind_are_refused(words, told, capsys):
    assert main(["chart", *words]) == 2
    assert told in capsys.readouterr().err


def test_refusals_of_lengths():
    with pytest.raises(StudyError, match="0 and 1"):
        length_chart("taper", 2.0, changes=[1.2])
    with pytest.raises(StudyError, match="twist or taper"):
        length_chart("bend", 2.0, changes=[1.0])
