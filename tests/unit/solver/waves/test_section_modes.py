"""LSE and LSM modes as mixtures of TE and TM modes, from their definitions."""

import numpy as np
import pytest

from geometries.shapes.guides import standard_guide
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import outgoing_root
from solver.waves.section_modes import SectionModes
from solver.waves.space_modes import SpaceMode

GUIDE = standard_guide("WR-90")
#: Below and above the cutoff of TE20, where the second family across the E-plane begins.
FREQUENCY = np.array([9.7e9, 14.1e9])


def mixtures(plane, across, inside):
    """Amplitudes (n, 2, 2) of LSE and LSM in TE and TM."""
    found = np.zeros((len(FREQUENCY), 2, 2), dtype=complex)
    for row, electric in enumerate((True, False)):
        modes = SectionModes(GUIDE, plane, electric, across, inside + 1)
        number = inside - (0 if electric else 1)
        for column, kind in enumerate(("TE", "TM")):
            found[:, row, column] = modes.shares(kind, FREQUENCY)[:, number]
    return found


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize(("across", "inside"), [(1, 1), (2, 1), (1, 3), (4, 2)])
def test_mixtures_have_no_field_across_the_plane(plane, across, inside):
    m, n = (across, inside) if plane == "E" else (inside, across)
    te, tm = (SpaceMode(GUIDE, kind, m, n) for kind in ("TE", "TM"))
    matrix = mixtures(plane, across, inside)
    k = 2 * np.pi * FREQUENCY / SPEED_OF_LIGHT
    assert matrix.transpose(0, 2, 1) @ matrix == pytest.approx(np.tile(np.eye(2), (2, 1, 1)))
    beta = outgoing_root(k**2 - te.wavenumber**2)
    admittance = np.stack([beta, k**2 / beta], axis=1)
    point = np.array([3.1e-3]), np.array([1.7e-3])
    fields = np.stack([mode.field(*point)[:, 0] for mode in (te, tm)])
    # a wave of one kind in TE and TM: the transposed matrix; E = V e, H = Y V z x e
    for kind, (flux, part) in enumerate([(False, "E"), (True, "H")]):
        waves = matrix[:, kind] / np.sqrt(admittance) * (admittance if flux else 1.0)
        x, y = (waves * fields[:, 0]).sum(axis=1), (waves * fields[:, 1]).sum(axis=1)
        along_x, along_y = (-y, x) if part == "H" else (x, y)
        gone = along_x if plane == "E" else along_y
        size = np.abs(waves[:, :, None] * fields).max()
        assert np.abs(gone).max() < 1e-12 * size


@pytest.mark.parametrize(
    ("plane", "electric", "across", "inside", "sign"),
    [("E", True, 1, 0, 1), ("E", False, 0, 2, -1), ("H", True, 1, 0, -1), ("H", False, 0, 2, 1)],
)
def test_a_mode_with_one_index_is_what_it_is(plane, electric, across, inside, sign):
    modes = SectionModes(GUIDE, plane, electric, across, 3)
    column = inside - (0 if electric else 1)
    assert modes.shares("TE", FREQUENCY)[:, column] == pytest.approx([sign, sign])
    assert not modes.shares("TM", FREQUENCY)[:, column].any()
