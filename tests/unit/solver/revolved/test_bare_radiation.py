"""The far field by a surface about the source, its tail in complex coordinates: of dipoles."""

from types import SimpleNamespace

import numpy as np
import pytest

from geometries.plane_meshes.bare_horn_mesh import mesh_bare_horn
from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn
from solver.revolved.bare_conical_horn import with_layer
from solver.revolved.bare_radiation import _missing, far_field, pattern_degrees
from solver.revolved.surface_readings import Part, samples_about

WAVE = 30e-3
K = 2 * np.pi / WAVE
HORN = ConicalHorn(CircularGuide(24e-3), 24e-3, 0.0, "TE11", rim="bare")
AHEAD = np.radians(np.arange(0.0, 91.0, 5.0))


@pytest.fixture(scope="module")
def samples():
    return samples_about(with_layer(mesh_bare_horn(HORN, (WAVE, WAVE), 0), 5))


def scalar(samples):
    """exp(-j k R)/(4 pi R) and its derivative over R, and the same of that; complex R."""
    distance = np.sqrt(samples.z**2 + samples.r**2)
    g = np.exp(-1j * K * distance) / (4 * np.pi * distance)
    slope = -(1j * K + 1 / distance) * g
    h = slope / distance
    of_h = (1j * K / distance**2 + 2 / distance**3) * g - (1j * K / distance + 1 / distance**2) * (
        slope
    )
    return distance, g, h, of_h


def along_y(samples):
    """E and eta0 H of a unit dipole along y: H = grad g x y, E = -jk (g y + grad dg/dy / k^2)."""
    z, r = samples.z, samples.r
    distance, g, h, of_h = scalar(samples)
    electric = [
        -1j / K * r * of_h * z / distance,
        -1j * K * (g + (h + r**2 * of_h / distance) / K**2),
        -1j * K * (g + h / K**2),
    ]
    return np.array(electric), np.array([r * h, -z * h, z * h])


def along_z(samples):
    """The same along the axis."""
    z, r = samples.z, samples.r
    distance, g, h, of_h = scalar(samples)
    electric = [
        -1j * K * (g + (h + z**2 * of_h / distance) / K**2),
        -1j / K * r * z * of_h / distance,
    ]
    none = np.zeros_like(g)
    return np.array([*electric, none]), np.array([none, none, -r * h])


def test_a_dipole_across_the_axis(samples):
    problem = SimpleNamespace(order=1, horn=HORN)
    found = far_field(samples, *along_y(samples), problem, K, AHEAD)
    exact = -1j * K / (4 * np.pi) * np.array([np.cos(AHEAD), np.ones_like(AHEAD)])
    # the layer is as thick as it is: at 90 degrees exp(-2 pi 1.1 1.7) of the tail is left
    assert np.abs(found - exact).max() < 2e-5 * K


def test_a_dipole_along_the_axis(samples):
    problem = SimpleNamespace(order=0, horn=HORN)
    found = far_field(samples, *along_z(samples), problem, K, AHEAD)
    exact = 1j * K / (4 * np.pi) * np.sin(AHEAD)
    assert np.abs(found - exact).max() < 2e-5 * K


def test_the_surface_is_closed_by_its_ends(samples):
    assert set(samples.part) == set(Part)
    tube = samples.part < Part.DISC
    assert (samples.r[tube] == samples.r[tube][0]).all()
    # the disc's area and the ring's, by the weights of the rule
    for part, inner in ((Part.DISC, 0.0), (Part.RING, HORN.guide.radius)):
        here = samples.part == part
        area = 2 * np.pi * (samples.step * samples.r)[here].sum()
        exact = np.pi * (samples.r[tube][0] ** 2 - inner**2)
        assert area == pytest.approx(exact, rel=1e-12)


def test_tm01_has_no_pattern_on_the_guide():
    assert (pattern_degrees(1)[-1], pattern_degrees(0)[-1]) == (180.0, 175.0)


def test_a_pattern_that_lacks_power_widens_its_bar():
    angle = np.radians(np.arange(0.0, 181.0))
    # a dipole across the axis: 3/2 cos^2 and 3/2, of which a hundredth of the power is lost
    fields = np.sqrt(1.5 * 0.99) * np.array([[np.cos(angle), np.ones_like(angle)]])
    assert _missing(fields, angle) == pytest.approx([2 * 0.01], rel=1e-4)
    assert _missing(fields / np.sqrt(0.99), angle)[0] < 1e-6
