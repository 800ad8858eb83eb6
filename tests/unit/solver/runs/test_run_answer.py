"""What is told of a run of measured windows, beside cascades of networks and closed forms."""

import csv
import json
import math
from dataclasses import replace

import numpy as np
import pytest
import skrf

from geometries.shapes.guides import standard_guide
from geometries.shapes.straights import Straight
from solver.run_output.run_files import write_run
from solver.runs.run_parts import run
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.run_chain import MeasuredPart, RunPart
from solver.waves.scattering import vswr_of
from solver.waves.walls import Walls

GUIDE, COPPER = standard_guide("WR-90"), Walls(5.8e7)
BAND = Band(8.2e9, 12.4e9, 9)
LENGTH, END = 0.06, 1.2
C, A, B = 299792458.0, 22.86e-3, 10.16e-3


def window(frequency, size=0.2, loss=0.01):
    """A window that reflects as much at every frequency and turns one part in a hundred to heat."""
    s11 = np.full(len(frequency), size) * np.exp(2.5j)
    s21 = 1j * np.sqrt(1 - size**2 - loss) * np.exp(2.5j)
    return np.array([[s11, s21 + 0 * s11], [s21 + 0 * s11, s11]]).transpose(2, 0, 1)


def beta(frequency):
    """With the attenuation of TE10 by Pozar, Microwave Engineering, 4th ed., eq. 3.96.

    The surface impedance is (1 + j) times the resistance: the wave is slowed as much.
    """
    k = 2 * np.pi * frequency / C
    running = np.sqrt(k**2 - (np.pi / A) ** 2)
    surface = np.sqrt(np.pi * frequency * 4e-7 * np.pi / 5.8e7)
    impedance = 4e-7 * np.pi * C
    lost = surface / (A**3 * B * running * k * impedance)
    return running + (1 - 1j) * lost * (2 * B * np.pi**2 + A**3 * k**2)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("windows")
    frequency = np.linspace(8e9, 12.6e9, 201)
    network = skrf.Network(f=frequency, f_unit="Hz", s=window(frequency), z0=50.0)
    network.write_touchstone("window", dir=str(folder))
    part = MeasuredPart(GUIDE, folder / "window.s2p")
    parts = [RunPart(part, "input window"), Straight(GUIDE, LENGTH), RunPart(part, "mast & window")]
    limit = Limit(return_loss_db=6.0)
    return run(parts, BAND, end_vswr=END, limit=limit, walls=COPPER, title="riser")


def cascaded(frequency):
    """The whole run as networks one after the other."""
    line = np.zeros((len(frequency), 2, 2), dtype=complex)
    line[:, 0, 1] = line[:, 1, 0] = np.exp(-1j * beta(frequency) * LENGTH)
    one, between = (
        skrf.Network(f=frequency, f_unit="Hz", s=s, z0=50.0) for s in (window(frequency), line)
    )
    return (one**between**one).s


def seen(s, phases=3600):
    """Largest reflection with an end of any phase."""
    load = (END - 1) / (END + 1) * np.exp(2j * np.pi * np.arange(phases) / phases)
    s = s[:, :, :, None]
    found = s[:, 0, 0] + s[:, 0, 1] * s[:, 1, 0] * load / (1 - s[:, 1, 1] * load)
    return np.abs(found).max(axis=1)


def test_the_whole_is_the_cascade_of_its_parts(made):
    exact = cascaded(BAND.frequencies)
    off = np.abs(made.scattering.s - exact).reshape(len(exact), -1).max(axis=1)
    # first order in the surface impedance: 1e-4 of the wave, squared, is left out
    assert (off <= made.scattering.error + 1e-6).all()


def test_the_transmitter_sees_the_worst_phase_of_the_end(made):
    frequency = made.whole.frequency
    exact = seen(cascaded(frequency))
    np.testing.assert_allclose(np.abs(made.whole.s11), exact, atol=1e-5)
    fine = seen(cascaded(np.linspace(BAND.start, BAND.stop, 2001)), 720)
    assert np.abs(made.whole.s11).max() == pytest.approx(fine.max(), abs=1e-3)
    assert made.verdict.worst == pytest.approx(-20 * math.log10(fine.max()), abs=0.02)


