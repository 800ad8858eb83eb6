"""Causes of a difference, each put into made-up scattering with a steady error against it."""

import numpy as np
import pytest

from solver.measured.causes import likely_causes
from solver.measured.planes import PlaneFit

C, CUTOFF, N = 299792458.0, 6.557e9, 101
FREQUENCY = np.linspace(8.2e9, 12.4e9, N)
BETA = 2 * np.pi / C * np.sqrt(FREQUENCY**2 - CUTOFF**2)
THROUGH = 0.99 * np.exp(-1j * BETA * 0.08)
COMPUTED = np.stack(
    [np.stack([0 * THROUGH, THROUGH], -1), np.stack([THROUGH, 0 * THROUGH], -1)], -2
)
IN_PLACE = PlaneFit(np.zeros(2), np.zeros(2), 0.0, 0.0, 0.0)


def causes(measured, computed=COMPUTED, steady=0.0, noise=1e-6, end="matched", fit=IN_PLACE):
    m = measured.shape[1]
    return likely_causes(
        measured,
        computed,
        COMPUTED[:, :m, :m],
        np.repeat(BETA[:, None], m, axis=1),
        np.full(measured.shape, steady + noise),
        fit,
        shift_bound=np.zeros(m),
        total_bound=1e-5,
        steady=np.full(N, steady),
        axis_length=0.08,
        detour=0.0,
        end=end,
    )


def test_nothing_is_told_of_equal_values():
    assert causes(COMPUTED.copy()) == ()


@pytest.mark.parametrize(("sign", "word"), [(1, "longer"), (-1, "shorter")])
def test_a_length(sign, word):
    turn = np.exp(-1j * BETA * sign * 2e-3)[:, None, None]
    fit = PlaneFit(np.array([sign * 2e-3, 0.0]), np.zeros(2), sign * 2e-3, 0.0, 0.0)
    (found,) = causes(COMPUTED * turn, computed=COMPUTED * turn, fit=fit)
    assert (found.name, found.value, found.uncertainty) == ("length", sign * 2e-3, 1e-5)
    assert found.share == pytest.approx(1.0)
    assert f"2 mm {word} than the study's" in found.text


@pytest.mark.parametrize(("decibels", "word"), [(0.2, "more"), (-0.05, "less")])
def test_loss_of_a_two_port(decibels, word):
    (found,) = causes(COMPUTED * 10 ** (-decibels / 20))
    assert found.name == "loss"
    assert found.value == pytest.approx(decibels, rel=1e-9)
    assert found.text.startswith(f"{abs(decibels):.3g} dB {word} loss")


def test_loss_before_a_short_is_passed_twice():
    short = -np.exp(-2j * BETA * 0.08)[:, None, None]
    found = causes(short * 10 ** (-2 * 0.1 / 20), computed=short, end="short")
    assert found[0].name == "loss" and found[0].value == pytest.approx(0.1, rel=1e-9)
    assert all(c.name != "loss" for c in causes(short * 0.9, computed=short))


@pytest.mark.parametrize("sign", [-1, 1])
def test_a_steady_error_is_in_the_bar_of_a_loss(sign):
    """All readings are off by what the uncertainty allows, in the same direction."""
    true, steady = 0.2, 4e-3
    size = 0.99 * 10 ** (-true / 20) + sign * steady
    (found,) = causes(COMPUTED * size / 0.99, steady=steady)
    assert abs(found.value - true) <= found.uncertainty
    assert found.uncertainty < 1.2 * abs(found.value - true)


def test_loss_that_leaves_less_than_the_uncertainty_has_no_bound():
    assert all(c.name != "loss" for c in causes(COMPUTED * 1e-3, steady=2e-3))


@pytest.mark.parametrize("port", [1, 2])
@pytest.mark.parametrize(
    ("place", "words"),
    [(0.04, "in the part"), (-0.03, "in its feed"), (0.2, "past the part")],
)
def test_an_echo(port, place, words):
    measured = COMPUTED.copy()
    measured[:, port - 1, port - 1] += 0.02 * np.exp(-2j * BETA * place)
    (found,) = causes(measured)
    assert (found.name, found.port) == ("reflection", port)
    assert found.value == pytest.approx(0.02, rel=1e-6)
    assert found.place == pytest.approx(place, abs=1e-6)
    assert words in found.text and found.share == pytest.approx(1.0)


@pytest.mark.parametrize("kind", ["larger", "smaller", "farther", "nearer"])
def test_a_steady_error_is_in_the_bars_of_an_echo(kind):
    steady, wave = 1e-3, np.exp(-2j * BETA * 0.04)
    ways = {
        "larger": wave,
        "smaller": -wave,
        "farther": -1j * np.sign(BETA - BETA.mean()) * wave,
        "nearer": 1j * np.sign(BETA - BETA.mean()) * wave,
    }
    measured = COMPUTED.copy()
    measured[:, 0, 0] += 0.02 * wave + steady * ways[kind]
    (found,) = causes(measured, steady=steady)
    assert abs(found.value - 0.02) <= found.uncertainty
    assert abs(found.place - 0.04) <= found.place_uncertainty
    if kind in ("farther", "nearer"):
        assert (found.place > 0.04) == (kind == "farther")
        assert abs(found.place - 0.04) > 0.2 * found.place_uncertainty


def test_what_the_uncertainty_explains_is_not_told():
    assert causes(COMPUTED * (1 - 1e-3), steady=2e-3) == ()
    measured = COMPUTED.copy()
    measured[:, 0, 0] += 1e-3 * np.exp(-2j * BETA * 0.04)
    assert causes(measured, steady=2e-3) == ()
