"""Error bars of plane bends against modes of the curved guide (no finite elements)."""

import math

import numpy as np
import pytest
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import spsolve
from skfem import Basis, BilinearForm, ElementTriN2, FacetBasis, LinearForm, MeshTri

from geometries.shapes.bends import Bend
from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.straights import Straight
from solver.parts.plane_solver import solve_in_plane
from solver.waves.guide_modes import SPEED_OF_LIGHT, guide_wavelength, phase_constant
from tests.references.curved_guide_modes import bend_scattering

BANDS = {"WR-284": (2.6e9, 3.95e9), "WR-90": (8.2e9, 12.4e9), "WR-28": (26.5e9, 40e9)}


def radius_of(guide, plane, name, how):
    width = guide.narrow_height if plane == "E" else guide.broad_width
    if how == "tight":
        return width / 2 + 1e-3
    return 1.7 * width if how == "usual" else 4 * float(guide_wavelength(guide, BANDS[name][0]))


@pytest.mark.parametrize("name", BANDS)
@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize(
    ("how", "degrees"), [("tight", 15.0), ("tight", 101.0), ("usual", 73.0), ("gentle", 27.0)]
)
def test_true_error_is_under_the_bar(name, plane, how, degrees):
    guide = standard_guide(name)
    bend = Bend(guide, plane, math.radians(degrees), radius_of(guide, plane, name, how))
    frequency = np.linspace(*BANDS[name], 5)
    found = solve_in_plane(bend, frequency, 1e-5)
    assert found.reached
    assert found.error.max() <= 1e-5
    for i, f in enumerate(frequency):
        s11, s21 = bend_scattering(
            plane, bend.width_in_plane, guide.broad_width, bend.mean_radius, bend.angle, f
        )
        assert abs(found.s[i, 0, 0] - s11) < found.error[i]
        assert abs(found.s[i, found.problem.modes.count, 0] - s21) < found.error[i]


@pytest.mark.parametrize("plane", ["E", "H"])
def test_reflection_falls_as_the_square_of_the_radius(plane):
    """S. O. Rice, Bell System Technical Journal 27, 305 (1948): slope -2 for gentle bends."""
    guide = standard_guide("WR-90")
    width = guide.narrow_height if plane == "E" else guide.broad_width
    frequency = np.array([10e9])
    beta = float(phase_constant(guide, frequency)[0])
    radii = np.array([4.0, 8.0]) * width
    # arcs of 2.5 quarter guide wavelengths: both junctions add, and the arc stays alike
    arc = 2.5 * math.pi / beta
    sizes = [
        abs(solve_in_plane(Bend(guide, plane, arc / r, r), frequency, 1e-7).s[0, 0, 0])
        for r in radii
    ]
    slope = math.log(sizes[1] / sizes[0]) / math.log(2.0)
    assert slope == pytest.approx(-2.0, abs=0.05)


def test_straight_guide_only_turns_the_phase():
    guide, length = standard_guide("WR-90"), 31e-3
    frequency = np.linspace(8.2e9, 12.4e9, 5)
    found = solve_in_plane(Straight(guide, length), frequency, 1e-7)
    exact = np.exp(-1j * phase_constant(guide, frequency) * length)
    assert np.abs(found.s[:, 0, 0]).max() < 1e-7
    assert np.abs(found.s[:, found.problem.modes.count, 0] - exact).max() < 1e-7


@pytest.mark.parametrize("plane", ["E", "H"])
def test_overmoded_bend_keeps_the_power(plane):
    """Between the propagating modes S is unitary and symmetric; several of them propagate."""
    guide = RectangularGuide(22.86e-3, 10.16e-3)
    frequency = np.array([25e9, 31e9])
    found = solve_in_plane(Bend(guide, plane, math.radians(60.0), 40e-3), frequency, 1e-6)
    count = found.problem.modes.count
    for i in range(2):
        q = found.problem.modes.wavenumber_squared(frequency[i : i + 1])
        carried = found.problem.modes.phase_constants(q)[0].real > 0
        assert carried.sum() >= 2
        kept = np.tile(carried, 2)
        s = found.s[i][np.ix_(kept, kept)]
        assert np.abs(s.conj().T @ s - np.eye(len(s))).max() < 1e-9
        assert abs(found.s[i, count + 1, 0]) > 1e-3
        turned = np.abs(s) - np.abs(s.T)
        assert np.abs(turned).max() < 1e-9


