"""A guide that ends in an open boundary whose waves are all coupled, against the exact answer.

At the end plane the boundary sets a full admittance matrix Y between mixtures of guide modes. With
Yg the guide's own admittances, incident amplitudes a come back as (Yg + Y)^-1 (Yg - Y) a.
"""

from dataclasses import dataclass, field, replace
from typing import ClassVar

import numpy as np
import pytest

from geometries.plane_meshes.lattice_mesh import mesh_straight
from geometries.shapes import units as unit
from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.part import Part
from geometries.shapes.straights import Straight
from geometries.space_meshes.swept_blocks import swept_mesh
from solver import assess
from solver.exchange.touchstone import touchstone_name
from solver.fem.level_search import search_levels
from solver.figures.drawings_turning import draw_straight
from solver.output.drawing import drawing_of
from solver.output.screen import assessment_text
from solver.parts.scalar_problem import ScalarProblem
from solver.parts.solution import Solution
from solver.parts.solved_part import among_propagating, scattering_of, solved_part_of
from solver.parts.space_parts import space_problem
from solver.parts.space_solver import SpaceProblem, solve_in_space, vector_fields
from solver.reports.report import report_html
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.open_boundaries import OpenBoundary, power_half, with_open
from solver.waves.plane_modes import PlaneModes
from solver.waves.space_modes import SpaceMode

GUIDE = standard_guide("WR-90")
LENGTH, FEED = 40e-3, 20e-3
# the second propagates above 13.1 GHz, the third decays
BAND = np.array([9e9, 12e9, 15e9])
ORDERS = (1, 2, 3)
RNG = np.random.default_rng(5)
TURN = np.linalg.qr(RNG.standard_normal((3, 3)))[0]
#: Admittances over k: the real part carries power off, the other stores it; all coupled.
OUTSIDE = np.array([[0.9, 0.3, -0.2], [0.3, 0.6, 0.1], [-0.2, 0.1, 0.4]]) - 1j * np.array(
    [[0.2, -0.4, 0.1], [-0.4, -0.3, 0.5], [0.1, 0.5, 0.9]]
)


@dataclass(frozen=True)
class Mouth(OpenBoundary):
    """Three mixtures of TE10, TE20 and TE30, coupled."""

    modes: object
    name: str = "open_mouth"
    count = 3

    def fields(self, points):
        return np.tensordot(TURN, self.modes(points), axes=1)

    def admittance(self, squared):
        return np.sqrt(np.asarray(squared, dtype=complex))[:, None, None] * OUTSIDE

    def leaves(self, squared):
        return np.ones((len(squared), 3), dtype=bool)


def reflected(frequency, rows):
    """Scattering among TE_m0 of the orders given, at the reference plane, and what gets out."""
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    q = k**2 - (np.array(ORDERS) * np.pi / GUIDE.broad_width) ** 2
    beta = np.where(q > 0, np.sqrt(np.abs(q)), -1j * np.sqrt(np.abs(q)))
    guide, outside = np.diag(beta), TURN.T @ (k * OUTSIDE) @ TURN
    back = np.linalg.solve(guide + outside, guide - outside)
    total = back + np.eye(3)
    root = np.sqrt(beta)
    s = root[:, None] * back / root
    turn = np.exp(-1j * beta * LENGTH)
    out = np.real(total[:, 0].conj() @ outside @ total[:, 0]) / beta[0].real
    return (turn[:, None] * s * turn)[np.ix_(rows, rows)], out


def in_the_plane():
    straight = Straight(GUIDE, LENGTH - GUIDE.broad_width)
    modes = PlaneModes(GUIDE, "H", 5)

    def make_mesh(refinement):
        # the end of the second feed is the mouth
        whole = mesh_straight(straight, 20e-3, "H", refinement)
        named = {"open_mouth" if n == "port2" else n: f for n, f in whole.mesh.boundaries.items()}
        ports = (whole.ports[0], replace(whole.ports[1], name="open_mouth"))
        return replace(whole, mesh=replace(whole.mesh, _boundaries=named), ports=ports)

    mouth = Mouth(lambda t: PlaneModes(GUIDE, "H", 3).functions(None, t))
    problem = ScalarProblem(
        make_mesh, modes, 1, BAND, 1e-7, {0: (8, 9)}, {0: 0.05}, 4, boundaries=(mouth,)
    )
    return Solution(problem, BAND, search_levels(problem, 1e-7)), ORDERS


def space_problem_of(part, frequency, s_error):
    """The straight part with a mouth for its second port."""
    part = Straight(GUIDE, part.length)

    def make_mesh(refinement):
        whole = swept_mesh(part, wavelength=14e-3, refinement=refinement, feeds=(FEED, 0.0))
        named = {"open_mouth" if n == "port2" else n: f for n, f in whole.mesh.boundaries.items()}
        return replace(whole, mesh=replace(whole.mesh, boundaries=named), ports=whole.ports[:1])

    end = swept_mesh(part, wavelength=14e-3, refinement=0, feeds=(FEED, 0.0)).ports[1]
    mouth = Mouth(vector_fields(end, [SpaceMode(GUIDE, "TE", m, 0) for m in ORDERS]))
    return SpaceProblem(
        make_mesh,
        frequency,
        s_error,
        {0: (6, 7)},
        {0: 0.5},
        lambda symmetry: symmetry[1] == 0,
        boundaries=(mouth,),
    )


