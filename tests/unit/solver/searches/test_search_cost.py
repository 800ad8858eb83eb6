import math
from dataclasses import replace

import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from geometries.shapes.straights import Straight
from geometries.shapes.twists import Twist
from solver.errors import StudyError, UnsupportedPartError
from solver.judgement.assess_part import assess
from solver.judgement.cost import half_waves
from solver.searches import search_cost
from solver.searches.gradual import gradual
from solver.searches.point_store import PointStore
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.scattering import PortMode
from tests.unit.solver.made_up_curves import made_up_curves

GUIDE, BAND = standard_guide("WR-90"), Band(8.2e9, 12.4e9, 11)
MODES = (PortMode(1, "TE10", 6.557e9), PortMode(2, "TE10", 6.557e9))


def bend(radius=45e-3):
    return Bend(GUIDE, "E", math.pi / 2, radius)


def test_half_waves_are_those_of_the_guide_wavelength():
    # lambda_g at 12.4 and 8.2 GHz from c/f and the cutoff wavelength 2a, by hand
    lengths = [1 / math.sqrt((f / 0.299792458) ** 2 - (1 / 0.04572) ** 2) for f in (8.2, 12.4)]
    expected = 1.0 / (lengths[1] / 2) - 1.0 / (lengths[0] / 2)
    assert half_waves(Straight(GUIDE, 1.0), BAND) == pytest.approx(expected, rel=1e-9)


def test_a_very_long_part_is_refused_with_what_to_do():
    with pytest.raises(UnsupportedPartError, match=r"4712 mm long .* 13 minutes.*--however-long"):
        assess(bend(3.0), BAND)


def test_a_very_long_part_is_taken_on_demand(monkeypatch):
    class Solving(Exception):  # noqa: N818
        pass

    def solve(*given, **named):
        raise Solving

    monkeypatch.setattr("solver.judgement.assess_part.solve_part", solve)
    with pytest.raises(Solving):
        assess(bend(3.0), BAND, however_long=True)


def test_a_limit_under_the_accuracy_is_refused():
    # |S11| = (VSWR - 1)/(VSWR + 1)
    with pytest.raises(StudyError, match=r"5e-08.*ask for s_error = 1e-08"):
        gradual(bend(), BAND, Limit(vswr=1.0000001))
    with pytest.raises(StudyError, match="told to meet it; loosen"):
        gradual(bend(), BAND, Limit(return_loss_db=180.0))


def test_a_search_without_end_is_refused_before_it_starts():
    with pytest.raises(StudyError, match=r"sizes up to \d+ mm, about \d+ minutes; at most 20"):
        gradual(bend(), BAND, Limit(vswr=1.0000001), s_error=1e-8)


def made_up(monkeypatch, worst):
    monkeypatch.setattr("solver.searches.sized_parts.KnownSizes.worst", worst)


def test_a_search_ends_when_its_time_is_up(monkeypatch):
    now = [0.0]

    def worst(self, part, s_error):
        now[0] += 100.0
        return 0.5, 1e-6

    made_up(monkeypatch, worst)
    monkeypatch.setattr(search_cost.time, "monotonic", lambda: now[0])
    twist = Twist(GUIDE, 1.0, 0.1)
    with pytest.raises(StudyError, match=r"ended after 7 minutes at .* 4 sizes computed"):
        gradual(twist, BAND, Limit(vswr=1.05), most_minutes=5.0)


def test_progress_tells_the_share_of_the_scan(monkeypatch):
    told = []
    made_up(monkeypatch, lambda self, part, s_error: (1e-4 / part.mean_radius, 1e-7))
    # every size of a smooth bend is solved
    gradual(
        replace(bend(), profile="smooth", onset=0.3),
        BAND,
        Limit(vswr=1.01),
        progress=lambda step, share=None: told.append((step, share)),
    )
    shares = [share for step, share in told if "closing in" not in step]
    assert shares == sorted(shares)
    assert shares[0] == 0.0 and shares[-1] > 0.9
    assert told[-1][0].endswith("closing in")


def test_sizes_are_kept_and_a_broken_search_goes_on(tmp_path, monkeypatch):
    computed, most = [], [5]

    def until_interrupted(study):
        if len(computed) == most[0]:
            raise KeyboardInterrupt
        radius = study.component.mean_radius
        computed.append(radius)
        frequency = study.band.frequencies
        return made_up_curves(frequency, MODES, 1e-3 / radius, 1e-6, 0.0)

    monkeypatch.setattr("solver.searches.sized_parts.curves_of", until_interrupted)
    store, limit = PointStore(tmp_path / "out"), Limit(vswr=1.2)
    with pytest.raises(KeyboardInterrupt):
        gradual(bend(), BAND, limit, store=store)
    assert "finished points kept" in store.kept_text
    first = computed.copy()
    computed.clear()
    most[0] = 1000
    found = gradual(bend(), BAND, limit, store=PointStore(tmp_path / "out"))
    assert computed
    assert not set(first) & set(computed)
    # |S11| = 0.2/2.2 at the limit
    assert found.smallest == pytest.approx(1e-3 * 11, abs=1e-4)
