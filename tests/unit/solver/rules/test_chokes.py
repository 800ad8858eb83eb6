"""Rules for choke joints: quarter waves worked out by hand or by mpmath, tolerance exact."""

import math
from dataclasses import replace

import mpmath
import pytest

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.errors import BelowCutoffError
from solver.rules.rules_of_thumb import rules_for
from solver.studies.band import Band

C = 299792458.0
BAND = Band(9e9, 9.75e9)
FREE = C / 9.375e9
FLANGE = ChokeFlange(standard_guide("WR-90"), 0.2e-3, 25e-3, 14e-3, 16e-3, 8.2e-3)
TM01 = RotatingJoint(CircularGuide(26e-3), 0.5e-3, 40e-3, 20e-3, 22e-3, 7.5e-3)


def required(part, name):
    return [r.required for r in rules_for(part, BAND) if name in r.name]


def test_flange_readings():
    guided = FREE / math.sqrt(1 - (FREE / (2 * 22.86e-3)) ** 2)
    # Quarter waves of coaxial TE11 and of the radial line of order 1; see the tests of those.
    assert required(FLANGE, "deep") == pytest.approx([FREE / 4, guided / 4, 8.499e-3], rel=1e-4)
    assert required(FLANGE, "broad wall") == pytest.approx(
        [FREE / 4, FREE / 4, guided / 4, 7.6395e-3], rel=1e-4
    )
    readings = rules_for(FLANGE, BAND)
    assert [r.actual for r in readings] == pytest.approx(
        [8.2e-3] * 3 + [x - 5.08e-3 for x in (15e-3, 14e-3, 15e-3, 14e-3)]
    )
    assert [r.measure for r in readings] == ["groove depth"] * 3 + ["distance of the groove"] * 4


def test_rotating_joint_readings():
    """TM01: no wave round the groove, and a radial line of order 0."""
    cutoff = 2.404826 * C / (2 * math.pi * 13e-3)
    guided = FREE / math.sqrt(1 - (cutoff / 9.375e9) ** 2)
    k, start = 2 * math.pi / FREE, 13e-3

    def slope(x):
        return mpmath.besselj(0, k * start) * mpmath.bessely(1, x) - mpmath.bessely(
            0, k * start
        ) * mpmath.besselj(1, x)

    radial = float(mpmath.findroot(slope, k * start + math.pi / 2)) / k - start
    assert required(TM01, "deep") == pytest.approx([FREE / 4, guided / 4], rel=1e-5)
    assert required(TM01, "guide's wall") == pytest.approx(
        [FREE / 4, FREE / 4, guided / 4, radial], rel=1e-5
    )
    te11 = replace(TM01, mode="TE11")
    assert len(required(te11, "deep")) == 3


@pytest.mark.parametrize("sign", [-1, 1])
def test_quarter_wave_counts_within_a_tenth(sign):
    for part, satisfied in ((0.0999, True), (0.1001, False)):
        joint = replace(TM01, groove_depth=FREE / 4 * (1 + sign * part))
        reading = next(r for r in rules_for(joint, BAND) if "free-space" in r.reading)
        assert reading.satisfied is satisfied
        assert reading.extra == pytest.approx(FREE / 4 * part)


def test_every_groove_is_asked_for_its_depth():
    both = replace(
        TM01,
        second_groove_inner_radius=29e-3,
        second_groove_outer_radius=31e-3,
        second_groove_depth=9e-3,
    )
    depths = [r.actual for r in rules_for(both, BAND) if "deep" in r.name]
    assert depths == [7.5e-3, 7.5e-3, 9e-3, 9e-3]
    readings = [(r.name, r.reading) for r in rules_for(both, BAND)]
    assert len(set(readings)) == len(readings)


def test_joint_without_groove_and_band_below_cutoff():
    assert rules_for(replace(TM01, groove_depth=0.0), BAND) == ()
    with pytest.raises(BelowCutoffError, match="cutoff of TM01"):
        rules_for(TM01, Band(7e9, 10e9))
