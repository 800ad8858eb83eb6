"""What is drawn is what was computed: levels, bars, limits, and SVG that fetches nothing."""

import re
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest

from geometries.shapes.guides import standard_guide
from geometries.shapes.straights import Straight
from solver.figures.inline_figures import as_png_address, as_svg, as_svg_file
from solver.figures.pattern_figure import pattern_figure
from solver.figures.style import curve_figure
from solver.loads.heat_profile import HeatProfile
from solver.output.plots import (
    drawn_decibels,
    heat_figure,
    leakage_figure,
    reflection_caption,
    reflection_figure,
    transmission_figure,
    vswr_figure,
)
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.resonances import Resonance
from solver.waves.scattering import PortMode, ScatteringMatrix

FREQUENCY = np.array([9e9, 9.5e9, 10e9])
S11, ERROR = np.array([0.1, 0.2j, -0.05]), 0.01


def assessment(limit=None, ports=2, estimates=(), leaked=0.0, resonances=()):
    n = len(FREQUENCY)
    s = np.zeros((n, ports, ports), dtype=complex)
    s[:, 0, 0] = S11
    if ports > 1:
        s[:, 1, 0] = s[:, 0, 1] = np.sqrt(1 - np.abs(S11) ** 2)
    modes = tuple(PortMode(port, "TE10", 6.557e9) for port in range(1, ports + 1))
    matrix = ScatteringMatrix(
        FREQUENCY, modes, s, np.full(n, ERROR), np.full(n, leaked), np.zeros(n)
    )
    return SimpleNamespace(
        scattering=matrix,
        over_band=matrix,
        component=Straight(standard_guide("WR-90"), 0.02),
        band=Band(9e9, 10e9, 3),
        estimates=estimates,
        limit=limit,
        resonances=resonances,
        verdict=SimpleNamespace(quantity="vswr"),
    )


def curve(figure, label):
    (axes,) = figure.axes
    (line,) = (line for line in axes.lines if line.get_label() == label)
    return np.asarray(line.get_xdata()), np.asarray(line.get_ydata())


def limits_of(figure):
    (axes,) = figure.axes
    return [line.get_ydata()[0] for line in axes.lines if line.get_label() == "limit"]


def band_of(figure):
    """Lower and upper edge of the drawn bar at the middle frequency."""
    (axes,) = figure.axes
    (path,) = axes.collections[0].get_paths()
    at = np.isclose(path.vertices[:, 0], 9.5)
    return path.vertices[at, 1].min(), path.vertices[at, 1].max()


def test_levels_have_a_floor_of_their_own():
    found = drawn_decibels(np.array([1.0, 0.1, 0.0]))
    np.testing.assert_allclose(found, [0.0, -20.0, -180.0])


def test_reflection_is_drawn_in_decibels_with_bar_and_limits():
    figure = reflection_figure(assessment(Limit(vswr=1.5, return_loss_db=20.0)))
    x, y = curve(figure, "computed |S11|")
    np.testing.assert_allclose(x, [9.0, 9.5, 10.0])
    np.testing.assert_allclose(y, 20 * np.log10([0.1, 0.2, 0.05]))
    # a VSWR of 1.5 is 0.2, 20 dB are 0.1
    assert sorted(limits_of(figure)) == pytest.approx([-20.0, 20 * np.log10(0.2)])
    assert band_of(figure) == pytest.approx((20 * np.log10(0.19), 20 * np.log10(0.21)))
    assert limits_of(reflection_figure(assessment())) == []


def test_closed_forms_and_resonances_are_marked():
    outside = SimpleNamespace(
        name="a form", s11_abs=np.array([0.1, 0.1, 0.1]), within_validity=False, leaked_power=None
    )
    empty = SimpleNamespace(
        name="none", s11_abs=np.full(3, np.nan), within_validity=True, leaked_power=None
    )
    rings = (Resonance(9.3e9, 1e5, 900.0, ""), Resonance(9.8e9, 1e5, 900.0, ""))
    figure = reflection_figure(assessment(estimates=(outside, empty), resonances=rings))
    np.testing.assert_allclose(curve(figure, "a form\n(outside its range)")[1], -20.0)
    labels = [line.get_label() for line in figure.axes[0].lines]
    assert labels.count("resonance") == 1 and not any("none" in label for label in labels)
    assert curve(figure, "resonance")[0][0] == pytest.approx(9.3)
    assert "beside the closed forms" in reflection_caption(assessment(estimates=(outside, empty)))
    assert "no closed form" in reflection_caption(assessment(estimates=(empty,)))
    assert "no closed form" in reflection_caption(assessment())