def test_power_that_does_not_come_back_or_through_is_heat(made):
    s = cascaded(BAND.frequencies)
    lost = 1 - np.abs(s[:, 0, 0]) ** 2 - np.abs(s[:, 1, 0]) ** 2
    np.testing.assert_allclose(made.scattering.dissipated_power, lost, atol=1e-5)
    assert not made.scattering.leaked_power.any()
    fine = cascaded(np.linspace(BAND.start, BAND.stop, 2001))
    worst = -20 * np.log10(np.abs(fine[:, 1, 0]).min())
    assert made.worst_loss_db == pytest.approx(worst, abs=2e-3)


def test_each_part_has_its_line(made):
    first, straight, last = made.parts
    assert [line.kind for line in made.parts] == ["measured", "straight", "measured"]
    for line in (first, last):
        assert line.worst_s11 == pytest.approx(0.2, abs=1e-6)
        assert line.worst_loss_db == pytest.approx(-10 * math.log10(0.95), abs=1e-5)
        assert line.breakdown_w is line.breakdown_in_run_w is None
    # attenuation is largest at the low edge, 8.686 dB a neper
    lost = -beta(np.array([BAND.start])).imag[0] * LENGTH * 20 / math.log(10)
    assert straight.worst_loss_db == pytest.approx(lost, rel=1e-3)
    assert (straight.worst_s11, straight.method) == (0.0, "closed form")
    # the guide alone breaks down where its field reaches 3 MV/m, at some MW
    assert made.weakest_part is straight and 0.5e6 < straight.breakdown_w < 2e6
    # one window and the end are left without the other: (r + e)/(1 + r e) where nothing is lost
    end = (END - 1) / (END + 1)
    assert last.without_it <= (0.2 + end) / (1 + 0.2 * end)
    assert straight.without_it == made.worst_case.worst > first.without_it
    assert made.improve_first in (first, last)


def test_files_of_a_run(made, tmp_path):
    parts = (replace(made.parts[0], files={"report.html": b"<p>its own</p>"}), *made.parts[1:])
    paths = write_run(tmp_path / "out", replace(made, parts=parts))
    assert {"report.html", "result.json", "table.csv", "run.svg", "vswr.svg"} <= {
        path.name for path in paths
    }
    own = tmp_path / "out" / "parts" / "01-input-window" / "report.html"
    assert own.read_bytes() == b"<p>its own</p>"
    page = (tmp_path / "out" / "report.html").read_text()
    assert "parts/01-input-window/report.html" in page
    assert "mast &amp; window" in page and "mast & window" not in page
    rows = list(csv.DictReader((tmp_path / "out" / "table.csv").read_text().splitlines()))
    assert [float(row["frequency_hz"]) for row in rows] == pytest.approx(list(BAND.frequencies))
    s = cascaded(BAND.frequencies)
    for name, exact in (("s11_abs", s[:, 0, 0]), ("s21_abs", s[:, 1, 0])):
        found = [float(row[name]) for row in rows]
        np.testing.assert_allclose(found, np.abs(exact), atol=1e-5)
    assert [float(row["input_s11_abs"]) for row in rows] == pytest.approx(list(seen(s)), abs=1e-5)
    told = json.loads((tmp_path / "out" / "result.json").read_text())
    assert told["end"] == {"vswr": END} and told["parts"][1]["breakdown_in_run_w"] is None
    (network,) = (path for path in paths if path.suffix == ".s2p")
    np.testing.assert_allclose(skrf.Network(str(network)).s, made.scattering.s, atol=1e-8)


def test_a_limit_of_return_loss_is_drawn_as_a_vswr(made):
    """6 dB are an amplitude of 0.501, a VSWR of 3.01."""
    from solver.run_output.run_files import _vswr_figure

    (axes,) = _vswr_figure(made).axes
    level = float(vswr_of(10 ** (-6 / 20)))
    drawn = [float(line.get_ydata()[0]) for line in axes.lines if len(set(line.get_ydata())) == 1]
    assert level in [pytest.approx(y) for y in drawn]
