"""Closed forms of choke joints keep the accuracy that they claim, against field solutions.

TM01 and TE10: the project's own finite elements with their bar. TE11: those of another library.
"""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_lines import plane_line_reflection
from solver.closed_forms.chokes import (
    choke_leakage,
    flange_reflection,
    joint_reflection,
    leakage_in_range,
)
from solver.closed_forms.source import validity_of
from solver.parts.half_plane_solver import solve_in_half_plane
from solver.parts.quarter_solver import solve_in_quarter
from solver.studies.study import read_study
from tests.references.joint_harmonic import HarmonicJoint

pytestmark = pytest.mark.slow

STUDIES = Path(__file__).parents[2] / "geometries" / "studies"
MM, LIGHT = 1e-3, 299792458.0
#: Guide radius, gap, rim, groove [mm].
TM01 = [
    (13.0, 0.5, 40.0, (20.0, 22.0, 7.5)),
    (13.0, 0.2, 40.0, (20.0, 22.0, 7.5)),
    (13.5, 1.2, 30.0, (20.0, 22.8, 7.0)),
    (14.0, 0.3, 27.0, (21.0, 24.0, 7.8)),
]
TE11 = [
    (11.0, 0.5, 40.0, (18.0, 20.0, 8.5)),
    (11.0, 1.0, 30.0, (17.5, 20.0, 8.0)),
    (12.5, 0.2, 26.0, (19.0, 20.5, 8.5)),
]


def hold_to_claim(joint, frequency, per_gap, reflected, leak):
    """4 % of |S11| and `per_gap` times the gap in wavelengths; leakage within 0.6 dB."""
    assert validity_of(joint_reflection).holds(joint, frequency)
    error = np.abs(np.abs(joint_reflection(joint, frequency)) - reflected)
    assert np.all(error < 0.04 * reflected + per_gap * joint.gap * frequency / LIGHT)
    decibels = 10 * np.log10(choke_leakage(joint, frequency) / leak)
    assert np.all(np.abs(decibels[leak > 10**-4.8]) < 0.6)


@pytest.mark.parametrize(("radius", "gap", "rim", "groove"), TM01)
def test_tm01_joints(radius, gap, rim, groove):
    frequency = np.array([9.4e9, 10e9, 10.7e9])
    joint = RotatingJoint(
        CircularGuide(2 * radius * MM), gap * MM, rim * MM, *(x * MM for x in groove)
    )
    exact = solve_in_half_plane(joint, frequency, 1e-5)
    assert exact.error.max() <= 1e-5
    reflected = np.abs(exact.s[:, 0, 0])
    hold_to_claim(joint, frequency, 0.05, reflected, exact.leaked_power)
    # The plane lines claim no more than an order of magnitude; near a zero of S11 not even that.
    ratio = np.abs(plane_line_reflection(joint, frequency)) / reflected
    assert np.all((ratio > 0.1) & (ratio < 10) | (reflected < 2e-3))


@pytest.mark.parametrize(("radius", "gap", "rim", "groove"), TE11)
def test_te11_joints(radius, gap, rim, groove):
    frequency = np.array([9.4e9, 10.6e9])
    lengths = [x * MM for x in groove]
    joint = RotatingJoint(CircularGuide(2 * radius * MM), gap * MM, rim * MM, *lengths, mode="TE11")
    other = HarmonicJoint(radius * MM, gap * MM, rim * MM, [(*lengths, 2)], degree=3)
    exact = np.array([other.scattering(f) for f in frequency])
    hold_to_claim(joint, frequency, 0.01, np.abs(exact[:, 0]), exact[:, 2].real)


def test_joint_without_groove_and_joint_with_two():
    bare = RotatingJoint(CircularGuide(26 * MM), 0.5 * MM, 30 * MM)
    frequency = np.array([9.4e9, 10.7e9])
    exact = solve_in_half_plane(bare, frequency, 1e-5)
    assert_allclose(np.abs(joint_reflection(bare, frequency)), np.abs(exact.s[:, 0, 0]), rtol=2e-3)
    assert_allclose(choke_leakage(bare, frequency), exact.leaked_power, rtol=2e-3)
    grooves = [(18 * MM, 20 * MM, 8.5 * MM, 2), (26 * MM, 28 * MM, 8 * MM, 1)]
    two = RotatingJoint(
        CircularGuide(22 * MM),
        0.5 * MM,
        35 * MM,
        *grooves[0][:3],
        *grooves[1][:3],
        mode="TE11",
    )
    exact = HarmonicJoint(11 * MM, 0.5 * MM, 35 * MM, grooves, degree=3)
    found, expected = choke_leakage(two, 9.6e9), exact.scattering(9.6e9)
    assert abs(joint_reflection(two, 9.6e9)) == pytest.approx(abs(expected[0]), abs=1e-4)
    assert abs(found - expected[2]) < 2e-8


def test_flange():
    """5 % of |S11|, 0.05 gaps in wavelengths and the bar; leakage within 2 dB."""
    frequency = np.array([8.6e9, 10.2e9, 11e9])
    flange = ChokeFlange(standard_guide("WR-90"), 0.3 * MM, 20 * MM, 13.5 * MM, 15.5 * MM, 8 * MM)
    assert validity_of(flange_reflection).holds(flange, frequency)
    exact = solve_in_quarter(flange, frequency, 3e-4)
    reflected = np.abs(exact.s[:, 0, 0])
    error = np.abs(np.abs(flange_reflection(flange, frequency)) - reflected)
    bar = exact.found.error
    assert np.all(error < 0.05 * reflected + 0.05 * flange.gap * frequency / LIGHT + bar)
    decibels = 10 * np.log10(choke_leakage(flange, frequency) / exact.leaked_power)
    assert leakage_in_range(flange, frequency).all()
    assert np.all(np.abs(decibels) < 2)


def test_leakage_of_the_shipped_flange_wherever_it_is_claimed():
    """Within 2 dB in its range; ten seconds, with fields good to 6e-3 of the incident wave."""
    study = read_study(STUDIES / "pedestal_choke.toml")
    frequency = np.array([8.2, 8.6, 9.0, 9.3, 9.45, 9.6, 9.8, 10.6, 11.4, 12.4]) * 1e9
    exact = solve_in_quarter(study.component, frequency, 1e-2)
    claimed = leakage_in_range(study.component, frequency)
    assert claimed[:7].all() and not claimed[[7, 9]].any()
    decibels = 10 * np.log10(choke_leakage(study.component, frequency) / exact.leaked_power)
    assert np.all(np.abs(decibels[claimed]) < 2)
