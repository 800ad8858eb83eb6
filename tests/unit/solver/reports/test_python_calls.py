"""The verbs of the command line from Python: what they take, and how results show themselves."""

import math
import re

import numpy as np
import pytest

import solver
from geometries import Bend, MeshPart, RectangularGuide, Straight, standard_guide
from geometries.errors import InvalidDimensionError
from solver import Band, Limit, Walls
from solver.errors import StudyError
from solver.output.reference_values import reference_csv
from solver.searches.gradual import GradualResult

GUIDE, BAND = standard_guide("WR-90"), Band(8.2e9, 12.4e9, 5)
TABLES = {
    "title": "which radius & why?",
    "guide": "WR-90",
    "component": {"kind": "bend", "plane": "E", "angle_deg": 37.0, "mean_radius_mm": 45.0},
    "band": {"from_ghz": 8.2, "to_ghz": 12.4, "points": 5},
    "limit": {"vswr": 1.05},
    "accuracy": {"s_error": 1e-3},
}
RADIUS = "component.mean_radius_mm"


@pytest.fixture(scope="module")
def bend():
    part = Bend(GUIDE, "E", math.radians(37), 45e-3)
    return solver.assess(part, BAND, limit=Limit(vswr=1.05), s_error=1e-3, title="riser")


@pytest.fixture(scope="module")
def grid():
    return solver.explore(TABLES, {RADIUS: [4.0, 8.0, 45.0], "component.angle_deg": [30, 60]})


@pytest.fixture(scope="module")
def results(bend, grid):
    """One result of each verb."""
    part, coarse = Straight(GUIDE, 20e-3), TABLES | {"accuracy": {"s_error": 0.02}}
    return {
        "assess": bend,
        "explore": grid,
        "seek": solver.seek(coarse, {RADIUS: (30, 32)}, "reflection", at=10e9),
        "gradual": made_up_search(),
        "modes": solver.modes("WR-90"),
        "resonances": solver.modes(part, BAND, count=2),
        "reference": solver.reference(part, BAND, s_error=1e-3),
    }


def made_up_search():
    from solver.reports.shown_searches import ShownGradual

    sizes = np.array([0.01, 0.02, 0.04])
    return ShownGradual(
        kind="bend",
        guide=GUIDE,
        plane="E",
        angle=1.0,
        band=BAND,
        limit=Limit(vswr=1.05),
        smallest=0.03,
        first_met=0.02,
        uncertainty=1e-5,
        first_met_uncertainty=1e-5,
        sizes=sizes,
        worst_s11=1e-3 / sizes,
        worst_s11_error=np.full(3, 1e-6),
        estimated_s11=1e-3 / sizes,
        rules=(),
        reasons=("made up",),
    )


NAMES = ("assess", "explore", "seek", "gradual", "modes", "resonances", "reference")


@pytest.mark.parametrize("name", NAMES)
def test_a_result_prints_itself_in_a_few_lines(results, name):
    text = repr(results[name])
    assert 2 <= len(text.splitlines()) <= 20
    assert not re.search(r"array\(|object at 0x|None|\bnan\b", text)
    assert str(results[name]) == text


@pytest.mark.parametrize("name", NAMES)
def test_a_result_shows_itself_in_a_notebook_without_stray_marks(results, name):
    html = results[name]._repr_html_()
    assert html.strip().startswith("<div") and html.strip().endswith("</div>")
    shown = re.sub(r"<(svg|style)\b.*?</\1>|<[^>]*>", " ", html, flags=re.DOTALL)
    assert not re.search(r"\\|\bNone\b|\bnan\b|[<>{}`]|&amp;lt;", shown)
    assert shown.strip()


@pytest.mark.parametrize("name", NAMES)
def test_a_result_gives_a_dataset(results, name):
    dataset = results[name].to_dataset()
    assert dataset.sizes and dataset.data_vars


def test_the_dataset_of_an_assessment_is_its_s_matrix(bend):
    dataset = bend.to_dataset()
    chosen = dataset.s.sel({"to": "port 2 TE10", "from": "port 1 TE10"})
    np.testing.assert_array_equal(chosen, bend.scattering.s21)
    np.testing.assert_array_equal(dataset.frequency, BAND.frequencies)
    assert dataset.frequency.attrs["units"] == "Hz"
    assert dataset.attrs["outcome"] == "meets"


def test_the_network_is_its_s_matrix(bend, results):
    for network in (bend.to_network(), results["reference"].to_network()):
        assert network.s.shape == (5, 2, 2)
        np.testing.assert_array_equal(network.f, BAND.frequencies)
    np.testing.assert_array_equal(bend.to_network().s, bend.scattering.s)


