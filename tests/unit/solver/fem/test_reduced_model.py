"""The reduced model against dense solutions of small pencils."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.linalg import block_diag, eigh
from scipy.sparse import csr_matrix

from solver.fem.census import Census
from solver.fem.linear_solve import pardiso_is_there
from solver.fem.reduced_model import ReducedModel, sweep

SQUARED = np.linspace(3.0, 5.0, 21)


def chain(n, stretch=1.0):
    """Linear elements on a line: stiffness and mass (n, n)."""
    k = stretch * (2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)) * (n / 10)
    m = (4 * np.eye(n) + np.eye(n, k=1) + np.eye(n, k=-1)) * 10 / (6 * n)
    return k, m


def upper(matrix):
    return csr_matrix(np.triu(matrix))


def dense_impedance(k, m, columns):
    return np.array([columns.T @ np.linalg.solve(k - q * m, columns) for q in SQUARED])


def swept(k, m, columns):
    return sweep(upper(k), upper(m), columns, SQUARED, lambda z: z.impedance(SQUARED) + 0j, 1e-10)


def test_the_whole_band_agrees_with_dense_solutions():
    k, m = chain(60)
    columns = np.zeros((60, 2))
    columns[0, 0] = columns[-1, 1] = 1.0
    found = swept(k, m, columns)
    exact = dense_impedance(k, m, columns)
    np.testing.assert_allclose(found.response.real, exact, atol=1e-8 * np.abs(exact).max())
    assert len(found.shifts) < 8


def test_unknowns_that_no_port_reaches_are_left_out():
    (k1, m1), (k2, m2) = chain(40), chain(50, 1.3)
    mixed = np.random.default_rng(7).permutation(90)
    k, m = (block_diag(a, b)[np.ix_(mixed, mixed)] for a, b in ((k1, k2), (m1, m2)))
    columns = np.zeros((90, 2))
    ends = np.argsort(mixed)[[0, 39]]
    columns[ends, [0, 1]] = 1.0
    columns[np.argsort(mixed)[60]] = 1e-14  # round-off of an integral that is zero
    found = swept(k, m, columns)
    exact = dense_impedance(k, m, columns)
    np.testing.assert_allclose(found.response.real, exact, atol=1e-8 * np.abs(exact).max())
    assert found.model.basis.shape[0] == 90
    assert not found.model.basis[mixed >= 40].any()
    field = found.model.field(4.0, np.array([1.0 + 0j, 0.0]))
    expected = np.linalg.solve(k - 4.0 * m, columns[:, 0])
    # what the ports answer is as good as the square of the field
    assert field == pytest.approx(expected, abs=1e-5 * np.abs(expected).max())


def loaded(impedance, admittance=0.7):
    """Scattering of the ports: finite where the closed part resonates and Z is infinite."""
    z = 1j * admittance * impedance
    unit = np.eye(z.shape[-1])
    return np.linalg.solve(unit + z, z - unit)


def resonant_chain():
    """A chain whose band holds resonances, its ends as ports, and those resonances."""
    k, m = chain(60)
    columns = np.zeros((60, 2))
    columns[0, 0] = columns[-1, 1] = 1.0
    poles = eigh(k, m, eigvals_only=True)
    return k, m, columns, poles


def dense_scattering(k, m, columns, q):
    """(K - q M + j y B B^T) x = B solved whole: no impedance, so nothing is infinite."""
    x = np.linalg.solve(k - q * m + 0.7j * columns @ columns.T, 2j * 0.7 * columns)
    return columns.T @ x - np.eye(columns.shape[1])


@pytest.mark.parametrize("offset", [0.0, 1e-13, -1e-10, 1e-6])
def test_scattering_is_finite_and_right_at_a_resonance(offset):
    k, m, columns, poles = resonant_chain()
    inside = poles[(poles > 3.0) & (poles < 5.0)]
    assert len(inside)
    squared = np.sort(np.append(np.linspace(3.0, 5.0, 15), inside * (1 + offset)))
    found = sweep(
        upper(k), upper(m), columns, squared, lambda z: loaded(z.impedance(squared)), 1e-10
    )
    exact = np.array([dense_scattering(k, m, columns, q) for q in squared])
    np.testing.assert_allclose(found.response, exact, atol=1e-6)
    away = np.abs(squared[:, None] - poles).min(axis=1) > 1e-3
    np.testing.assert_allclose(found.response[away], exact[away], atol=1e-9)


def test_a_resonance_at_a_snapshot_does_no_harm():
    """The band is laid to resonate at its first snapshot, one of Chebyshev's two places."""
    k, m, columns, poles = resonant_chain()
    pole = poles[np.argmin(np.abs(poles - 4.0))]
    squared = pole - 1.6 * (0.5 - 0.5 / np.sqrt(2)) + np.linspace(0.0, 1.6, 33)
    found = sweep(
        upper(k), upper(m), columns, squared, lambda z: loaded(z.impedance(squared)), 1e-9
    )
    exact = np.array([dense_scattering(k, m, columns, q) for q in squared])
    np.testing.assert_allclose(found.response, exact, atol=1e-6)


