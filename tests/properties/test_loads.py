"""Loads against exact slabs and another library, and the heat against what does not come back."""

import numpy as np
import pytest
from threadpoolctl import threadpool_limits

from geometries.shapes.guides import RectangularGuide
from geometries.shapes.loads import Load
from solver.fem.level_problem import counted_answer
from solver.fem.level_search import search_levels
from solver.fem.reduced_model import sweep
from solver.judgement.assess_part import assess, solve_part
from solver.loads.heat import heat_profile
from solver.loads.load_field import LoadField
from solver.loads.load_problem import load_problem
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.guide_modes import SPEED_OF_LIGHT

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
BAND = np.linspace(8.2e9, 12.4e9, 9)
DIELECTRIC = {"permittivity": 6.0, "loss_tangent": 0.2}
MAGNETIC = {
    "permittivity": 3.0,
    "loss_tangent": 0.1,
    "permeability": 2.0,
    "magnetic_loss_tangent": 0.5,
}
CLEAR = {"permittivity": 2.5, "loss_tangent": 0.0}


def solved(load, frequency=BAND, s_error=1e-4):
    with threadpool_limits(1, user_api="blas"):
        problem = load_problem(load, frequency, s_error)
        return problem, search_levels(problem, s_error)


def slab(load, frequency):
    """S11 of a slab that fills the guide before a short: tanh on a line, exact."""
    k, cut = 2 * np.pi * frequency / SPEED_OF_LIGHT, np.pi / load.guide.broad_width
    eps, mu = load.complex_permittivity, load.complex_permeability
    inside = np.sqrt(cut**2 - eps * mu * k**2 + 0j)
    outside = 1j * np.sqrt(k**2 - cut**2)
    z = (mu / inside) * outside * np.tanh(inside * load.length)
    return (z - 1) / (z + 1)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("material", [DIELECTRIC, MAGNETIC, CLEAR])
@pytest.mark.parametrize("s_error", [1e-4, 1e-7])
def test_a_slab_that_fills_the_guide_is_exact(plane, material, s_error):
    load = Load(GUIDE, plane, "centre", 0.0, 17e-3, **material)
    _, found = solved(load, s_error=s_error)
    wrong = np.abs(found.s[:, 0, 0] - slab(load, BAND))
    assert (wrong <= found.error).all()
    assert found.reached
    assert found.error.max() <= s_error


def test_a_short_without_absorber_turns_the_wave_by_its_distance():
    air = Load(GUIDE, "E", "wall", 20e-3, 15e-3, permittivity=1.0, loss_tangent=0.0)
    _, found = solved(air)
    beta = np.sqrt((2 * np.pi * BAND / SPEED_OF_LIGHT) ** 2 - (np.pi / 22.86e-3) ** 2)
    assert (np.abs(found.s[:, 0, 0] + np.exp(-2j * beta * 35e-3)) <= found.error).all()


SHAPES = [("wall", 24e-3, 8e-3, 4e-3), ("centre", 0.0, 12e-3, 4e-3), ("centre", 25e-3, 9e-3, 0.0)]


@pytest.mark.slow
@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("material", [DIELECTRIC, MAGNETIC])
def test_another_library_gives_the_same_reflection(plane, shape, material):
    pytest.importorskip("ngsolve")
    from tests.references.tapered_absorbers import reflection_in_plane

    position, taper, base, width = shape
    load = Load(GUIDE, plane, position, taper, base, base_width=width, **material)
    frequency = np.array([8.4e9, 11.9e9])
    _, found = solved(load, frequency, 1e-5)
    other = np.array([reflection_in_plane(load, f, degree=7, finest=1e-6) for f in frequency])
    wrong = np.abs(found.s[:, 0, 0] - other)
    # one degree more there, and edges three times coarser, move it by less than 1e-8
    assert (wrong <= found.error).all()
    assert found.error.max() <= 1e-5


@pytest.mark.slow
def test_the_two_fields_of_the_e_plane_are_those_in_space():
    """Nothing is reduced there: edge elements in three dimensions, an oblique absorber."""
    pytest.importorskip("ngsolve")
    from tests.references.tapered_absorbers import reflection_in_space

    load = Load(
        GUIDE, "E", "wall", 20e-3, 8e-3, base_width=5e-3, permittivity=5.0, loss_tangent=0.2
    )
    frequency = np.array([10e9])
    _, found = solved(load, frequency, 1e-5)
    other = reflection_in_space(load, 10e9, degree=4, fine=0.4, finest=1e-3)
    # one degree less there is 6e-4 off, a finer edge moves it by 1e-5
    assert abs(found.s[0, 0, 0] - other) < 5e-5


