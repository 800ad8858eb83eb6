"""Peak field of parts: the straight guide, a bend by two solvers, edges, and the field limit."""

import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.straights import Straight
from geometries.space_meshes.swept_blocks import swept_mesh
from geometries.user_files.user_meshes import MeshPart
from solver.fem.field_samples import largest_of_ellipse
from solver.output.result_json import described_peak
from solver.output.wording import peak_text
from solver.parts.peak_field import (
    field_depends_on_edges,
    matched_breakdown_power,
    peak_field,
)
from solver.parts.peak_readings import ratios_in_plane, ratios_in_space
from solver.parts.plane_solver import solve_in_plane
from solver.parts.space_parts import symmetry_of
from solver.parts.space_solver import SpaceProblem, solve_in_space
from solver.waves.guide_power import breakdown_power_te10
from solver.waves.resonances import Resonance

GUIDE = standard_guide("WR-90")
BAND = np.array([8.2e9, 10.3e9, 12.4e9])


def in_space(part):
    def make_mesh(refinement):
        return swept_mesh(part, wavelength=0.0242, refinement=refinement, feeds=(0.0125, 0.0125))

    problem = SpaceProblem(make_mesh, BAND, 0.1, {0: (5,)}, {0: 0.4}, symmetry_of(part))
    return ratios_in_space(solve_in_space(problem, BAND, 0.1), BAND)


def test_the_straight_guide_has_its_own_peak():
    part = Straight(GUIDE, 0.02)
    np.testing.assert_allclose(
        ratios_in_plane(solve_in_plane(part, BAND, 1e-4), BAND), 1, rtol=0.01
    )
    np.testing.assert_allclose(in_space(part), 1, rtol=0.01)


@pytest.mark.parametrize("plane", ["E", "H"])
def test_a_bend_by_two_solvers(plane):
    part = Bend(GUIDE, plane, math.pi / 2, 0.02)
    flat = ratios_in_plane(solve_in_plane(part, BAND, 1e-4), BAND)
    np.testing.assert_allclose(in_space(part), flat, rtol=0.01)


def test_an_e_plane_bend_at_low_frequency_is_a_bent_plate_line():
    # field of a bent parallel-plate line: V / (r ln(r2/r1)), at the inner wall
    guide = standard_guide("WR-90")
    part = Bend(guide, "E", math.pi / 2, 0.02)
    low = np.array([6.62e9])  # just above the cutoff of TE10: static in the plane
    r1, r2 = 0.02 - guide.narrow_height / 2, 0.02 + guide.narrow_height / 2
    expected = guide.narrow_height / (r1 * math.log(r2 / r1))
    assert ratios_in_plane(solve_in_plane(part, low, 1e-4), low)[0] == pytest.approx(
        expected, rel=0.01
    )


def test_the_field_limit_of_te10_and_of_a_circle():
    power = matched_breakdown_power(GUIDE, BAND, 3e6)
    np.testing.assert_allclose(power, breakdown_power_te10(GUIDE, BAND), rtol=1e-12)
    # TE11: the peak is on the axis; normalisation of J1 over the disc, derived here
    from scipy.special import j1, jnp_zeros

    pipe, x = CircularGuide(27e-3), jnp_zeros(1, 1)[0]
    k = 2 * np.pi * 9e9 / 299792458.0
    along = math.sqrt(1 - (x / pipe.radius / k) ** 2)
    area = 2 * math.pi * pipe.radius**2 * (x**2 - 1) * j1(x) ** 2 / x**2
    expected = 9e12 * area * along / (2 * 376.730313668)
    assert matched_breakdown_power(pipe, np.array([9e9]), 3e6)[0] == pytest.approx(
        expected, rel=1e-6
    )


