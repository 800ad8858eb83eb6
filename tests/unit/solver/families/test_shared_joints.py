"""Matrices of every joint of a box are sums of few; a basis answers as the joint alone does."""

import pickle

import numpy as np
import pytest
from scipy.sparse import csr_matrix

from geometries import ChokeFlange
from geometries.shapes.guide_sizes import standard_guide
from geometries.space_meshes.choke_lines import JointBox
from solver.families.joint_family import JointFamily
from solver.families.shared_joints import assembled
from solver.fem.edge_space import edge_space

FREQUENCY = np.linspace(8.2e9, 12.4e9, 5)


def flange(gap, depth):
    guide = standard_guide("WR-90")
    return ChokeFlange(guide, gap * 1e-3, 25e-3, 14e-3, 16e-3, depth * 1e-3)


@pytest.fixture(scope="module")
def family():
    box = JointBox.about([flange(0.1, 6.5), flange(0.6, 10.0)])
    return JointFamily(box, FREQUENCY, 1e-3)


@pytest.mark.parametrize("gap, depth", [(0.1, 6.5), (0.27, 9.1), (0.6, 10.0)])
def test_summands_give_the_matrices_of_every_joint(family, gap, depth):
    part = flange(gap, depth)
    _, pencil = assembled(family, 2)
    member = family.member(part)
    problem = family.problem_alone(member.lengths)
    _, own = next(iter(problem.spaces(problem.mesh(0), (2,))))
    for found, expected in zip(pencil.at(member.lengths), (own.stiffness, own.mass), strict=True):
        apart = csr_matrix(found - expected)
        size = np.sqrt(expected.diagonal())
        scaled = apart.multiply(1 / size[:, None]).multiply(1 / size[None, :])
        # round-off of the assembly itself, and what it leaves out: see `ROUND_OFF`
        assert np.abs(scaled.tocsr().data).max(initial=0.0) < 3e-12
    columns = pencil.columns * member.scale
    assert np.abs(columns - own.columns).max() < 1e-11 * np.abs(own.columns).max()


def test_a_family_goes_to_other_processes(family):
    assert family.setting
    sent = pickle.loads(pickle.dumps(family))
    part = flange(0.3, 8.0)
    assert np.array_equal(sent.lengths_of(part), family.lengths_of(part))


def test_lengths_and_joints_belong_to_each_other(family):
    part = family.part_of(family.lengths_of(flange(0.3, 8.0)))
    assert part.gap == pytest.approx(0.3e-3, rel=1e-12)
    assert part.groove_depth == pytest.approx(8e-3, rel=1e-12)
    assert family.bounds[0] * family.bounds[1] == pytest.approx(1.0, rel=1e-12)


def test_columns_of_waves_that_vary_across_a_tall_gap_scale_too():
    family = JointFamily(JointBox.about([flange(4.0, 8.0), flange(12.0, 8.0)]), FREQUENCY, 1e-3)
    part = flange(9.3, 8.0)
    member, problem = family.member(part), family.setting[0]
    (rim,) = problem.boundaries
    assert {(column.n, column.along) for column in rim.columns} >= {(1, True), (1, False)}
    mesh = family.problem_alone(member.lengths).mesh(0)
    space = edge_space(mesh.mesh, 2)
    own = family.problem_of(part).columns(space, mesh)
    _, pencil = assembled(family, 2)
    assert np.abs(pencil.columns * member.scale - own).max() < 1e-10 * np.abs(own).max()
