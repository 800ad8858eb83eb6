"""Curves between nodes."""

import numpy as np

from solver.runs.local_polynomials import between_of, enough_nodes, interpolated


def ringing(x):
    """A resonance with a Q of about a thousand on a turning phase."""
    return (np.exp(3j * x) + 1e-3 / (x - 1.5003 - 7e-4j))[:, None]


def test_nodes_are_added_until_the_curve_is_known():
    nodes, values, doubt = enough_nodes(ringing, np.linspace(1.0, 2.0, 33), 1e-6)
    x = np.linspace(1.0, 2.0, 9001)
    assert np.abs(interpolated(nodes, values, x) - ringing(x)).max() < doubt <= 1e-6
    assert len(nodes) < 2000


def test_nodes_that_do_not_suffice_leave_a_doubt():
    def jump(x):
        return (x > 1.2345).astype(complex)[:, None]

    _, _, doubt = enough_nodes(jump, np.linspace(1.0, 2.0, 9), 1e-6)
    assert doubt > 0.1


def test_between_two_bars_the_larger_holds():
    nodes, bars = np.array([0.0, 1.0, 2.0]), np.array([1.0, 3.0, 2.0])
    assert between_of(nodes, bars, np.array([0.0, 0.5, 1.5, 2.0])).tolist() == [1.0, 3.0, 3.0, 2.0]
