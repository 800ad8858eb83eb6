"""Colours stay apart for readers who confuse red and green, and in grey."""

import itertools

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from solver.figures.style import (
    BOUND,
    COMPUTED,
    ESTIMATES,
    SECOND,
    curve_figure,
    name_lines,
    signed_map,
    strength_map,
)

#: How linear colours look without one kind of cone: G. M. Machado, M. M. Oliveira and
#: L. A. F. Fernandes, IEEE Trans. Visualization and Computer Graphics 15, 1291 (2009), table 1,
#: severity 1.0; from memory.
WITHOUT = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
               [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
               [-0.011820, 0.042940, 0.968881]],
}  # fmt: skip
#: From linear sRGB to CIE XYZ, IEC 61966-2-1; white point D65.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def linear(colour):
    c = np.array(to_rgb(colour))
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    ratio = TO_XYZ @ np.clip(rgb, 0, 1) / (TO_XYZ @ np.ones(3))
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("kind", WITHOUT)
def test_curves_marks_and_limits_stay_apart(kind):
    seen = [lab(np.array(WITHOUT[kind]) @ linear(c)) for c in (COMPUTED, SECOND, BOUND)]
    for one, other in itertools.combinations(seen, 2):
        # twenty times what an eye just tells apart, 1 in CIE76
        assert np.linalg.norm(one - other) > 20


@pytest.mark.parametrize("estimate", ESTIMATES)
def test_closed_forms_are_lighter_than_what_was_computed(estimate):
    assert lab(linear(estimate))[0] > lab(linear(COMPUTED))[0] + 8


def test_the_maps_are_read_by_lightness_alone():
    share = np.linspace(0, 1, 64)
    lightness = np.array([lab(linear(strength_map()(s)))[0] for s in share])
    assert (np.diff(lightness) < 0).all()
    assert lightness[0] - lightness[-1] > 70
    signed = np.array([lab(linear(signed_map()(s)))[0] for s in share])
    assert signed.argmax() in (31, 32)


def test_names_take_no_width_from_the_plot():
    figure, axes = curve_figure("t", "x")
    width = axes.get_position().width
    for number in range(5):
        axes.plot([0, 1], [0, number], label=f"a closed form with a name as long as this {number}")
    legend = name_lines(figure, axes)
    figure.canvas.draw()
    assert axes.get_position().width == width
    box = legend.get_window_extent()
    assert box.y0 >= 0 and box.x1 <= figure.bbox.x1
    assert box.y1 < axes.get_tightbbox().y0 + 1
