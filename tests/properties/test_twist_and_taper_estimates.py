"""Computed twists and tapers keep to their closed forms within the claims of those."""

import math

import numpy as np
import pytest

from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.closed_forms.source import validity_of
from solver.closed_forms.tapers import taper_reflection
from solver.closed_forms.twisted_guides import phase_constant_twisted
from solver.closed_forms.twists import twist_reflection
from solver.judgement.assess_part import assess
from solver.studies.band import Band
from solver.waves.guide_modes import phase_constant

WR90 = standard_guide("WR-90")
LARGER = RectangularGuide(28.499e-3, 12.624e-3)
BAND = Band.at([8.2e9, 9.6e9, 11e9, 12.4e9])

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    "twist",
    [
        Twist(WR90, math.pi / 2, 60e-3),
        Twist(WR90, math.radians(60), 40e-3),
        Twist(WR90, math.radians(60), 80e-3, "raised-cosine"),
    ],
)
def test_reflection_of_a_twist(twist):
    assert validity_of(twist_reflection).holds(twist, BAND.frequencies)
    scattering = assess(twist, BAND).scattering
    difference = np.abs(scattering.s11 - twist_reflection(twist, BAND.frequencies))
    assert np.all(difference < 6e-4 + scattering.error)
    assert np.max(np.abs(scattering.s11)) > 3e-4


def test_phase_of_a_twist_is_that_of_the_twisted_guide():
    """The shift is up to 0.08 rad here."""
    twist = Twist(WR90, math.pi / 2, 60e-3)
    through = assess(twist, BAND).scattering.s[:, 1, 0]
    rate = twist.angle / twist.length
    beta = phase_constant_twisted(WR90, rate, BAND.frequencies)
    assert np.max(np.abs(np.angle(through * np.exp(1j * beta * twist.length)))) < 0.012
    straight = phase_constant(WR90, BAND.frequencies)
    assert np.max(np.abs(np.angle(through * np.exp(1j * straight * twist.length)))) > 0.06


@pytest.mark.parametrize("profile", ["linear", "hecken"])
def test_reflection_of_a_taper_of_width_and_height(profile):
    taper = Taper(WR90, LARGER, 40e-3, profile)
    assert validity_of(taper_reflection).holds(taper, BAND.frequencies)
    scattering = assess(taper, BAND).scattering
    difference = np.abs(scattering.s11 - taper_reflection(taper, BAND.frequencies))
    assert np.all(difference < 5e-3 + scattering.error)
    assert np.max(np.abs(scattering.s11)) > 8e-3
