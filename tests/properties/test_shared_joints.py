"""A joint that a basis answers for lies within its bar of a finer solution of the joint alone."""

import numpy as np
import pytest

from geometries import ChokeFlange
from geometries.shapes.guide_sizes import standard_guide
from geometries.space_meshes.choke_lines import JointBox
from solver.families.joint_family import JointFamily
from solver.families.shared_joints import prepared
from solver.fem.reduced_model import sweep
from solver.judgement.whole_band import whole_band
from solver.parts.quarter_solver import quarter_problem

FREQUENCY = np.linspace(8.2e9, 12.4e9, 21)
S_ERROR = 1e-2
#: Order of the finer solution, on the joint's own mesh; the basis ends at order 3.
FINER = 4


def flange(gap, depth=8.2):
    guide = standard_guide("WR-90")
    return ChokeFlange(guide, gap * 1e-3, 25e-3, 14e-3, 16e-3, depth * 1e-3)


@pytest.mark.slow
def test_bars_of_a_basis_hold_between_its_snapshots_and_between_the_points():
    family = prepared(JointFamily(JointBox.about([flange(0.15), flange(0.4)]), FREQUENCY, S_ERROR))
    assert family.family.order == 3
    part = flange(0.2871)
    solved = family.family.solved(part)
    assert solved.reached
    found = whole_band(solved, FREQUENCY).scattering
    problem = quarter_problem(part, FREQUENCY, S_ERROR)
    mesh = problem.mesh(0)
    _, pencil = next(iter(problem.spaces(mesh, (FINER,))))

    def respond(model):
        return problem.scattering(mesh, model.impedance(problem.squared), problem.squared)

    finer = sweep(
        *(pencil.stiffness, pencil.mass, pencil.columns, problem.squared, respond, 1e-5),
        moving=problem.moving,
    )
    squared = problem.squared_at(found.frequency)
    s = problem.scattering(mesh, finer.model.impedance(squared), squared)
    assert (np.abs(found.s11 - s[:, 0, 0]) < found.error).all()
    leaked = (np.abs(s[:, len(problem.port_modes) :, 0]) ** 2).sum(axis=1)
    assert (np.abs(found.leaked_power - leaked) < found.leaked_bar).all()
    # a bar that could not fail would prove nothing
    assert found.error.max() < S_ERROR