@pytest.mark.parametrize("material", [DIELECTRIC, MAGNETIC, CLEAR])
@pytest.mark.parametrize(
    ("plane", "position", "sizes"),
    [
        ("H", "centre", (25e-3, 9e-3, 0.0)),
        ("H", "wall", (0.0, 14e-3, 5e-3)),
        ("E", "centre", (0.0, 14e-3, 0.0)),
        ("E", "centre", (20e-3, 6e-3, 5e-3)),
    ],
)
def test_heat_adds_up_to_what_does_not_come_back(plane, position, sizes, material):
    taper, base, width = sizes
    load = Load(GUIDE, plane, position, taper, base, base_width=width, **material)
    problem, found = solved(load)
    heat = heat_profile(problem, found, float(BAND[3]))
    back = abs(found.s[3, 0, 0]) ** 2
    assert heat.total == pytest.approx(1 - back, abs=1e-9)
    assert np.trapezoid(heat.fraction, heat.place) == pytest.approx(1 - back, rel=1e-3, abs=1e-9)
    assert heat.place[0] == 0.0 and heat.place[-1] == pytest.approx(load.length)
    assert (heat.fraction >= 0.0).all()
    assert heat.densest >= heat.fraction.max() / (22.86e-3 * 10.16e-3) * (1 - 1e-9)


