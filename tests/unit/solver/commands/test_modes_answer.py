"""Closed-form resonances beside the solved ones of a joint."""

from geometries.shapes.guides import CircularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_resonances import trapped_resonances
from solver.commands.modes_answer import joint_estimates, joint_estimates_text
from solver.studies.band import Band

JOINT = RotatingJoint(CircularGuide(27e-3), 0.2e-3, 40e-3, 28e-3, 30e-3, 9e-3)
BAND = Band(9.2e9, 10.6e9)


def test_each_order_is_listed_about_the_band_alone():
    found = joint_estimates(JOINT, BAND)
    assert [each["order"] for each in found] == [0, 1, 2]
    for each in found:
        everything = trapped_resonances(JOINT, each["order"], 1.1 * BAND.stop)
        assert each["frequencies_hz"] == [f for f in everything if f >= 0.9 * BAND.start]
        assert len(each["frequencies_hz"]) < len(everything)
        assert each["within_validity"]
        assert each["source"].endswith("[derived]")
    text = joint_estimates_text(found)
    assert f"m = 0: {found[0]['frequencies_hz'][0] / 1e9:.4g} GHz" in text
    assert "a few per cent" in text and "outside its range" not in text


def test_a_wide_gap_is_outside_the_range_and_a_plain_gap_has_none():
    wide = RotatingJoint(CircularGuide(27e-3), 4e-3, 40e-3, 28e-3, 30e-3, 9e-3)
    assert "outside its range" in joint_estimates_text(joint_estimates(wide, BAND))
    plain = RotatingJoint(CircularGuide(27e-3), 0.2e-3, 40e-3)
    text = joint_estimates_text(joint_estimates(plain, BAND))
    assert text.count("none near the band") == 3
