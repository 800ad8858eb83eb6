"""Noise, planes, order of ports and causes, on scattering that is made up."""

from pathlib import Path

import numpy as np
import pytest

from solver.errors import StudyError
from solver.measured.comparison import compare
from solver.measured.noise import noise_of
from solver.measured.touchstone_file import Measurement
from solver.waves.scattering import PortMode, ScatteringMatrix

CUTOFF = 6.557e9
C = 299792458.0


def _part(points=201, ports=2, error=1e-5):
    """A part that reflects otherwise from either side, as a lossless two-port must."""
    frequency = np.linspace(8.2e9, 12.4e9, points)
    beta = 2 * np.pi / C * np.sqrt(frequency**2 - CUTOFF**2)
    size = 0.05 + 0.1 * (frequency - 8.2e9) / 4.2e9
    through = np.sqrt(1 - size**2) * np.exp(-1j * beta * 0.08)
    s11 = size * np.exp(-2j * beta * 0.01)
    s22 = -through * s11.conj() / through.conj()
    s = np.stack([np.stack([s11, through], -1), np.stack([through, s22], -1)], -2)[
        :, :ports, :ports
    ]
    none = np.zeros(points)
    modes = tuple(PortMode(p + 1, "TE10", CUTOFF) for p in range(ports))
    computed = ScatteringMatrix(frequency, modes, s, np.full(points, error), none, none)
    return computed, beta


def _noisy(s, sigma, seed=20615):
    rng = np.random.default_rng(seed)
    return s + sigma * (rng.normal(size=s.shape) + 1j * rng.normal(size=s.shape))


def _compare(computed, s, **options):
    measured = Measurement(Path("part.s2p"), computed.frequency, s)
    return compare(computed, measured, axis_length=0.08, **options)


