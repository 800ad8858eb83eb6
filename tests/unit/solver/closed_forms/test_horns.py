"""Closed forms of horns, against integrals taken otherwise and values known beforehand."""

import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import ConicalHorn, RectangularHorn, phase_errors
from solver.closed_forms.horns import (
    conical_directivity,
    open_end_reflection,
    pyramidal_directivity,
)
from tests.references.flanged_circle import reflection_tm01

C = 299_792_458.0
GUIDE = RectangularGuide(22.86e-3, 10.16e-3)


@pytest.mark.parametrize(
    ("width", "height", "length"), [(90e-3, 70e-3, 90e-3), (60e-3, 40e-3, 200e-3)]
)
def test_directivity_is_that_of_the_aperture_field(width, height, length):
    horn, f = RectangularHorn(GUIDE, width, height, length), 10e9
    k, errors = 2 * np.pi * f / C, phase_errors(horn)
    x, w = np.polynomial.legendre.leggauss(200)
    h = np.cos(np.pi / 2 * x) * np.exp(-1j * k * errors["H"] * x**2)
    e = np.exp(-1j * k * errors["E"] * x**2)
    # |INT E|^2 over INT |E|^2, times 4 pi/lambda^2, over sides of 2
    total = abs(h @ w) ** 2 * abs(e @ w) ** 2 / ((np.abs(h) ** 2 @ w) * (np.abs(e) ** 2 @ w))
    exact = 4 * np.pi / (C / f) ** 2 * total * width * height / 4
    assert pyramidal_directivity(horn, f) == pytest.approx(exact, rel=1e-9)


def test_apertures_of_optimum_horns_have_half_of_the_greatest_gain():
    # 0.80 and 0.79 for 1/4 and 3/8 of a wavelength, from memory: aperture efficiency 0.51
    f = C / 30e-3
    height = 120e-3
    length = height * (height - GUIDE.narrow_height) / (8 * 0.25 * 30e-3)
    # (width - a) width = 8 (3/8) length wavelength
    width = 0.5 * (22.86e-3 + np.sqrt(22.86e-3**2 + 12 * length * 30e-3))
    horn = RectangularHorn(GUIDE, float(width), height, float(length))
    whole = 4 * np.pi * width * height / 30e-3**2
    assert pyramidal_directivity(horn, f) / whole == pytest.approx(0.51, abs=0.01)


def test_open_horns_lose_nothing_to_phase():
    straight = RectangularHorn(GUIDE, 22.86e-3, 10.16e-3, 0.0)
    whole = 4 * np.pi * 22.86e-3 * 10.16e-3 / (C / 10e9) ** 2
    assert pyramidal_directivity(straight, 10e9) == pytest.approx(8 / np.pi**2 * whole, rel=1e-9)
    cone = ConicalHorn(CircularGuide(24e-3), 24e-3, 0.0)
    # a TE11 aperture of even phase: 0.837 of (pi d/lambda)^2, 0.77 dB, from memory
    share = conical_directivity(cone, 10e9) / (np.pi * 24e-3 * 10e9 / C) ** 2
    assert 10 * np.log10(share) == pytest.approx(-0.77, abs=0.05)


def test_open_end_is_that_of_one_mode():
    cone = ConicalHorn(CircularGuide(30e-3), 30e-3, 0.0, "TM01")
    for f in (8.2e9, 12e9):
        # the reference cuts its spectrum off sooner
        found = complex(open_end_reflection(cone, f))
        assert found == pytest.approx(reflection_tm01(15e-3, 2 * np.pi * f / C, 1), abs=2e-2)


def test_guide_that_carries_many_waves_ends_without_reflection():
    wide = ConicalHorn(CircularGuide(400e-3), 400e-3, 0.0, "TE11")
    assert abs(open_end_reflection(wide, 10e9)) < 0.01
    large = RectangularHorn(RectangularGuide(400e-3, 400e-3), 400e-3, 400e-3, 0.0)
    assert abs(open_end_reflection(large, 10e9)) < 0.02
