"""What a run's answer says of its parts, and what near ports add to them."""

from types import SimpleNamespace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.fem.loss_doubt import LossyAnswer
from solver.runs.near_waves import lossy_waves, solved_waves
from solver.runs.run_result import PartLine, RunResult
from solver.waves.walls import Walls

FREQUENCY = np.array([8.2e9, 12.4e9])


def result(*parts, worst=0.5):
    """A run of which only parts, given as (breakdown, worst case without), and worst matter."""
    lines = tuple(
        PartLine(f"part {i}", "bend", 0.1, 1e-4, 0.0, power, power, without, "")
        for i, (power, without) in enumerate(parts)
    )
    names = RunResult.__dataclass_fields__
    given = dict.fromkeys(names) | {"parts": lines, "worst_case": SimpleNamespace(worst=worst)}
    return RunResult(**given)


def test_the_weakest_part_is_the_one_that_breaks_down_first():
    assert result((2e6, 0.4), (1.5e6, 0.4), (None, 0.4)).weakest_part.name == "part 1"
    assert result((None, 0.4)).weakest_part is None


def test_the_part_to_improve_is_the_one_without_which_least_is_left():
    assert result((None, 0.4), (None, 0.3), (None, 0.5)).improve_first.name == "part 1"
    # nothing does anything to the worst case
    assert result((None, 0.5), (None, 0.5)).improve_first is None


def test_waves_of_the_compared_spaces_and_of_the_sweep_before():
    """An impedance that is a number times q, S made of it by the problem."""
    problem = SimpleNamespace(
        squared_at=lambda f: (f / 1e9) ** 2,
        scattering=lambda mesh, z, q: mesh + z[:, None, None] / q[:, None, None],
        least_ratio={0: 0.05, 1: 0.5},
    )

    def model(value):
        return SimpleNamespace(impedance=lambda q: value * q)

    last = SimpleNamespace(before=model(4.0))
    found = SimpleNamespace(mesh=10.0, levels=(model(1.0), model(2.0)), last=last, refinement=1)
    told = solved_waves(problem, found)
    assert [level(FREQUENCY)[0, 0, 0] for level in told["levels"]] == [11.0, 12.0]
    assert told["before"](FREQUENCY)[1, 0, 0] == 14.0 and told["least_ratio"] == 0.5
    last.before = None
    assert solved_waves(problem, found)["before"] is None


def test_walls_add_their_doubt_and_what_first_order_leaves_out():
    bend = Bend(standard_guide("WR-90"), "E", 1.0, 0.02)

    def answer(conductivity):
        s = np.full((2, 2, 2), conductivity + 0j)
        return lambda f: LossyAnswer(s, np.array([1e-5, 2e-5]), np.zeros(2))

    told = lossy_waves(bend, Walls(5.8e7), answer)
    assert told["lossy"](FREQUENCY)[0, 0, 0] == 5.8e7
    share = told["share"](FREQUENCY)
    # the surface resistance of copper at 10 GHz, 26 mohm, over 377 ohm squared is 5e-9
    assert (share > [1e-5, 2e-5]).all() and share == pytest.approx([1e-5, 2e-5], abs=1e-6)
    # towards cutoff more is left out
    assert share[0] - 1e-5 > share[1] - 2e-5


def test_without_walls_nothing_is_lost():
    told = lossy_waves(None, None, lambda _: pytest.fail("walls were asked for"))
    assert told["lossy"] is None and not told["share"](FREQUENCY).any()