@pytest.mark.parametrize("points", [51, 201, 1601])
@pytest.mark.parametrize("beside", ["ripple", "bad points"])
def test_noise_is_told_beside_drift_and_ripple_or_bad_points(points, beside):
    rng = np.random.default_rng(points)
    place = np.linspace(0, 1, points)
    trace = 0.3 * np.exp(2j * place)
    if beside == "ripple":
        trace += 0.02 * np.exp(80j * place)
    else:
        trace[[points // 3, points // 2]] += 0.05
    sigma = 1e-3
    found = [
        noise_of(trace + sigma * (rng.normal(size=points) + 1j * rng.normal(size=points)))
        for _ in range(40)
    ]
    # a median of so many readings scatters by about 1.2 over their root
    assert np.mean(found) == pytest.approx(sigma, rel=0.5 if points == 51 else 0.12)
    assert np.isnan(noise_of(np.zeros(11)))


def test_shifted_planes_are_found_within_their_bound():
    computed, beta = _part()
    shift = np.array([2.3e-3, -1.1e-3])
    turn = np.exp(-1j * beta[:, None] * shift)
    s = _noisy(turn[:, :, None] * computed.s * turn[:, None, :], 1e-4)
    found = _compare(computed, s)
    assert found.consistent == "yes"
    assert (np.abs(found.fit.shift - shift) < found.shift_bound).all()
    assert (found.shift_bound < 1e-4).all()
    assert abs(found.fit.total - shift.sum()) < found.total_bound < 2e-6
    given = _compare(computed, s, planes="given")
    assert given.consistent == "no"
    assert given.causes[0].name == "length"
    assert given.causes[0].value == pytest.approx(1.2e-3, abs=2e-6)


def test_a_shift_of_many_wavelengths_is_found():
    computed, beta = _part()
    turn = np.exp(-1j * beta * 0.15)[:, None, None]
    found = _compare(computed, turn * _noisy(computed.s, 1e-4))
    assert found.fit.total == pytest.approx(0.15, abs=1e-5)


def test_swapped_ports_and_reversed_sign_are_found():
    computed, _ = _part()
    found = _compare(computed, _noisy(computed.s[:, ::-1, ::-1], 1e-4))
    assert found.swapped and found.consistent == "yes"
    signs = np.array([[1, -1], [-1, 1]])
    found = _compare(computed, _noisy(computed.s * signs, 1e-4))
    assert not found.swapped and found.consistent == "yes"
    assert any("sign of S21" in reason for reason in found.reasons)


def test_a_dent_is_found_by_its_echo_with_the_guides_dispersion():
    computed, beta = _part(401)
    s = computed.s.copy()
    s[:, 0, 0] += 0.01 * np.exp(-2j * beta * 0.237)
    # the place counts from the plane of the study, wherever that of the file lies
    turn = np.exp(-1j * beta[:, None] * np.array([4e-3, 1e-3]))
    found = _compare(computed, _noisy(turn[:, :, None] * s * turn[:, None, :], 3e-4))
    assert found.consistent == "no"
    echo = next(cause for cause in found.causes if cause.name == "reflection")
    assert abs(echo.place - 0.237) < echo.place_uncertainty < 1e-3
    assert abs(echo.value - 0.01) < echo.uncertainty < 2e-3
    assert echo.port == 1


def test_loss_is_told_as_loss():
    computed, _ = _part()
    s = computed.s.copy()
    s[:, 0, 1] *= 10 ** (-0.05 / 20)
    s[:, 1, 0] *= 10 ** (-0.05 / 20)
    found = _compare(computed, _noisy(s, 1e-4))
    assert found.consistent == "no"
    assert found.causes[0].name == "loss"
    assert found.causes[0].value == pytest.approx(0.05, abs=found.causes[0].uncertainty)


def test_given_uncertainty_and_bar_are_summed():
    computed, _ = _part(error=1e-3)
    s = computed.s.copy()
    s[50, 0, 0] += 2.9e-3
    assert _compare(computed, s, uncertainty=2e-3, planes="given").consistent == "yes"
    s[50, 0, 0] += 0.2e-3
    assert _compare(computed, s, uncertainty=2e-3, planes="given").consistent == "no"


def test_what_cannot_be_told():
    computed, _ = _part(points=8)
    assert _compare(computed, computed.s).consistent == "cannot tell"
    assert _compare(computed, computed.s, uncertainty=0.01).consistent == "yes"
    assert _compare(computed, computed.s, uncertainty=1.0).consistent == "cannot tell"


def test_one_port_of_two_with_a_matched_or_shorted_end():
    computed, _ = _part()
    alone = computed.s[:, :1, :1]
    assert _compare(computed, _noisy(alone, 1e-4)).consistent == "yes"
    s = computed.s
    shorted = s[:, 0, 0] - s[:, 0, 1] * s[:, 1, 0] / (1 + s[:, 1, 1])
    found = _compare(computed, _noisy(shorted[:, None, None], 1e-4), end="short")
    assert found.consistent == "yes"
    assert _compare(computed, _noisy(shorted[:, None, None], 1e-4)).consistent == "no"


def test_modes_below_cutoff_in_a_part_of_the_band_are_left_out():
    computed, _ = _part()
    n = len(computed.frequency)
    s = np.zeros((n, 4, 4), complex)
    s[np.ix_(range(n), (0, 2), (0, 2))] = computed.s
    names = [(1, "TE10", CUTOFF), (1, "TE20", 10e9), (2, "TE10", CUTOFF), (2, "TE20", 10e9)]
    modes = tuple(PortMode(*name) for name in names)
    none = np.zeros(n)
    whole = ScatteringMatrix(computed.frequency, modes, s, computed.error, none, none)
    found = _compare(whole, _noisy(s, 1e-4))
    assert found.consistent == "yes" and found.labels == ("1:TE10", "2:TE10")
    assert "left out" in found.reasons[0]


def test_file_with_too_many_ports_is_refused():
    computed, _ = _part()
    with pytest.raises(StudyError, match="3 ports; the part has 2"):
        _compare(computed, np.zeros((201, 3, 3), complex))
