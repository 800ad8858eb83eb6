"""Closed forms of curved guides and bends, against derivations and exact modes kept apart."""

import math

import mpmath
import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries.errors import InvalidDimensionError
from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.closed_forms import bends, curved_guides
from solver.closed_forms.estimates import estimates_for
from solver.closed_forms.source import source_of, validity_of
from solver.errors import BelowCutoffError
from solver.waves.guide_modes import cutoff_frequency, phase_constant
from tests.references import curved_guide_modes as exact

SIZES = ["WR-284", "WR-90", "WR-42", "WR-137"]
BAND = np.array([1.2, 1.25, 1.5, 1.75, 1.92])


def setting(size, plane):
    """Guide, width in the plane, and five frequencies over the compared band."""
    guide = standard_guide(size)
    width = guide.narrow_height if plane == "E" else guide.broad_width
    return guide, width, BAND * cutoff_frequency(guide)


def perturbation_matrices(plane, width, wavenumber, modes=200):
    """beta_n, and <m|x|n> and e_m e_n at the walls, by their integrals, for a width of 1.

    Independent of the module under test: the matrices of its derivation, not its series.
    """
    n = np.arange(modes) if plane == "E" else np.arange(1, modes + 1)
    points, weights = np.polynomial.legendre.leggauss(3 * modes)
    x = points / 2
    phase = n[:, None] * np.pi * (x + 0.5)
    e = np.cos(phase) if plane == "E" else np.sin(phase)
    scale = np.where(n == 0, 1.0, np.sqrt(2))[:, None]
    e = e * scale
    position = (e * x * weights / 2) @ e.T
    walls = np.zeros_like(position)
    if plane == "E":
        ends = scale[:, 0] * np.array([np.ones(modes), np.cos(n * np.pi)])
        walls = np.outer(ends[1], ends[1]) - np.outer(ends[0], ends[0])
    beta = np.sqrt((wavenumber * width) ** 2 - (n * np.pi) ** 2 + 0j)
    beta = np.where(beta.imag > 0, -beta, beta)
    return beta, position, walls


def second_order(plane, width, wavenumber):
    """Gamma (R/w)^2 and (beta'/beta0 - 1)(R/w)^2 of the dominant mode, from the matrices."""
    beta, position, walls = perturbation_matrices(plane, width, wavenumber)
    b0, x0, wall0 = beta[0], position[0], walls[0]
    half_sum = 0.5 * (beta**2 + b0**2) * x0 + 0.5 * wall0
    l1_into, l1_back = half_sum + x0 * b0**2, half_sum + x0 * beta**2
    x_squared = 1 / 12 if plane == "E" else 1 / 12 - 1 / (2 * np.pi**2)
    l2 = b0**2 * x_squared - (0 if plane == "E" else 0.5)
    others = slice(1, None)
    shift = l2 + np.sum(l1_back[others] * l1_into[others] / (b0**2 - beta[others] ** 2))
    s1_into, s1_back = l1_into / (beta + b0), l1_back / (beta + b0)
    s2 = (l2 - np.sum(s1_back * s1_into)) / (2 * b0)
    delta1 = (half_sum - x0 * b0 * beta) / (b0 + beta)
    delta2 = s2 - np.sum(x0 * s1_into) + x_squared * b0
    gamma = -(delta2 - 0.5 * np.sum(delta1**2 / beta)) / (2 * b0)
    return (gamma if plane == "H" else -gamma), shift / (2 * b0**2)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("size", SIZES)
def test_series_equal_the_perturbation_matrices(size, plane):
    guide, width, frequencies = setting(size, plane)
    phase = {"E": curved_guides.phase_constant_e_plane, "H": curved_guides.phase_constant_h_plane}
    radius = 1000 * width
    for f in frequencies[::2]:
        wavenumber = exact.transverse_wavenumber(plane, guide.broad_width, f)
        gamma, shift = second_order(plane, width, wavenumber)
        assert_allclose(bends.junction_reflection(plane, guide, radius, f), gamma * 1e-6, rtol=1e-6)
        ratio = phase[plane](guide, radius, f) / phase_constant(guide, f)
        assert_allclose((ratio - 1) * 1e6, shift, rtol=1e-5)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("ratio", [1.5, 4.0])
def test_junction_and_bend_keep_their_claims(size, plane, ratio):
    """5 % of the envelope at R = 1.5 w, complex; the error falls as R^-2 or faster."""
    guide, width, frequencies = setting(size, plane)
    claim = 0.05 * (1.5 / ratio) ** 2
    radius = ratio * width
    for f in frequencies:
        case = (plane, width, guide.broad_width, radius)
        gamma = complex(bends.junction_reflection(plane, guide, radius, f))
        assert abs(exact.junction_reflection(*case, f, 40) / gamma - 1) < claim
        for angle in np.deg2rad([2, 20, 37, 90, 180]):
            bend = Bend(guide, plane, angle, radius)
            assert validity_of(bends.bend_reflection).holds(bend, f)
            s11, _ = exact.bend_scattering(*case, angle, f, 40)
            assert abs(complex(bends.bend_reflection(bend, f)) - s11) < claim * 2 * abs(gamma)
            envelope = float(bends.bend_reflection_envelope(bend, f))
            assert envelope == pytest.approx(2 * abs(gamma))
            if bend.arc_length > width:
                assert abs(s11) < 1.1 * envelope


