"""Lines that draw together towards edges."""

import numpy as np
import pytest

from geometries.cells.graded_lines import growing, layers, lines_between, pieces


def test_cells_grow_by_their_ratio_and_stop_in_reach():
    points = growing(1.0, 0.5, 20.0)
    assert points.tolist() == [1.0, 2.0, 4.0, 8.0, 16.0]


def test_growth_stops_where_cells_would_be_too_long():
    assert growing(1.0, 0.5, 100.0, largest=3.0).tolist() == [1.0, 2.0, 4.0]


@pytest.mark.parametrize(("first", "reach"), [(0.0, 1.0), (2.0, 1.0)])
def test_no_cells_without_room_or_thickness(first, reach):
    assert growing(first, 0.2, reach).size == 0


def test_layers_end_at_powers_of_the_ratio():
    np.testing.assert_allclose(layers(10.0, 0.1, 3), [0.01, 0.1, 1.0], rtol=1e-15)


def test_lines_between_fill_the_rest_with_equal_cells():
    lines = lines_between(10.0, np.array([1.0]), np.array([0.5, 2.0]), 2.5)
    np.testing.assert_allclose(lines, [0.0, 1.0, 1.0 + 7 / 3, 1.0 + 14 / 3, 8.0, 9.5, 10.0])


def test_a_length_of_whole_cells_gets_no_cell_more():
    assert pieces(0.3, 0.1) == 3
    assert pieces(0.31, 0.1) == 4
    assert pieces(1e-9, 1.0) == 1