def test_a_circular_field_is_as_large_as_each_of_its_components():
    assert largest_of_ellipse(np.array([1.0, 1j])) == pytest.approx(1.0)
    assert largest_of_ellipse(np.array([3.0, 4.0]) * np.exp(0.7j)) == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("part", "sharp"),
    [
        (Bend(GUIDE, "E", 1.0, 0.03), False),
        (Corner(GUIDE, "E", 1.0), True),
        (Corner(GUIDE, "H", 1.0), False),
        (Offset(GUIDE, shift_x=1e-3), False),
        (Offset(GUIDE, shift_y=1e-3), True),
        (Offset(GUIDE, turn=0.1), True),
        (MeshPart(GUIDE, Path("part.msh"), "mm"), True),
    ],
)
def test_which_parts_have_edges_that_matter(part, sharp):
    assert field_depends_on_edges(part) is sharp


def test_a_field_twice_as_high_allows_a_quarter_of_the_power():
    part = Corner(GUIDE, "E", 1.0)
    scattering = SimpleNamespace(frequency=BAND, s11=np.array([0.1, 0.3, 0.2]))
    peak = peak_field(part, lambda f: np.array([1.0, 2.0, 1.0]), scattering)
    assert (peak.ratio, peak.frequency) == (2.0, 10.3e9)
    assert peak.field_limit == pytest.approx(float(breakdown_power_te10(GUIDE, 10.3e9)) / 4)
    assert peak.field_limit_frequency == 10.3e9
    assert peak.depends_on_edge_radius
    assert "0.2 mm" in peak.note
    assert "depends on their radius" in peak_text(peak)
    described = described_peak(peak)
    assert described["field_limit_w"] == peak.field_limit
    assert described["field_limit_at_hz"] == 10.3e9
    # half the field of breakdown: a quarter of the power
    assert described["catalogue_share_w"] == pytest.approx(peak.field_limit / 4)
    assert not any("rating" in key for key in described)
    text = peak_text(peak)
    # by hand: (3e6 V/m)^2 a b/(4 eta0) sqrt(1 - (6.557/10.3)^2) = 1.0697 MW, over 4 and over 16
    assert "field limit, 30 kV/cm as in dry air at sea level: 267 kW at 10.3 GHz" in text
    assert "the quarter that catalogues use: 66.9 kW" in text
    assert described["breakdown_field_v_per_m"] == 3e6


def test_a_resonance_between_the_readings_is_found():
    """A peak of 5 over a width of 1/2000 of the band: even readings see nothing of it."""
    at, half = 10.0123e9, 1e6

    def ratios(frequency):
        return 1.0 + 4.0 / (1.0 + ((frequency - at) / half) ** 2)

    frequency = np.linspace(8.2e9, 12.4e9, 43)
    scattering = SimpleNamespace(frequency=frequency, s11=np.full(43, 0.1))
    part = Bend(GUIDE, "E", 1.0, 0.03)
    missed = peak_field(part, ratios, scattering)
    assert missed.ratio < 1.01
    # the resonance that is told lies a third of its width beside the peak
    told = Resonance(at + half / 3, 0.0, at / (2 * half), "")
    found = peak_field(part, ratios, scattering, (told,))
    assert found.ratio == pytest.approx(5.0, rel=1e-3)
    assert found.frequency == pytest.approx(at, abs=0.05 * half)
    # and the power is read there too
    matched = float(breakdown_power_te10(GUIDE, found.frequency))
    assert found.field_limit == pytest.approx(matched / found.ratio**2)
    undriven = Resonance(at, 0.0, at / (2 * half), "", driven=False)
    assert peak_field(part, ratios, scattering, (undriven,)).ratio == missed.ratio


def test_a_smooth_top_between_the_readings_is_followed():
    top = 10.01e9

    def ratios(frequency):
        return 3.0 - ((frequency - top) / 2e9) ** 2

    frequency = np.linspace(8.2e9, 12.4e9, 43)
    scattering = SimpleNamespace(frequency=frequency, s11=np.full(43, 0.1))
    found = peak_field(Bend(GUIDE, "E", 1.0, 0.03), ratios, scattering)
    assert found.ratio == pytest.approx(3.0, rel=1e-3)
    assert found.ratio > ratios(np.linspace(8.2e9, 12.4e9, 7)).max()
