import numpy as np
import pytest

from solver.errors import LinearSolveError
from solver.waves.scattering import PortMode, ScatteringMatrix, return_loss_of, vswr_of

MODES = (PortMode(1, "TE10", 6.557e9), PortMode(2, "TE20", 13.1e9), PortMode(2, "TE10", 6.557e9))


def matrix(**changes):
    s = np.arange(9).reshape(1, 3, 3) / 10 + 0j
    parts = {
        "frequency": np.array([14e9]),
        "port_modes": MODES,
        "s": s,
        "error": np.array([1e-4]),
        "leaked_power": np.array([1e-6]),
        "dissipated_power": np.array([0.0]),
    }
    return ScatteringMatrix(**(parts | changes))


def test_elements_are_found_by_label():
    scattering = matrix()
    assert scattering.labels == ("1:TE10", "2:TE20", "2:TE10")
    assert scattering.element("2:TE20", "1:TE10")[0] == pytest.approx(0.3)
    assert scattering.s21[0] == pytest.approx(0.6)
    assert scattering.leakage_db[0] == pytest.approx(-60)
    with pytest.raises(KeyError, match="3:TE10"):
        scattering.element("3:TE10", "1:TE10")


def test_a_one_port_transmits_nothing():
    one = matrix(port_modes=MODES[:1], s=np.full((1, 1, 1), 0.5 + 0j))
    assert one.vswr[0] == pytest.approx(3.0)
    with pytest.raises(KeyError, match="one port"):
        _ = one.s21


def test_readings_stay_finite_at_the_extremes():
    assert np.isfinite(vswr_of([0.0, 1.0, 1.0 + 1e-12])).all()
    np.testing.assert_allclose(return_loss_of([0.0, 0.1]), [300.0, 20.0])


@pytest.mark.parametrize(
    ("changes", "error", "words"),
    [
        ({"error": np.array([np.nan])}, LinearSolveError, "error"),
        ({"s": np.full((1, 3, 3), np.inf + 0j)}, LinearSolveError, "14 GHz"),
        ({"s": np.zeros((1, 2, 2), complex)}, ValueError, "shape"),
        ({"leaked_power": np.zeros(2)}, ValueError, "leaked_power"),
    ],
)
def test_broken_matrices_are_refused(changes, error, words):
    with pytest.raises(error, match=words):
        matrix(**changes)