@pytest.mark.parametrize("squared", [np.array([4.0]), np.array([3.9, 4.2])])
def test_one_frequency_and_two(squared):
    k, m, columns, _ = resonant_chain()
    found = sweep(
        upper(k), upper(m), columns, squared, lambda z: loaded(z.impedance(squared)), 1e-10
    )
    exact = np.array([dense_scattering(k, m, columns, q) for q in squared])
    np.testing.assert_allclose(found.response, exact, atol=1e-9)
    assert found.change.max() <= 1e-10


def test_change_covers_the_error_of_the_sweep():
    """Whatever the tolerance, the true error is near or under the last change."""
    k, m, columns, _ = resonant_chain()
    squared = np.linspace(0.5, 12.0, 60)
    exact = np.array([dense_scattering(k, m, columns, q) for q in squared])
    for tolerance in (1e-2, 1e-4, 1e-7):
        found = sweep(
            upper(k), upper(m), columns, squared, lambda z: loaded(z.impedance(squared)), tolerance
        )
        error = np.abs(found.response - exact).max()
        assert error <= 2 * found.change.max() + 1e-9
        assert found.change.max() <= tolerance


def test_a_far_pole_does_not_blur_a_near_one():
    unit = np.eye(2)
    model = ReducedModel(np.array([4.00001, 1e12]), unit, unit, unit)
    found = model.impedance(np.array([4.0, 4.00001]))
    assert found[0, 0, 0] == pytest.approx(1e5, rel=1e-9)
    assert np.isfinite(found).all()


def hidden_resonance(link):
    """The chain, and one more unknown in its middle that resonates at 4.23 by itself."""
    k, m, columns, _ = resonant_chain()
    k, m = block_diag(k, [[4.23]]), block_diag(m, [[1.0]])
    k[60, 30] = k[30, 60] = link
    there = np.nonzero(np.triu((k != 0) | (m != 0)))
    sparse = (csr_matrix((x[there], there), shape=x.shape) for x in (k, m))
    return *sparse, np.vstack([columns, np.zeros((1, 2))]), eigh(k, m, eigvals_only=True)


def in_the_band(values):
    return values[(values > SQUARED[0]) & (values < SQUARED[-1])]


@pytest.mark.parametrize("census", [False, True])
def test_a_resonance_that_the_ports_hardly_drive_is_missed_without_a_census(census):
    if not pardiso_is_there():
        pytest.skip("without PARDISO nothing is counted")
    k, m, columns, poles = hidden_resonance(1e-10)
    exact = in_the_band(poles)
    assert np.abs(exact - 4.23).min() < 1e-6
    found = sweep(
        k, m, columns, SQUARED, lambda z: loaded(z.impedance(SQUARED)), 1e-9, census=census
    )
    model = in_the_band(found.model.poles)
    # what the ports answer has settled either way, without a word of the one that is missing
    assert found.change.max() < 1e-9
    expected = exact if census else exact[np.abs(exact - 4.23) > 1e-3]
    distance = np.abs(model[:, None] - expected)
    assert distance.min(axis=0).max() < 1e-3
    assert (np.abs(model - 4.23).min() < 1e-3) == census
    if census:
        assert len(model) == len(exact)


