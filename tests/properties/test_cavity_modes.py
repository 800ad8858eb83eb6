"""Resonances and Q of closed parts against closed forms and published worked examples."""

import json
import math
from itertools import product

import numpy as np
import pytest
from scipy.special import jn_zeros, jnp_zeros

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.straights import Straight
from geometries.shapes.twists import Twist
from solver.commands.command_line import main
from solver.errors import UnsupportedPartError
from solver.resonances.cavity_modes import cavity_modes
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.waves.guide_power import surface_resistance

COPPER = 5.8e7
BOX = RectangularGuide(0.04755, 0.02215)


def box_resonances(a, b, d, count):
    found = []
    for m, n, length in product(range(6), repeat=3):
        zeros = (m, n, length).count(0)
        if zeros < 2:
            k = math.pi * math.sqrt((m / a) ** 2 + (n / b) ** 2 + (length / d) ** 2)
            found += [k * SPEED_OF_LIGHT / (2 * math.pi)] * (2 - zeros)
    return np.sort(found)[:count]


@pytest.mark.parametrize(("half_waves", "length", "q"), [(1, 0.0220, 8403), (2, 0.0440, 11898)])
def test_filled_cavity_of_the_textbook(half_waves, length, q):
    # D. M. Pozar, Microwave Engineering, 4th ed., example 6.3: WR-187 filled with eps_r = 2.25,
    # copper of 5.813e7 S/m, resonant at 5 GHz; lengths 2.20 and 4.40 cm, Q 8403 and 11898;
    # quoted from memory.  The book rounds the length (0.2 %) and eta to 377 / 1.5.
    found = cavity_modes(Straight(BOX, length), 6, near=5e9, conductivity=5.813e7, eps_r=2.25)
    exact = SPEED_OF_LIGHT / 3 * math.hypot(1 / BOX.broad_width, half_waves / length)
    mode = min(found, key=lambda mode: abs(mode.frequency - exact))
    assert mode.frequency == pytest.approx(exact, abs=mode.error)
    assert mode.frequency == pytest.approx(5e9, rel=2e-3)
    assert mode.q_walls == pytest.approx(q, rel=2e-3)


def test_lowest_resonances_of_a_box_within_their_bars():
    part = Straight(RectangularGuide(0.02286, 0.01016), 0.031)
    found = cavity_modes(part, 6)
    exact = box_resonances(0.02286, 0.01016, 0.031, 6)
    for mode, frequency in zip(found, exact, strict=True):
        assert abs(mode.frequency - frequency) <= mode.error <= 1e-5 * frequency
        assert mode.q_walls is None


def test_a_cube_has_its_lowest_resonance_three_times():
    side = 0.02
    found = cavity_modes(Straight(RectangularGuide(side, side), side), 3, conductivity=COPPER)
    assert [mode.multiplicity for mode in found] == [3, 3, 3]
    frequency = SPEED_OF_LIGHT / (math.sqrt(2) * side)
    # D. M. Pozar, Microwave Engineering, 4th ed., eq. (6.46) with three equal sides
    expected = math.sqrt(2) * math.pi / 6 * ETA0 / float(surface_resistance(COPPER, frequency))
    for mode in found:
        assert mode.frequency == pytest.approx(frequency, abs=mode.error)
        assert mode.q_walls == pytest.approx(expected, rel=1e-3)


@pytest.mark.slow
def test_cylinder_against_bessel_zeros_and_closed_form_q():
    r, d = 0.0135, 0.03
    found = cavity_modes(Straight(CircularGuide(2 * r), d), 4, conductivity=COPPER, accuracy=1e-4)
    te11, tm01 = jnp_zeros(1, 1)[0], jn_zeros(0, 1)[0]

    def resonance(zero, half_waves):
        return SPEED_OF_LIGHT / (2 * math.pi) * math.hypot(zero / r, half_waves * math.pi / d)

    exact = [resonance(te11, 1), resonance(te11, 1), resonance(tm01, 0), resonance(tm01, 1)]
    for mode, frequency in zip(found, exact, strict=True):
        assert abs(mode.frequency - frequency) <= mode.error
    assert [mode.multiplicity for mode in found] == [2, 2, 1, 1]
    # TE111: D. M. Pozar, Microwave Engineering, 4th ed., eq. (6.57). TM010: R. E. Collin,
    # Foundations for Microwave Engineering, 2nd ed., section 7.4. Both quoted from memory.
    k, beta = 2 * math.pi * exact[0] / SPEED_OF_LIGHT, math.pi / d
    rs = float(surface_resistance(COPPER, exact[0]))
    rest = 1 - 1 / te11**2
    lost = r * d / 2 * (1 + (beta * r / te11**2) ** 2) + (beta * r**2 / te11) ** 2 * rest
    te111 = (k * r) ** 3 * ETA0 * r * d / (4 * te11**2 * rs) * rest / lost
    assert found[0].q_walls == pytest.approx(te111, rel=1e-3)
    rs = float(surface_resistance(COPPER, exact[2]))
    tm010 = ETA0 * tm01 / (2 * rs * (1 + r / d))
    assert found[2].q_walls == pytest.approx(tm010, rel=1e-3)


def test_a_closed_bend_is_nearly_its_axis_straightened_and_a_corner_is_refused():
    guide = RectangularGuide(0.02286, 0.01016)
    part = Bend(guide, "E", math.pi / 2, 0.03)
    first = cavity_modes(part, 1)[0]
    # an E-plane bend is a slightly faster guide (order R^-2): the resonance of its axis length
    straight = SPEED_OF_LIGHT / 2 * math.hypot(1 / guide.broad_width, 1 / part.arc_length)
    assert first.frequency == pytest.approx(straight, rel=5e-3)
    with pytest.raises(UnsupportedPartError, match="corner"):
        cavity_modes(Corner(guide, "E", 1.0), 1)


def test_the_command_lists_resonances_or_cutoffs(tmp_path, capsys):
    study = tmp_path / "cavity.toml"
    study.write_text(
        'title = "echo box"\nguide = {width_mm = 22.86, height_mm = 10.16}\n'
        '[component]\nkind = "straight"\nlength_mm = 20.0\n'
        "[band]\nfrom_ghz = 9.0\nto_ghz = 11.0\n"
        "[walls]\nconductivity_s_per_m = 5.8e7\n"
    )
    assert main(["modes", str(study), "--count", "1", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["resonances"]
    exact = SPEED_OF_LIGHT / 2 * math.hypot(1 / 0.02286, 1 / 0.02)
    assert listed[0]["frequency_hz"] == pytest.approx(exact, abs=listed[0]["error_hz"])
    assert 5000 < listed[0]["q_walls"] < 10000
    assert main(["modes", str(study)]) == 0
    assert "electric walls at the reference planes" in capsys.readouterr().out
    assert main(["modes", "WR-90", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["modes"][0]["mode"] == "TE10"
    for wrong in (["modes"], ["modes", "WR-91"], ["modes", str(study), "--up-to-ghz", "9"]):
        assert main(wrong) == 2
        assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_a_twist_closes_like_the_straight_guide_of_its_length_nearly():
    guide = RectangularGuide(0.02286, 0.01016)
    first = cavity_modes(Twist(guide, 0.02, 0.03), 1)[0]
    straight = SPEED_OF_LIGHT / 2 * math.hypot(1 / guide.broad_width, 1 / 0.03)
    assert first.frequency == pytest.approx(straight, rel=1e-4)
