"""What an interrupt leaves of the search over classes of fields."""

import io

import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.parts import joint_resonances as module
from solver.parts.joint_resonances import joint_resonances
from solver.progress import ProgressLine
from solver.resonances.resolved_resonances import Resonances
from solver.waves.resonances import Resonance

JOINT = RotatingJoint(CircularGuide(27e-3), mode="TM01", gap=0.8e-3, rim_radius=34e-3)
BAND = np.array([9.3e9, 10.7e9])


@pytest.mark.parametrize(("finished", "keeps"), [(2, True), (2, False), (0, True)])
def test_the_classes_that_are_finished_are_told(monkeypatch, finished, keeps):
    count = []

    def search_levels(problem, s_error, report):
        report("order 4")
        if len(count) == finished:
            raise KeyboardInterrupt
        count.append(1)

    def resolved(found, admittance, band, about):
        return Resonances((Resonance(9.5e9, 1e5, 1e3, about, True),), 1)

    monkeypatch.setattr(module, "search_levels", search_levels)
    monkeypatch.setattr(module, "resolved_resonances", resolved)
    progress = ProgressLine(io.StringIO(), keeps=keeps)
    if not keeps or not finished:
        with pytest.raises(KeyboardInterrupt):
            joint_resonances(JOINT, BAND, 1e-3, progress)
        return
    found = joint_resonances(JOINT, BAND, 1e-3, progress)
    assert progress.interrupted
    assert [one.about for one in found.listed] == [
        "m = 0, in the half-plane",
        "cos m phi, m = 0, 2, 4",
    ]
    assert found.not_resolved == 2
    assert found.not_searched == ("sin m phi, m = 1, 3, 5",)