def test_the_dataset_of_a_grid_has_an_axis_a_key(grid):
    dataset = grid.to_dataset()
    assert dict(dataset.sizes) == {"mean_radius_mm": 3, "angle_deg": 2, "frequency": 5}
    # an inner radius under nothing is no part
    assert (dataset.outcome.sel(mean_radius_mm=4.0) == "refused").all()
    assert dataset.worst_s11.sel(mean_radius_mm=4.0).isnull().all()
    cell = next(c for c in grid.cells if c.values == {RADIUS: 45.0, "component.angle_deg": 60.0})
    chosen = dataset.sel(mean_radius_mm=45.0, angle_deg=60.0)
    assert chosen.worst_s11 == cell.reflection.value
    np.testing.assert_array_equal(chosen.s11, cell.curves.s11)


def test_a_sample_has_one_axis_for_all_keys():
    found = solver.explore(
        TABLES | {"component": {"kind": "straight", "length_mm": 20.0}},
        {"component.length_mm": (10, 20)},
        sample=2,
    )
    dataset = found.to_dataset()
    assert dict(dataset.sizes) == {"point": 2, "frequency": 5}
    assert ((dataset.length_mm >= 10) & (dataset.length_mm <= 20)).all()


def test_the_dataset_of_a_search_holds_what_was_tried(results):
    tried = results["seek"].to_dataset()
    assert tried.sizes["part"] == len(results["seek"].tried)
    assert float(tried.amplitude.min()) <= results["seek"].least.value * (1 + 1e-12)
    sizes = results["gradual"].to_dataset()
    assert sizes.attrs["smallest"] == 0.03
    assert isinstance(results["gradual"], GradualResult)


def test_reference_values_are_those_of_the_command(results):
    table = results["reference"]
    assert table.to_csv() == reference_csv(table.assessment)
    assert len(table) == 5
    # c/2a by hand: the cutoff of TE10
    assert results["modes"]["cutoff_hz"][0] == pytest.approx(299792458 / 0.04572, rel=1e-12)


def test_a_study_file_says_all_and_what_is_given_counts_more(tmp_path):
    path = tmp_path / "riser.toml"
    path.write_text(
        'title = "riser"\nguide = "WR-90"\nband = {from_ghz = 8.2, to_ghz = 12.4, points = 5}\n'
        'component = {kind = "straight", length_mm = 20}\nlimit = {vswr = 1.2}',
        encoding="utf-8",
    )
    result = solver.assess(path)
    assert (result.title, result.limit, result.wanted_error) == ("riser", Limit(vswr=1.2), 1e-4)
    other = solver.assess(path, limit=Limit(vswr=1.3), s_error=1e-2, walls=Walls(5.8e7))
    assert (other.limit, other.wanted_error) == (Limit(vswr=1.3), 1e-2)
    assert other.scattering.dissipated_power.any()


def test_a_mesh_of_the_user_is_a_part_as_in_a_study():
    part = MeshPart(GUIDE, "part.msh", "mm")
    assert part.kind == "mesh"


def assess_in(band, part):
    return solver.assess(part, band)


@pytest.mark.parametrize(
    ("act", "error", "words"),
    [
        (lambda: Band(7, 10), StudyError, r"7 to 10 Hz: frequencies are in hertz"),
        (
            lambda: assess_in(BAND, Bend(GUIDE, "E", math.radians(37), 38.0)),
            InvalidDimensionError,
            r"mean_radius is 38; .* 38 mm is 0\.038",
        ),
        (
            lambda: solver.gradual(Bend(GUIDE, "E", 1.0, 38.0), BAND, Limit(vswr=1.1)),
            InvalidDimensionError,
            "38 mm is 0",
        ),
        (
            lambda: assess_in(BAND, Straight(RectangularGuide(22.86, 10.16), 20.0)),
            InvalidDimensionError,
            r"broad_width is 22\.86; .* lengths are in metres",
        ),
        (lambda: Bend(GUIDE, "E", 37.0, 0.038), InvalidDimensionError, r"37 rad \(2119\.9. degr"),
        (lambda: solver.assess(Straight(GUIDE, 0.02)), StudyError, "a straight without a band"),
        (lambda: solver.assess("none.toml"), StudyError, "does not exist"),
    ],
)
def test_wrong_units_are_caught_early(act, error, words):
    with pytest.raises(error, match=words):
        act()
