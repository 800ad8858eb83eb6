import pytest

from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import standard_guide
from solver.rules.rules_of_thumb import rules_for
from solver.studies.band import Band


def test_every_reading_of_a_fine_pitch():
    # WR-90 at 12.4 GHz: free-space wavelength 24.18 mm, guide wavelength 28.49 mm
    part = Flexible(standard_guide("WR-90"), 6.5e-3, 1e-3, 10)
    readings = rules_for(part, Band(8.2e9, 12.4e9))
    assert len(readings) == 9
    asked = {rule.reading: rule for rule in readings}
    quarter = asked["pitch at most a quarter of the free-space wavelength at the high edge"]
    assert quarter.required == pytest.approx(6.044e-3, abs=1e-6)
    assert not quarter.satisfied
    assert quarter.extra == pytest.approx(0.456e-3, abs=1e-6)
    guided = asked["pitch at most a quarter of the guide wavelength at the high edge"]
    assert guided.required == pytest.approx(7.12e-3, abs=5e-6)
    assert guided.satisfied
    assert all(rule.source.mark == "common practice" for rule in readings)
