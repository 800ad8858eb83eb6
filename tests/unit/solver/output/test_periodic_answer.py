"""Stopbands and phases of a row in JSON and in words."""

from types import SimpleNamespace

import numpy as np
import pytest

from solver.output.periodic_answer import described_periodic, periodic_lines
from solver.periodic.periodic_guide import PeriodicGuide

FREQUENCY = np.array([9e9, 10e9, 11e9])


def guide(stopbands=(), loss=None):
    return PeriodicGuide(
        period=6e-3,
        frequency=FREQUENCY,
        phase=np.array([1.0, np.pi, 3.5]),
        phase_error=np.full(3, 1e-4),
        attenuation=np.array([0.0, 0.2, 0.0]),
        stopbands=stopbands,
        stopband_error=2e5,
        extra_loss=loss,
    )


def test_plain_values():
    found = described_periodic(guide(((9.8e9, 10.2e9),), np.array([0.01, 0.02, 0.03])))["periodic"]
    assert found["period_mm"] == pytest.approx(6.0)
    np.testing.assert_allclose(found["stopbands_ghz"], [[9.8, 10.2]])
    np.testing.assert_allclose(found["phase_per_period_deg"], [57.29578, 180.0, 200.53523], 1e-6)
    # a neper is 8.685890 dB
    np.testing.assert_allclose(found["attenuation_per_period_db"], [0, 1.737178, 0], 1e-6)
    assert found["stopband_error_ghz"] == pytest.approx(2e-4)
    assert "extra_loss_db" in found
    assert "extra_loss_db" not in described_periodic(guide())["periodic"]
    assert described_periodic(None) == {}


def test_words():
    said = periodic_lines(SimpleNamespace(periodic=guide(((9.8e9, 10.2e9),))))
    assert "9.8 to 10.2 GHz" in said[1]
    assert "no stopband" in periodic_lines(SimpleNamespace(periodic=guide()))[1]
    assert periodic_lines(SimpleNamespace(periodic=None)) == []


@pytest.mark.parametrize(
    ("stopband", "said"),
    [
        ((9.8e9, 10.2e9), "touches the band"),
        ((8e9, 9.01e9), "touches the band"),
        ((11.1e9, 11.2e9), "lies close to the band"),
    ],
)
def test_cautions(stopband, said):
    assert said in guide((stopband,)).cautions[0]
    assert guide().cautions == ()