def test_vswr_is_drawn_with_its_worst():
    figure = vswr_figure(assessment(Limit(return_loss_db=20.0)))
    np.testing.assert_allclose(curve(figure, "computed VSWR")[1], [1.1 / 0.9, 1.5, 1.05 / 0.95])
    assert np.ravel(curve(figure, "worst")) == pytest.approx([9.5, 1.5])
    assert limits_of(figure) == pytest.approx([1.1 / 0.9])
    assert band_of(figure) == pytest.approx((1.19 / 0.81, 1.21 / 0.79))


def test_leakage_is_drawn_with_the_bar_of_its_root():
    figure = leakage_figure(assessment(Limit(leakage_db=-30.0), leaked=1e-4))
    np.testing.assert_allclose(curve(figure, "computed leakage")[1], -40.0)
    assert limits_of(figure) == [-30.0]


def test_what_goes_on_is_drawn_where_there_is_something():
    assert transmission_figure(assessment(ports=1)) is None
    figure = transmission_figure(assessment())
    _, y = curve(figure, "into TE10, port 2")
    np.testing.assert_allclose(y, 10 * np.log10(1 - np.array([0.1, 0.2, 0.05]) ** 2))


def test_heat_is_drawn_for_a_watt_and_a_millimetre():
    place = np.linspace(0, 0.04, 5)
    heat = HeatProfile(9.5e9, place, np.full(5, 20.0), 0.8, 0.1, 1e4, 0.0, False)
    (axes,) = heat_figure(heat).axes
    np.testing.assert_allclose(axes.lines[0].get_xdata(), [0, 10, 20, 30, 40])
    np.testing.assert_allclose(axes.lines[0].get_ydata(), 0.02)
    assert axes.get_ylim()[0] == 0.0


def test_patterns_of_the_middle_of_the_band():
    angle = np.radians([0.0, 45.0, 90.0])
    e_plane = np.array([[1.0] * 3, [100.0, 10.0, 0.0], [1.0] * 3])
    radiation = SimpleNamespace(
        at=FREQUENCY,
        angle=angle,
        e_plane=e_plane,
        h_plane=e_plane / 2,
        largest=np.array([50.0, 100.0, 80.0]),
        pattern_error=np.full((3, 3), 0.5),
    )
    figure = pattern_figure(radiation)
    x, y = curve(figure, "E-plane")
    np.testing.assert_allclose(x, [0, 45, 90])
    np.testing.assert_allclose(y[:2], [20.0, 10.0])
    np.testing.assert_allclose(curve(figure, "H-plane")[1][0], 16.9897, atol=1e-4)
    # what is nothing stands below the paper
    assert y[2] < figure.axes[0].get_ylim()[0]


def drawn():
    figure, axes = curve_figure("a title", "x")
    axes.plot([0, 1], [0, 1], clip_on=True)
    return figure


def test_an_inline_figure_fetches_nothing_and_shares_no_names():
    svg = as_svg(drawn())
    assert svg.startswith("<svg") and "http" not in svg and "<metadata>" not in svg
    # every name that is spoken of is there, once
    used = set(re.findall(r'(?:href="#|url\(#)([^")]+)', svg))
    there = re.findall(r'\sid="([^"]+)"', svg)
    assert used and used <= set(there) and len(there) == len(set(there))
    other, axes = curve_figure("another title", "x")
    axes.plot([0, 1], [1, 0])
    assert not set(there) & set(re.findall(r'\sid="([^"]+)"', as_svg(other)))
    # the same figure is the same text, whenever it is drawn
    assert as_svg(drawn()) == svg


def test_a_figure_of_its_own_is_a_whole_file():
    root = ElementTree.fromstring(as_svg_file(as_svg(drawn())))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert as_png_address(drawn()).startswith("data:image/png;base64,iVBORw0KGgo")
