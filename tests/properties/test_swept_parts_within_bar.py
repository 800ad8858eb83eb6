"""Twists, tapers, transitions and dents keep within their bars of another library's answers.

Both what a user asks by default and what looser accuracies stop at, for parts as they are used and
at the edges of what the keys allow. The answers and their uncertainty come from
`tests.references.swept_values`.
"""

import math

import numpy as np
import pytest

from geometries.shapes.dents import Dent
from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from solver.parts.space_parts import space_problem
from solver.parts.space_solver import solve_in_space
from tests.references.swept_values import FREQUENCIES, read_values

MM = 1e-3
GUIDE = standard_guide("WR-90")
PARTS = {
    "dent": Dent(GUIDE, "broad", 2 * MM, 15 * MM, 12 * MM),
    "deep dent": Dent(GUIDE, "broad", 8 * MM, 10 * MM, 22.86 * MM),
    "dent of the narrow wall": Dent(GUIDE, "narrow", 6 * MM, 12 * MM, 8 * MM),
    "transition": Transition(GUIDE, 25 * MM, 20 * MM),
    "short transition": Transition(GUIDE, 25 * MM, 3 * MM),
    "twist": Twist(GUIDE, math.radians(90), 30 * MM),
    "steep twist": Twist(GUIDE, math.radians(60), 8 * MM),
    "raised-cosine twist": Twist(GUIDE, math.radians(90), 20 * MM, "raised-cosine"),
    "taper": Taper(GUIDE, RectangularGuide(28.499 * MM, 12.624 * MM), 15 * MM),
    "short taper": Taper(GUIDE, RectangularGuide(34 * MM, 15 * MM), 4 * MM),
}
VALUES = read_values()
BAND = np.array(FREQUENCIES)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "s_error"),
    [
        ("dent", 1e-3),
        ("dent", 1e-4),
        ("deep dent", 5e-2),
        ("dent of the narrow wall", 1e-3),
        ("transition", 1e-3),
        ("short transition", 3e-3),
        ("twist", 1e-3),
        ("twist", 2e-4),
        ("steep twist", 2e-3),
        ("steep twist", 3e-4),
        ("raised-cosine twist", 2e-3),
        ("taper", 1e-3),
        ("taper", 1e-4),
        ("short taper", 2e-3),
        ("short taper", 5e-4),
    ],
)
def test_answer_is_within_its_bar_of_another_library(name, s_error):
    exact, doubt = VALUES[name]
    problem = space_problem(PARTS[name], BAND, s_error)
    found = solve_in_space(problem, BAND, s_error).found
    assert found.reached
    row = len(problem.modes[0])
    ours = np.stack([found.s[:, 0, 0], found.s[:, row, 0], found.s[:, row, row]], axis=1)
    assert doubt < 0.25 * found.error.max()
    assert np.all(np.abs(ours - exact).max(axis=1) < found.error + doubt)