def test_e_plane_reduction_agrees_with_edge_elements():
    """E = (0, Ey, Ez) sin(pi x / a) solved with scikit-fem's own edge elements of order 2."""
    guide, radius, angle, feed = standard_guide("WR-90"), 12e-3, math.pi / 2, 15e-3
    b, a, frequency = guide.narrow_height, guide.broad_width, 11e9
    lines = np.concatenate(
        [
            np.linspace(-feed, 0, 5),
            np.linspace(0, radius * angle, 41)[1:],
            radius * angle + np.linspace(0, feed, 5)[1:],
        ]
    )
    mesh = MeshTri.init_tensor(lines, np.linspace(-b / 2, b / 2, 5))
    turn = np.clip(mesh.p[0] / radius, 0, angle)
    rest, r = mesh.p[0] - turn * radius, radius + mesh.p[1]
    ends = {
        "port1": mesh.facets_satisfying(lambda x: np.isclose(x[0], -feed)),
        "port2": mesh.facets_satisfying(lambda x: np.isclose(x[0], radius * angle + feed)),
    }
    walls = np.setdiff1d(mesh.boundary_facets(), np.concatenate(list(ends.values())))
    bent = np.stack(
        [r * np.sin(turn) + rest * np.cos(turn), radius - r * np.cos(turn) + rest * np.sin(turn)]
    )
    mesh = MeshTri(bent, mesh.t)
    basis = Basis(mesh, ElementTriN2(), intorder=8)
    k = 2 * math.pi * frequency / SPEED_OF_LIGHT

    @BilinearForm
    def form(u, v, w):
        return u.curl * v.curl + ((math.pi / a) ** 2 - k**2) * (u[0] * v[0] + u[1] * v[1])

    matrix = form.assemble(basis).astype(complex)
    across = {"port1": np.array([0.0, -1.0]), "port2": np.array([1.0, 0.0])}
    columns = []
    for name, facets in ends.items():
        direction = across[name]

        @LinearForm
        def load(v, w, direction=direction):
            return (direction[0] * v[0] + direction[1] * v[1]) / math.sqrt(b)

        columns.append(load.assemble(FacetBasis(mesh, ElementTriN2(), facets=facets, intorder=8)))
    columns = np.stack(columns, axis=1)
    free = np.setdiff1d(np.arange(basis.N), basis.get_dofs(walls).flatten())
    beta = float(phase_constant(guide, np.array([frequency]))[0])
    loaded = matrix.tocsc()[free][:, free] + 1j * beta * csc_matrix(columns[free] @ columns[free].T)
    x = spsolve(loaded.tocsc(), 2j * beta * columns[free][:, 0])[:, None]
    s = (columns[free].T @ x)[:, 0] - [1.0, 0.0]
    s *= np.exp(2j * beta * feed)
    found = solve_in_plane(Bend(guide, "E", angle, radius), np.array([frequency]), 1e-6)
    # the edge elements follow the arc by chords of 2.25 degrees, which leaves 2e-4
    assert abs(s[0] - found.s[0, 0, 0]) < 5e-4
    assert abs(s[1] - found.s[0, found.problem.modes.count, 0]) < 2e-3
    assert abs(found.s[0, 0, 0]) > 0.01


def test_bar_holds_at_the_cutoff_of_the_second_mode():
    """There S goes as a square root, which makes a millionth of the frequency's round-off."""
    guide = standard_guide("WR-90")
    cutoff = SPEED_OF_LIGHT / guide.broad_width  # TE20
    frequency = cutoff * np.array([1 - 1e-6, 1.0, 1 + 1e-6])
    bend = Bend(guide, "H", math.radians(45.0), 16.002e-3)
    found = solve_in_plane(bend, frequency, 1e-4)
    for i, f in enumerate(frequency):
        s11, _ = bend_scattering(
            "H", guide.broad_width, guide.broad_width, 16.002e-3, bend.angle, f
        )
        assert abs(found.s[i, 0, 0] - s11) < found.error[i]
    assert found.error.max() < 1e-4