def in_space():
    problem = space_problem_of(Straight(GUIDE, LENGTH), BAND, 1e-4)
    return solve_in_space(problem, BAND, 1e-4), ORDERS


@pytest.fixture(scope="module", params=[in_the_plane, in_space])
def solved(request):
    return request.param()


def test_a_coupled_mouth_reflects_and_leaks_as_it_must(solved):
    solution, orders = solved
    problem = solution.problem
    names = [mode.name for mode in problem.port_modes]
    rows = [names.index(f"TE{m}0") for m in orders[:2]]
    assert {mode.port for mode in problem.port_modes} == {1}
    for i, f in enumerate(BAND):
        kept = [0, 1] if f > 13.2e9 else [0]
        exact, leaked = reflected(f, kept)
        found = solution.s[i][np.ix_(rows, rows)][: len(kept), : len(kept)]
        assert np.abs(found - exact).max() < solution.error[i] < 1e-3
        assert abs(solution.leaked_power[i] - leaked) < solution.leaked_error[i] < 2e-3
        assert 0.3 < leaked < 0.99


def test_leaked_power_between_the_points_has_its_bar(solved):
    solution, _ = solved
    part = solved_part_of(
        solution,
        1e-4,
        method="",
        unknowns=1,
        uncoupled=(),
        picture=lambda at: None,
        ratios=lambda at: at,
    )
    listed = among_propagating(part, BAND, None)
    assert np.array_equal(listed.leaked_power, solution.leaked_power)
    assert listed.transmitted is None
    between = np.array([10.1e9, 14.3e9])
    found = scattering_of(part, part.answers(between), np.zeros(2, dtype=int), None)
    for i, f in enumerate(between):
        leaked = reflected(f, [0])[1]
        assert abs(found.leaked_power[i] - leaked) < found.leaked_error[i]
        # what neither comes back nor leaks is nothing
        back = (np.abs(found.s[i, :, 0]) ** 2).sum()
        assert abs(1 - back - found.leaked_power[i]) < 1e-9


@dataclass(frozen=True)
class OpenEnd(Part):
    """A guide with one port and a mouth."""

    kind: ClassVar[str] = "open-end"
    exact_plane: ClassVar[None] = None
    mirrors: ClassVar[frozenset] = frozenset({"y"})
    has_sharp_edges: ClassVar[bool] = False

    guide: RectangularGuide = field(metadata=unit.GUIDE)
    length: float = field(metadata=unit.LENGTH)

    @property
    def guides(self):
        return (self.guide,)

    @property
    def axis_length(self):
        return self.length


@pytest.mark.slow
def test_assess_tells_what_leaves_a_part_with_one_port():
    space_problem.register(OpenEnd, space_problem_of)
    drawing_of.register(OpenEnd, lambda part: draw_straight(Straight(part.guide, part.length)))
    limit = Limit(vswr=5.0, leakage_db=-1.0)
    found = assess(OpenEnd(GUIDE, LENGTH), Band(9e9, 12e9, 4), limit=limit, s_error=1e-3)
    exact = np.array([reflected(f, [0]) for f in found.scattering.frequency], dtype=object)
    s11, leaked = np.array([s[0, 0] for s in exact[:, 0]]), exact[:, 1].astype(float)
    assert np.all(np.abs(found.scattering.s11 - s11) < found.scattering.error)
    assert np.all(np.abs(found.scattering.leaked_power - leaked) < found.scattering.leaked_bar)
    assert found.verdict.outcome == "meets"
    result = found.to_json()
    assert np.allclose(result["leaked_power"], leaked, atol=1e-4)
    assert not any(result["dissipated_power"])
    assert touchstone_name(found) == "scattering.s1p"
    assert "S21" not in report_html(found) and "insertion loss" not in assessment_text(found)


def test_power_of_a_full_admittance():
    wave = RNG.standard_normal((4, 6, 6))
    y = wave @ wave.swapaxes(1, 2) + 1j * (wave + wave.swapaxes(1, 2))
    half = power_half(y)
    assert np.abs(half @ half - y.real).max() < 1e-12 * np.abs(y).max()
    assert np.allclose(power_half(y[:, range(6), range(6)]) ** 2, y[:, range(6), range(6)].real)


def test_diagonals_and_matrices_stand_in_one():
    q = np.array([1.0, 4.0])
    two = np.array([[1.0, 2.0], [3.0, 4.0]])
    mixed = with_open(two.astype(complex), (Mouth(None),), q)
    assert mixed.shape == (2, 5, 5)
    assert np.array_equal(mixed[:, 2:, 2:], np.array([1.0, 2.0])[:, None, None] * OUTSIDE)
    assert np.array_equal(np.diagonal(mixed, axis1=1, axis2=2)[:, :2], two)
    assert not mixed[:, :2, 2:].any()