@pytest.mark.parametrize("plane", ["E", "H"])
def test_heat_of_a_slab_is_that_of_its_standing_wave(plane):
    load = Load(GUIDE, plane, "centre", 0.0, 17e-3, **MAGNETIC)
    problem, found = solved(load, s_error=1e-6)
    f = float(BAND[5])
    heat = heat_profile(problem, found, f)
    k, cut = 2 * np.pi * f / SPEED_OF_LIGHT, np.pi / 22.86e-3
    eps, mu = load.complex_permittivity, load.complex_permeability
    gamma, beta = np.sqrt(cut**2 - eps * mu * k**2), np.sqrt(k**2 - cut**2)
    # E = A sinh(gamma (L - z)) sin(pi x/a), matched to 1 + S11 at the face
    amplitude = (1 + slab(load, f)) / np.sinh(gamma * load.length)
    wave = amplitude * np.sinh(gamma * (load.length - heat.place))
    slope = amplitude * gamma * np.cosh(gamma * (load.length - heat.place))
    field, flux = np.abs(wave) ** 2, np.abs(slope) ** 2 + cut**2 * np.abs(wave) ** 2
    expected = (-(k**2) * eps.imag * field + (1 / mu).imag * flux) / beta
    assert np.abs(heat.fraction - expected).max() < max(heat.error, 1e-6 * expected.max())
    assert heat.error < 1e-2 * expected.max()
    # densest at the face, either midway (E and H along the axis' plane) or on the narrow wall
    middle = -(k**2) * eps.imag * field[0] + (1 / mu).imag * np.abs(slope[0]) ** 2
    wall = (1 / mu).imag * cut**2 * field[0]
    dense = 2 * max(middle, wall) / beta / (22.86e-3 * 10.16e-3)
    assert heat.densest == pytest.approx(dense, rel=2e-3)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_bars_hold_over_loads_of_every_kind(seed):
    """Against the same load with a bar a hundred times smaller, edges of the keys included."""
    draw = np.random.default_rng(seed)
    plane = "EH"[seed % 2]
    whole = 10.16e-3 if plane == "E" else 22.86e-3
    load = Load(
        RectangularGuide(22.86e-3, 10.16e-3),
        plane,
        ("centre", "wall")[seed // 2 % 2],
        float(draw.choice([0.0, 8e-3, 35e-3])),
        float(draw.choice([2e-3, 15e-3])),
        base_width=float(draw.choice([0.1, 0.5, 1.0]) * whole),
        permittivity=float(draw.choice([1.2, 5.0, 20.0])),
        loss_tangent=float(draw.choice([0.0, 1e-4, 0.2, 2.0])),
        permeability=float(draw.choice([1.0, 4.0])),
        magnetic_loss_tangent=float(draw.choice([0.0, 0.5])),
    )
    frequency = np.array([8.2e9, 9.7e9, 12.4e9])
    _, found = solved(load, frequency, 1e-3)
    _, finer = solved(load, frequency, 1e-5)
    wrong = np.abs(found.s[:, 0, 0] - finer.s[:, 0, 0])
    assert (wrong <= found.error + finer.error).all()
    assert found.reached and finer.reached


def drawn(plane, seed):
    """A load of any kind: both places, blunt and tapered, thin and full, lossy, magnetic."""
    draw = np.random.default_rng(seed)
    whole = 10.16e-3 if plane == "E" else 22.86e-3
    return Load(
        GUIDE,
        plane,
        ("centre", "wall")[seed % 2],
        float(draw.choice([0.0, draw.uniform(8e-3, 40e-3)], p=[0.25, 0.75])),
        float(draw.uniform(2e-3, 15e-3)),
        base_width=float(draw.choice([0.12, draw.uniform(0.2, 0.9), 1.0]) * whole),
        permittivity=float(draw.uniform(2.0, 12.0)),
        loss_tangent=float(draw.choice([0.02, 0.2, 1.0])),
        permeability=float(draw.choice([1.0, 2.0])),
        magnetic_loss_tangent=float(draw.choice([0.0, 0.5])),
    )


def finer(load, refinement, degree):
    """All elements that count, of one space much finer than what the bars are of."""
    problem = load_problem(load, BAND, 1e-4)
    mesh, alike = problem.mesh(refinement), np.ones(len(problem.port_modes))
    (_, pencil), *_ = problem.spaces(mesh, (degree,))

    def answer(model):
        return counted_answer(problem, mesh, model, problem.squared, alike)

    with threadpool_limits(1, user_api="blas"):
        found = sweep(
            pencil.stiffness, pencil.mass, pencil.columns, problem.squared, answer, 1e-7, (),
            problem.moving,
        )  # fmt: skip
    return found.response


def bars_over_errors(loads, s_error, refinement, degree):
    """Least bar over the error at its frequency, and the largest bar over the largest error."""
    for load in loads:
        problem, found = solved(load, s_error=s_error)
        assert found.reached
        counted = np.where(problem.counted(problem.squared), found.s, 0.0)
        wrong = np.abs(counted - finer(load, refinement, degree)).max(axis=(1, 2))
        yield (found.error / wrong).min(), found.error.max() / wrong.max()


@pytest.mark.parametrize("s_error", [5e-2, 1e-4])
def test_bars_are_close_to_the_errors(s_error):
    loads = [drawn("H", seed) for seed in range(3)]
    least, most = np.transpose(list(bars_over_errors(loads, s_error, 0, 7)))
    assert least.min() > 2.0
    assert np.median(most) < 6.0


@pytest.mark.slow
@pytest.mark.parametrize("s_error", [5e-2, 1e-3])
def test_bars_are_close_to_the_errors_of_two_fields(s_error):
    loads = [drawn("E", seed) for seed in range(1, 4)]
    least, most = np.transpose(list(bars_over_errors(loads, s_error, 0, 5)))
    assert least.min() > 2.0
    assert np.median(most) < 6.0


def test_a_load_without_loss_sends_all_back():
    load = Load(
        GUIDE, "H", "wall", 20e-3, 8e-3, base_width=6e-3, permittivity=4.0, loss_tangent=0.0
    )
    found = assess(load, Band(8.2e9, 12.4e9, 11), limit=Limit(vswr=1.2))
    assert np.abs(np.abs(found.scattering.s11) - 1).max() < 1e-9
    assert found.verdict.outcome == "exceeds"
    assert found.heat.total == 0.0 and not found.heat.fraction.any()


def test_a_nearly_lossless_absorber_has_sharp_dips_that_are_found():
    """A thick post of little loss stores energy; between the points the reflection still dips."""
    load = Load(
        GUIDE, "H", "centre", 0.0, 24e-3, base_width=9e-3, permittivity=10.0, loss_tangent=1e-3
    )
    solved_part, _ = solve_part(load, Band(8.2e9, 12.4e9, 5))
    found = solved_part.resonances()
    assert found
    dense = np.linspace(8.2e9, 12.4e9, 4001)
    size = np.abs(solved_part.answers(dense).s[:, 0, 0])
    deepest = float(dense[int(np.argmin(size))])
    near = min(found, key=lambda r: abs(r.frequency - deepest))
    assert abs(near.frequency - deepest) < near.width + 2e6


def test_fields_follow_the_entering_wave():
    """In the feed the field is that of the entering wave and S11 times its image."""
    load = Load(GUIDE, "E", "centre", 0.0, 6e-3, **DIELECTRIC)
    problem, found = solved(load)
    field = LoadField.of_model(problem, found.space, found.last.model, 1e10)
    cells = np.flatnonzero(field.mesh.p[0][field.mesh.t].max(axis=0) < 0.0)
    grid = np.array([[0.2, 0.5], [0.3, 0.1]])
    z = field.mesh._mapping().F(grid)[0][cells]
    squared = problem.squared_at(np.array([1e10]))
    s11 = problem.scattering(found.mesh, found.last.model.impedance(squared), squared)[0, 0, 0]
    beta = field.beta
    expected = np.exp(-1j * beta * z) + s11 * np.exp(1j * beta * z)
    turn = np.exp(-1j * beta * 10.16e-3)  # counted from the port
    along = field.values(grid, cells)[1] * np.sqrt(problem.modes.width)
    assert np.abs(along - expected * turn).max() < 1e-3


def test_pictures_hold_the_wave_impedance_of_what_enters():
    """E over eta0 H across the axis is k/beta; power flows towards the short."""
    load = Load(GUIDE, "H", "centre", 0.0, 60e-3, permittivity=1.0, loss_tangent=5e-1)
    # a field lacks about the root of what S lacks
    part, _ = solve_part(load, Band(10e9, 10.1e9, 2), s_error=1e-6)
    picture = part.picture(10e9)
    s11 = slab(load, np.array([10e9]))[0]
    k = 2 * np.pi * 10e9 / SPEED_OF_LIGHT
    beta = np.sqrt(k**2 - (np.pi / 22.86e-3) ** 2)
    z, x = picture.points
    assert x.min() == pytest.approx(-0.5 * 22.86e-3)
    near = (np.abs(x) < 1e-4) & (np.abs(z + 0.5 * 22.86e-3) < 2e-3)
    assert near.any()
    wave = np.exp(-1j * beta * z[near]), s11 * np.exp(1j * beta * z[near])
    turn = np.exp(-1j * beta * 22.86e-3)  # counted from the port
    e, h = picture.electric[2][near], picture.magnetic[1][near]
    assert np.abs(e - (wave[0] + wave[1]) * turn).max() < 2e-3
    assert np.abs(h + (wave[0] - wave[1]) * turn * beta / k).max() < 2e-3
    # along the axis E x H* is E_2 H_3* - E_3 H_2*
    assert ((-e * h.conj()).real > 0).all()


def test_a_picture_of_the_e_plane_does_not_pretend_to_hold_all_components():
    load = Load(GUIDE, "E", "wall", 0.0, 10e-3, base_width=4e-3, **DIELECTRIC)
    part, _ = solve_part(load, Band(10e9, 10.1e9, 2))
    picture = part.picture(10e9)
    assert picture.quantity == "E along b"
    assert picture.electric is None and picture.magnetic is None


@pytest.mark.parametrize(("plane", "cutoff"), [("H", 2 / 22.86e-3), ("E", 1 / 22e-3)])
def test_at_the_cutoff_of_a_mode_round_off_is_in_the_bar(plane, cutoff):
    """There S goes as the root of what is left of the mode's phase constant."""
    guide = RectangularGuide(22.86e-3, 22e-3 if plane == "E" else 10.16e-3)
    cut = SPEED_OF_LIGHT / 2 * np.hypot(cutoff, 1 / 22.86e-3 if plane == "E" else 0.0)
    load = Load(guide, plane, "wall", 0.0, 8e-3, base_width=5e-3, **DIELECTRIC)
    frequency = cut * np.array([0.97, 1 - 1e-14, 1.0, 1 + 1e-13, 1.03])
    problem, found = solved(load, frequency, 1e-3)
    assert np.isfinite(found.s).all()
    doubt = problem.round_off(found, problem.squared)
    assert doubt[[0, -1]].max() < 1e-10
    assert 1e-9 < doubt[3] < 1e-2
