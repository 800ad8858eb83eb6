"""A part with one port, from its mesh to every output: a guide that ends in a short."""

import re
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import ClassVar

import numpy as np
import pytest

from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.plane_meshes.plane_mesh import feed_length
from geometries.shapes.bends import width_in_plane
from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.part import Part, mirrors_of_plane
from geometries.shapes.straights import Straight
from geometries.shapes.units import GUIDE, LENGTH, NAME
from solver import assess
from solver.exchange.touchstone import touchstone_name, touchstone_text
from solver.figures.drawings_turning import draw_straight
from solver.output.drawing import drawing_of
from solver.output.screen import assessment_text
from solver.reports.exploration_files import _point
from solver.reports.report import report_html
from solver.searches.exploration import Cell
from solver.searches.part_curves import as_record, curves_of, from_record
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.study import Study
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT, phase_constant
from solver.waves.guide_power import attenuation_te10, surface_resistance
from solver.waves.walls import Walls

WR90 = standard_guide("WR-90")
BAND = Band(8.2e9, 12.4e9, 11)
COPPER = 5.8e7


@dataclass(frozen=True)
class ShortedGuide(Part):
    """Straight guide that ends in a metal plate."""

    kind: ClassVar[str] = "shorted-guide"

    guide: RectangularGuide = field(metadata=GUIDE)
    plane: str = field(metadata=NAME)
    length: float = field(metadata=LENGTH)

    @property
    def guides(self):
        return (self.guide,)

    @property
    def exact_plane(self):
        return self.plane

    @property
    def axis_length(self):
        return self.length

    @property
    def mirrors(self):
        return mirrors_of_plane(self.plane)

    @property
    def has_sharp_edges(self):
        return False


@pytest.fixture(scope="module", autouse=True)
def _registered():
    """Let the solver mesh the part: a straight guide whose second port is metal."""

    def mesh(part, wavelength, *, plane="H", refinement=0):
        # the plate stands where the second feed of the straight guide ends
        feed = feed_length(width_in_plane(part.guide, plane))
        straight = Straight(part.guide, part.length - feed)
        whole = mesh_in_plane(straight, wavelength, plane=plane, refinement=refinement)
        named = dict(whole.mesh.boundaries)
        plate = named.pop("port2")
        named["wall"] = np.concatenate([named["wall"], plate])
        bare = replace(whole.mesh, _boundaries=named)
        return replace(whole, mesh=bare, ports=whole.ports[:1])

    mesh_in_plane.register(ShortedGuide, mesh)
    drawing_of.register(ShortedGuide, lambda part: draw_straight(Straight(part.guide, part.length)))


@pytest.fixture(scope="module", params=["E", "H"])
def shorted(request):
    part = ShortedGuide(WR90, request.param, 40e-3)
    return assess(part, BAND, limit=Limit(vswr=1.2), s_error=1e-6)


def test_a_short_reflects_minus_one_turned_by_its_distance(shorted):
    found = shorted.scattering
    assert found.labels == ("1:TE10",)
    turn = phase_constant(WR90, found.frequency) * 2 * 40e-3
    wrong = np.abs(found.s11 + np.exp(-1j * turn))
    assert (wrong <= found.error).all() and found.error.max() < 1e-6
    assert shorted.verdict.outcome == "exceeds"


@pytest.mark.parametrize("plane", ["E", "H"])
def test_walls_damp_the_way_there_and_back(plane):
    walls = Walls(COPPER)
    found = assess(ShortedGuide(WR90, plane, 0.2), BAND, s_error=1e-5, walls=walls).scattering
    # the plate reflects (Zs - Zw)/(Zs + Zw) with Zw = eta0 k/beta
    k = 2 * np.pi * found.frequency / SPEED_OF_LIGHT
    ratio = surface_resistance(COPPER, found.frequency) / ETA0
    plate = 1 - 2 * ratio * phase_constant(WR90, found.frequency) / k
    beta, loss = (
        phase_constant(WR90, found.frequency),
        attenuation_te10(WR90, found.frequency, COPPER),
    )
    there_and_back = 2 * loss * 0.2
    wrong = np.abs(np.abs(found.s11) - plate * np.exp(-there_and_back))
    # both are of first order in Rs, which moves beta as much as it damps
    second_order = 3 * loss / beta * there_and_back
    assert (wrong < second_order).all() and second_order.max() < 4e-6
    np.testing.assert_allclose(found.dissipated_power, 1 - np.abs(found.s11) ** 2, atol=1e-12)


@pytest.mark.slow
def test_every_output_of_one_port(shorted, tmp_path):
    text = assessment_text(shorted)
    # letters of a picture may spell anything
    page = re.sub(r"base64,[\w+/=]+", "", report_html(shorted))
    assert "insertion loss" not in text and "insertion loss" not in page
    assert "S21" not in text and "S21" not in page
    assert "Transmitted power" not in page
    assert touchstone_name(shorted) == "scattering.s1p"
    rows = [line for line in touchstone_text(shorted).splitlines() if line[:1].isdigit()]
    assert len(rows) == 11 and all(len(row.split()) == 3 for row in rows)
    result = shorted.to_json()
    assert result["port_modes"] == [{"port": 1, "mode": "TE10"}]
    assert np.shape(result["s_re"]) == (11, 1, 1)
    names = {path.name for path in shorted.save(tmp_path / "out")}
    assert {"result.json", "scattering.s1p", "report.html", "field.vtu"} <= names
    # the standing wave of a short: the field is twice that of the entering wave
    assert shorted.peak_field.ratio == pytest.approx(2.0, rel=0.02)


def test_curves_of_one_port_have_no_transmission():
    part = ShortedGuide(WR90, "H", 40e-3)
    study = Study("t", part, BAND, Limit(vswr=1.2), 1e-4, None, Path("t.toml"))
    curves = curves_of(study)
    assert curves.s21 is None
    record = as_record(curves)
    assert not any(name.startswith("s21") for name in record)
    again = from_record(record)
    assert again.s21 is None and np.array_equal(again.s11, curves.s11)
    verdict = assess(part, BAND, limit=Limit(vswr=1.2)).verdict
    assert "s21_re" not in _point(Cell({}, curves, verdict, None))


def test_walls_towards_cutoff_leave_more_to_the_second_order():
    """Phase constant of TE10 between copper walls, by its square, against the first order in Rs."""
    from solver.parts.plane_losses import second_order

    a, b, f = 22.86e-3, 10.16e-3, np.array([6.7e9, 8.2e9, 12.4e9])
    k, kc = 2 * np.pi * f / SPEED_OF_LIGHT, np.pi / a
    beta = np.sqrt(k**2 - kc**2)
    # attenuation by power, R. E. Collin, "Foundations for Microwave Engineering", eq. 3.106 (from
    # memory); the walls' reactance equals their resistance
    alpha = surface_resistance(5.8e7, f) / ETA0 * (2 * b * kc**2 + a * k**2) / (a * b * beta * k)
    square = (beta + alpha * (1 - 1j)) ** 2 - (alpha * (1 - 1j)) ** 2
    left_out = np.abs(np.sqrt(square) - beta - alpha * (1 - 1j)) * 0.4
    assert (left_out < second_order(f, 5.8e7, 0.4, kc * SPEED_OF_LIGHT / (2 * np.pi))).all()
