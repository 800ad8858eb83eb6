"""Rows of equal pieces against guides filled with slabs, whose waves are known exactly.

Slabs across a rectangular guide do not couple TE10 to other modes: a period has the matrix of two
lines in cascade (P. Yeh, "Optical Waves in Layered Media", 1988, section 6.2, from memory; checked
here by the determinant of the matrix).
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from geometries.cells.chain_mesh import ChainMesh
from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import SpaceMesh, SpacePort
from geometries.shapes.guides import RectangularGuide
from solver.fem.field_samples import wall_current_matrix
from solver.fem.reduced_model import sweep
from solver.parts.space_solver import vector_fields
from solver.periodic.chain_space import chain_space, cut_cell
from solver.periodic.periodic_guide import periodic_guide
from solver.waves.cascade import Junction, joined, repeated, straight_junction
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import matched_scattering
from solver.waves.space_modes import SpaceMode

GUIDE = RectangularGuide(20e-3, 9e-3)
PERIOD, FILLED, FEED, DENSE = 11e-3, 6e-3, 4e-3, 3.1
BAND = np.linspace(8.6e9, 13.2e9, 24)
MODE = SpaceMode(GUIDE, "TE", 1, 0)
ORDER = 6


def squared(frequency):
    return (2 * np.pi * np.asarray(frequency) / SPEED_OF_LIGHT) ** 2


def beta(frequency, permittivity=1.0):
    return np.sqrt(permittivity * squared(frequency) - (np.pi / GUIDE.broad_width) ** 2 + 0j)


def cosine(frequency):
    """Cosine of the phase of a period."""
    one, two = beta(frequency), beta(frequency, DENSE)
    x, y = one * (PERIOD - FILLED), two * FILLED
    mixed = 0.5 * (one / two + two / one)
    return (np.cos(x) * np.cos(y) - mixed * np.sin(x) * np.sin(y)).real


def meshed(*places):
    """A length of guide cut at some places [m], those inside periods filled in their middles."""
    lines = np.array(places)
    half = 0.5 * np.array([GUIDE.broad_width, GUIDE.narrow_height])

    def mapping(parameters):
        return parameters, np.repeat(np.eye(3)[:, :, None], parameters.shape[1], axis=2)

    across = [np.linspace(-size, size, n + 1) for size, n in zip(half, (2, 1), strict=True)]
    sides = {"w0": "port1", "w1": "port2"}
    mesh = hexahedral_mesh([Block((*across, lines), mapping, sides)])
    middle = mesh.p[2][mesh.t].mean(axis=0)
    inside = np.abs(np.mod(middle, PERIOD) - 0.5 * PERIOD) < 0.5 * FILLED
    x, y, z = np.eye(3)
    ports = tuple(
        SpacePort(name, GUIDE, np.array([0.0, 0.0, place]), x, y, sign * z, 0.0)
        for name, place, sign in (("port1", lines[0], -1), ("port2", lines[-1], 1))
    )
    filling = np.where(inside & (middle > 0), DENSE, 1.0)
    return SpaceMesh(mesh, ports, {}, permittivity=filling)


SLAB = (0.5 * (PERIOD - FILLED), 0.5 * (PERIOD + FILLED))
CELL = meshed(0.0, *SLAB, PERIOD)
END = meshed(-FEED, 0.0, *SLAB, PERIOD)


@pytest.fixture(scope="module")
def cells():
    """The cell at two orders."""
    low, high = squared(BAND[[0, -1]])
    shifts = [low + share * (high - low) for share in (0.25, 0.75)]
    first = vector_fields(CELL.ports[0], [MODE])
    return shifts, [cut_cell(CELL, order, first, shifts) for order in (ORDER, ORDER - 1)]


@pytest.fixture(scope="module")
def guide(cells):
    """What an endless row does."""
    shifts, cut = cells
    finest, before = (cell.condensed(shifts).period for cell in cut)
    about = (beta(BAND) * (PERIOD - FILLED) + beta(BAND, DENSE) * FILLED).real
    return periodic_guide(finest, before, BAND, 1, PERIOD, about)


def test_phase_and_attenuation_of_a_period(guide):
    runs = np.abs(cosine(BAND)) < 1
    assert runs.any() and not runs.all()
    np.testing.assert_allclose(np.cos(guide.phase[runs]), cosine(BAND)[runs], atol=3e-5)
    off = np.abs(np.cos(guide.phase) - np.clip(cosine(BAND), -1, 1))
    assert np.all(off[runs] < guide.phase_error[runs])
    dies = np.arccosh(np.abs(cosine(BAND)[~runs]))
    np.testing.assert_allclose(guide.attenuation[~runs], dies, rtol=1e-4)
    assert not guide.attenuation[runs].any()


def test_stopbands_end_where_the_cosine_is_one(guide):
    fine = np.linspace(0.97 * BAND[0], 1.03 * BAND[-1], 4001)
    beyond = np.abs(cosine(fine)) > 1
    turns = np.flatnonzero(np.diff(beyond.astype(int)))
    exact = [brentq(lambda f: abs(cosine(f)) - 1, fine[i], fine[i + 1]) for i in turns]
    ends = [*fine[:1][beyond[:1]], *exact, *fine[-1:][beyond[-1:]]]
    found = np.ravel(guide.stopbands)
    assert len(found) == len(ends) == 2
    assert np.all(np.abs(found - ends) < guide.stopband_error)
    assert guide.stopband_error < 1e-3 * (ends[1] - ends[0])
    assert "touches the band" in guide.cautions[0]


def test_no_narrow_stopband_is_missed(cells):
    # between two listed frequencies, whatever their spacing
    shifts, (cell, _) = cells
    piece = cell.condensed(shifts).period
    wide = piece.stopbands(*squared([9e9, 13e9]))
    coarse = piece.stopbands(*squared([0.5 * 8.6e9 + 0.5 * 9e9, 13.1e9]))
    np.testing.assert_allclose(wide, coarse, rtol=1e-9)


@pytest.mark.parametrize("count", [0, 1, 3])
def test_a_row_scatters_as_its_slabs_in_cascade(cells, count):
    shifts, (cell, _) = cells
    fields = vector_fields(END.ports[0], [MODE])
    row = chain_space(ChainMesh(END, CELL, count), ORDER, fields, cell, shifts, (0,))
    y = np.repeat(beta(BAND)[:, None], 2, axis=1)

    def respond(model):
        return matched_scattering(model.impedance(squared(BAND)), y, 0 * y)

    pencil = row.chain.pencil()
    matrices = (pencil.stiffness, pencil.mass, pencil.columns)
    found = sweep(*matrices, squared(BAND), respond, 1e-8).response
    one, two = beta(BAND), beta(BAND, DENSE)
    # a slab between two plain lengths, from the reflection of one face
    face, turn = (one - two) / (one + two), np.exp(-1j * two * FILLED)
    through = (1 - face**2) * turn / (1 - (face * turn) ** 2)
    back = face * (1 - turn**2) / (1 - (face * turn) ** 2)
    slab = Junction(*(x[:, None, None] for x in (back, through, through, back)))
    gap = straight_junction(one[:, None], SLAB[0])
    feed = straight_junction(one[:, None], FEED)
    slabs = repeated(joined(joined(gap, slab), gap), count + 2)
    exact = joined(joined(feed, slabs), feed).matrix
    np.testing.assert_allclose(found, exact, atol=2e-4)
    fewer = row.coarser
    matrices = (fewer.stiffness, fewer.mass, fewer.columns)
    less = sweep(*matrices, squared(BAND), respond, 1e-8).response
    # what was left out is little against what a lower order leaves open
    assert np.abs(less - found).max() < 1e-5


def test_currents_and_fields_of_a_row_are_those_of_its_pieces(cells):
    shifts, (cell, _) = cells
    fields = vector_fields(END.ports[0], [MODE])
    row = chain_space(ChainMesh(END, CELL, 2), ORDER, fields, cell, shifts, (0,))
    amplitudes = np.random.default_rng(733).normal(size=(row.chain.unknowns, 1))
    total = 0.0
    for space, unknowns in row.unknowns_of(amplitudes):
        total += wall_current_matrix(space, unknowns)[0, 0]
    assert row.wall_currents(amplitudes)[0, 0] == pytest.approx(total, rel=1e-9)
