"""A row joined from condensed pieces resonates where one mesh of it does, and nowhere else."""

import numpy as np
import pytest

from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import standard_guide
from solver.fem.linear_solve import SymmetricSolver, pardiso_is_there
from solver.parts.flexible_problem import FlexibleProblem

BAND = np.linspace(8.2e9, 12.4e9, 9)
ORDER = 4


def counts(pencil, squared):
    """How many resonances of the closed part lie below each q, by the inertia of K - q M."""
    solver = SymmetricSolver(pencil.stiffness, pencil.mass)
    found = []
    for q in squared:
        solver.factorise(float(q))
        found.append(solver.below)
    return np.array(found)


@pytest.mark.slow
@pytest.mark.skipif(not pardiso_is_there(), reason="counting needs PARDISO")
def test_no_charge_on_the_cuts_rings():
    part = Flexible(standard_guide("WR-90"), 7e-3, 1e-3, 6)
    row = FlexibleProblem(part, BAND, 1e-3)
    whole = FlexibleProblem(part, BAND, 1e-3, whole=True)
    # from far below the lowest resonance, TE10's cutoff, on
    squared = row.squared_at(np.concatenate([[0.5e9, 3e9, 5.5e9], BAND]))
    joined = row.row(row.mesh(0), ORDER)
    ((_, one_mesh),) = whole.spaces(whole.mesh(0), [ORDER])
    expected = counts(one_mesh, squared)
    assert expected[-1] - expected[0] >= 4
    for pencil in (joined.chain.pencil(), joined.coarser):
        found = counts(pencil, squared)
        np.testing.assert_array_equal(found - found[0], expected - expected[0])