def test_a_pole_that_still_moves_is_no_resonance_to_the_census(monkeypatch):
    """Two fields of which the ports see nothing else: one pole of the model may stand for both."""
    told = []
    monkeypatch.setattr(Census, "missing", lambda _, poles: told.append(poles) or [])
    k, m, columns, poles = hidden_resonance(1e-10)
    respond, shifts = lambda z: loaded(z.impedance(SQUARED)), (3.5, 4.5)
    found = sweep(k, m, columns, SQUARED, respond, 1e-9, shifts, census=True)
    model, counted = in_the_band(found.model.poles), in_the_band(told[-1])
    assert np.abs(counted[:, None] - poles).min(axis=1).max() < 0.01
    assert len(counted) < len(model)


def test_leaving_out_last_derivatives_covers_the_error_of_two_snapshots():
    """Snapshots wide apart, in one sweep without a third: the change is not under the error."""
    k, m, columns, _ = resonant_chain()
    for high in (2.0, 4.0, 8.0):
        found, exact = wide_sweep(k, m, columns, high)
        assert len(found.shifts) == 2
        assert np.abs(found.response - exact).max() <= found.change.max() + 1e-9


def wide_sweep(k, m, columns, high, moving=None):
    """A sweep that ends with its second snapshot, and the answers of dense solutions."""
    squared = np.linspace(0.5, high, 60)
    exact = np.array([dense_scattering(k, m, columns, q) for q in squared])
    parts = upper(k), upper(m), columns, squared
    return sweep(*parts, lambda z: loaded(z.impedance(squared)), 10, moving=moving), exact


def test_columns_without_derivatives_have_their_part_in_the_change():
    """Two chains, one for each column: of the second the model holds two solutions alone."""
    k, m = (block_diag(*[part] * 2) for part in chain(30))
    columns = np.zeros((60, 2))
    columns[0, 0] = columns[30, 1] = 1.0
    k[29, 30] = k[30, 29] = m[29, 30] = m[30, 29] = 1e-9
    squared = np.linspace(0.45, 0.75, 20)
    exact = np.array([columns.T @ np.linalg.solve(k - q * m, columns) for q in squared])
    found = sweep(
        upper(k),
        upper(m),
        columns,
        squared,
        lambda z: z.impedance(squared) + 0j,
        1e6,
        moving=np.array([True, False]),
    )
    assert len(found.shifts) == 2
    error = np.abs(found.response - exact)
    assert error[:, 1, 1].max() > 10 * error[:, 0, 0].max()
    assert error.max() <= found.change.max()


def test_a_census_looks_into_the_widest_stretch_that_lacks_one():
    counts = {2.0: 1, 3.0: 2, 4.0: 4, 6.0: 5, 8.0: 7}
    solver = SimpleNamespace(below=None, factorise=None)
    census = Census(solver, 2.0, 8.0)
    for shift, solver.below in counts.items():
        census.note(shift)
    assert census.missing(np.array([2.5, 3.2, 3.6, 5.0, 6.1, 7.0])) == []
    assert census.missing(np.array([2.5, 3.2, 3.6, 5.0, 6.1])) == [7.0]
    assert census.missing(np.array([2.5, 3.2, 5.0, 6.1, 7.0])) == [3.5]
    # two stretches lack one: the wider comes first
    assert census.missing(np.array([2.5, 3.2, 3.6, 6.1, 7.0])) == [5.0]
    assert census.missing(np.array([2.5, 3.2, 6.1, 7.0])) == [5.0]


def test_a_census_gives_up_where_the_stretch_is_narrow_and_counts_the_ends_itself():
    solver = SimpleNamespace(below=0)
    asked = []

    def factorise(shift):
        asked.append(shift)
        solver.below = int(shift > 4.999) + int(shift > 5.001)

    solver.factorise = factorise
    census = Census(solver, 2.0, 8.0)
    for shift in (4.99, 5.01):
        factorise(shift)
        census.note(shift)
    assert census.missing(np.array([5.0])) == []
    assert asked == [4.99, 5.01, 2.0, 8.0]


def test_no_column_needs_to_move():
    k, m = chain(30)
    columns = np.zeros((30, 2))
    columns[0, 0] = columns[-1, 1] = 1.0
    still = np.zeros(2, dtype=bool)
    matrices = upper(k), upper(m), columns, SQUARED
    found = sweep(*matrices, lambda z: z.impedance(SQUARED) + 0j, 1e-10, moving=still)
    exact = dense_impedance(k, m, columns)
    np.testing.assert_allclose(found.response.real, exact, atol=1e-8 * np.abs(exact).max())
