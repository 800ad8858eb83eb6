"""Crossings of curves that are known in closed form."""

import numpy as np
import pytest

from solver.searches.size_search import (
    ContradictionError,
    SizeCurve,
    crossings,
    first_crossing,
    last_crossing,
)

LIMIT = 0.2


def scanned(function, start=1.0, stop=30.0, step=0.25, bar=1e-9):
    curve = SizeCurve(lambda size: (float(function(size)), bar))
    for size in np.arange(start, stop, step):
        curve.worst(float(size))
    return curve


def test_monotone_curve_has_one_crossing():
    curve = scanned(lambda r: 1.0 / r**2)
    exact = LIMIT**-0.5
    for find in (first_crossing, last_crossing):
        found = find(curve, LIMIT, 1e-6)
        assert found.size == pytest.approx(exact, abs=1e-5)
        assert abs(found.size - exact) <= found.uncertainty


def test_ripple_separates_first_and_last_crossing():
    def ripple(r):
        return 4.0 / r * abs(np.sin(r))

    curve = scanned(ripple)
    dense = np.linspace(1.0, 30.0, 2_000_001)
    above = 4.0 / dense * abs(np.sin(dense)) > LIMIT
    last = dense[np.flatnonzero(above)[-1]]
    first = dense[np.flatnonzero(~above)[0]]
    assert last_crossing(curve, LIMIT, 1e-5).size == pytest.approx(last, abs=1e-4)
    assert first_crossing(curve, LIMIT, 1e-5).size == pytest.approx(first, abs=1e-4)


def test_peak_between_samples_is_followed():
    # the peak at 20.1 is above the limit, and no sample is
    def hidden(r):
        return 0.19 * np.exp(-((r - 20.1) ** 2) / 4.0) + 0.0105 * np.exp(-((r - 20.1) ** 2) / 0.03)

    curve = scanned(hidden, start=0.0, step=0.5)
    assert max(curve.worst(s) for s in curve.sizes) < LIMIT
    found = last_crossing(curve, LIMIT, 1e-6)
    dense = np.linspace(19.0, 22.0, 3_000_001)
    assert found.size == pytest.approx(dense[np.flatnonzero(hidden(dense) > LIMIT)[-1]], abs=1e-4)


def test_bar_makes_a_flat_crossing_uncertain():
    exact = (0.4 - LIMIT) / 1e-3
    curve = scanned(lambda r: 0.4 - 1e-3 * r, 1.0, 400.0, 10.0, bar=1e-4)
    found = last_crossing(curve, LIMIT, 1e-3)
    assert found.uncertainty == pytest.approx(1e-4 / 1e-3, rel=0.05)
    assert abs(found.size - exact) < found.uncertainty


def test_curve_above_the_limit_has_no_answer():
    curve = scanned(lambda r: 0.5 + 0.01 * np.sin(r))
    assert last_crossing(curve, LIMIT, 1e-6) is None
    assert first_crossing(curve, LIMIT, 1e-6) is None


def test_curve_under_the_limit_starts_at_its_smallest_size():
    found = last_crossing(scanned(lambda r: 0.1 / r), LIMIT, 1e-6)
    assert (found.size, found.uncertainty) == (1.0, 0.0)


def quick(function, solved, bar=1e-9):
    """A curve known quickly, and what is solved where it counts."""
    computed = []

    def compute(size):
        computed.append(size)
        return float(solved(size)), 1e-9

    curve = SizeCurve(compute, lambda size: (float(function(size)), bar))
    for size in np.arange(1.0, 30.0, 0.25):
        curve.worst(float(size))
    return curve, computed


def ripple(size):
    return 4.0 / size * abs(np.sin(size))


def test_what_decides_is_solved_where_the_rest_is_known_quickly():
    curve, computed = quick(ripple, ripple)
    exact = crossings(scanned(ripple), LIMIT, 1e-5)
    assert crossings(curve, LIMIT, 1e-5) == exact
    last, first = exact
    assert {last.size, last.above, first.size, first.above} <= set(computed)
    # by hand: the next peak of 4 |sin r| / r past the last crossing, and about one more size
    peak = max((s for s in curve.sizes if s > last.size + 1), key=ripple)
    assert peak in computed
    assert len(computed) <= 7


def test_a_crossing_is_closed_in_on_again_where_solving_moves_it_within_the_bar():
    curve, _ = quick(lambda r: 1.0 / r**2 + 1e-4, lambda r: 1.0 / r**2, bar=2e-4)
    for found in crossings(curve, LIMIT, 1e-6):
        assert abs(found.size - LIMIT**-0.5) <= found.uncertainty < 1e-5


@pytest.mark.parametrize("where", [LIMIT**-0.5, 9.0])
def test_a_quick_answer_that_is_wrong_is_told(where):
    def solved(r):
        return 1.0 / r**2 + 0.01 * np.exp(-((r - where) ** 2))

    curve, computed = quick(lambda r: 1.0 / r**2, solved)
    with pytest.raises(ContradictionError):
        crossings(curve, LIMIT, 1e-6)
    curve.keep_confirmed()
    assert set(curve.sizes) == set(computed)


def test_the_highest_peak_is_solved_where_every_size_meets_the_limit():
    def hump(size):
        return 0.15 * np.exp(-((size - 1.25) ** 2))

    curve, computed = quick(hump, hump)
    last, first = crossings(curve, LIMIT, 1e-6)
    assert last.size == first.size == 1.0
    assert {1.0, 1.25} <= set(computed)


def test_what_is_not_known_quickly_is_solved():
    curve = SizeCurve(lambda size: (0.1, 1e-9), lambda size: (1.0, 1.0))
    assert curve.worst(2.0) == 0.1
    assert curve.confirmed == {2.0}