@pytest.mark.parametrize("plane", ["E", "H"])
def test_reflection_falls_as_the_square_of_the_radius(plane):
    """Rice, Bell Syst. Tech. J. 27, 305 (1948), abstract; exact solution from 2 w to 10 w."""
    _, width, _ = setting("WR-90", plane)
    radii = np.geomspace(2, 10, 6) * width
    size = [abs(exact.junction_reflection(plane, width, 22.86e-3, r, 10e9, 40)) for r in radii]
    assert_allclose(np.polyfit(np.log(radii), np.log(size), 1)[0], -2, atol=0.05)


@pytest.mark.parametrize("plane", ["E", "H"])
def test_long_bend_follows_the_two_junction_sine(plane):
    """|S11| = 2 |Gamma| |sin(beta' s + arg Gamma)| once the arc is much longer than the width."""
    guide, width, _ = setting("WR-90", plane)
    phase = {"E": curved_guides.phase_constant_e_plane, "H": curved_guides.phase_constant_h_plane}
    for angle in np.deg2rad([60, 75, 90]):
        bend = Bend(guide, plane, angle, 8 * width)
        gamma = complex(bends.junction_reflection(plane, guide, bend.mean_radius, 10e9))
        turn = float(phase[plane](guide, bend.mean_radius, 10e9)) * bend.arc_length
        expected = 2 * abs(gamma) * abs(math.sin(turn + np.angle(gamma)))
        assert abs(complex(bends.bend_reflection(bend, 10e9))) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("ratio", [0.5005, 0.55, 1.0, 1.5, 5.0, 100.0])
def test_bessel_root_is_the_dominant_one(plane, ratio):
    """Against the spectral solution, whose modes are ordered, up to eight times the cutoff."""
    guide, width, _ = setting("WR-90", plane)
    for f in cutoff_frequency(guide) * np.array([1.01, 1.25, 1.9, 8.0]):
        wavenumber = exact.transverse_wavenumber(plane, guide.broad_width, f)
        modes = exact.curved_phase_constants(plane, width, ratio * width, wavenumber, 90)
        root = float(curved_guides.phase_constant_bessel(plane, guide, ratio * width, f))
        assert root == pytest.approx(modes[0], rel=2e-9)


@pytest.mark.parametrize(("plane", "derivative"), [("E", 1), ("H", 0)])
def test_bessel_root_in_thirty_digits(plane, derivative):
    """mpmath 1.4 at 30 digits: the cross product changes sign within 1e-11 of the root."""
    guide, width, _ = setting("WR-90", plane)
    radius = 1.2 * width
    k = exact.transverse_wavenumber(plane, guide.broad_width, 10e9)
    order = float(curved_guides.phase_constant_bessel(plane, guide, radius, 10e9)) * radius
    inner, outer = k * (radius - width / 2), k * (radius + width / 2)

    def cross(nu):
        with mpmath.workdps(30):
            return mpmath.besselj(nu, inner, derivative) * mpmath.bessely(
                nu, outer, derivative
            ) - mpmath.besselj(nu, outer, derivative) * mpmath.bessely(nu, inner, derivative)

    assert cross(order * (1 - 1e-11)) * cross(order * (1 + 1e-11)) < 0


@pytest.mark.parametrize(
    ("formula", "plane", "claim"),
    [
        (curved_guides.phase_constant_e_plane, "E", 6e-4),
        (curved_guides.phase_constant_h_plane, "H", 3e-4),
    ],
)
@pytest.mark.parametrize("size", SIZES)
def test_phase_constants_keep_their_claims(size, formula, plane, claim):
    guide, width, frequencies = setting(size, plane)
    for ratio in (1.5, 3.0):
        assert validity_of(formula).holds(guide, ratio * width, frequencies)
        root = curved_guides.phase_constant_bessel(plane, guide, ratio * width, frequencies)
        error = np.abs(formula(guide, ratio * width, frequencies) / root - 1)
        assert np.all(error < claim * (1.5 / ratio) ** 4 * 1.1)


def test_shapes_follow_the_frequencies():
    bend = Bend(standard_guide("WR-90"), "H", 1.0, 50e-3)
    for f in (10e9, np.array([9e9, 10e9]), np.full((2, 3), 9e9)):
        for formula in (bends.bend_reflection, bends.bend_reflection_envelope):
            assert np.shape(formula(bend, f)) == np.shape(f)
    assert np.all(np.isfinite(bends.bend_reflection(bend, 2 * cutoff_frequency(bend.guide))))


def test_refusals():
    guide = standard_guide("WR-90")
    with pytest.raises(BelowCutoffError, match="WR-90"):
        bends.bend_reflection(Bend(guide, "E", 1.0, 0.03), [6e9, 9e9])
    with pytest.raises(InvalidDimensionError, match="mean_radius"):
        curved_guides.phase_constant_bessel("H", guide, 0.01, 9e9)
    with pytest.raises(BelowCutoffError, match="no mode travels"):
        curved_guides.dominant_order("H", 1.0, 2.0)


def test_estimates_of_a_bend_and_of_anything_else():
    guide = standard_guide("WR-90")
    frequency = np.linspace(8.2e9, 12.4e9, 7)
    gentle, envelope = estimates_for(Bend(guide, "H", 1.0, 50e-3), frequency)
    assert gentle.within_validity and envelope.within_validity
    assert gentle.s11_abs.shape == frequency.shape
    assert gentle.source == source_of(bends.bend_reflection) and gentle.source.mark == "derived"
    assert np.all(gentle.s11_abs <= 1.1 * envelope.s11_abs)
    tight = estimates_for(Bend(guide, "H", 1.0, 30e-3), frequency)
    assert not any(estimate.within_validity for estimate in tight)
    overmoded = estimates_for(Bend(guide, "E", 1.0, 50e-3), [20e9, 30e9])
    assert not any(estimate.within_validity for estimate in overmoded)
    assert estimates_for(object(), frequency) == ()
