"""A made-up answer for a bend, so that outputs can be tested without computing anything."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.closed_forms.estimates import Estimate
from solver.closed_forms.source import Source
from solver.judgement.assessment import Provenance
from solver.judgement.verdict import judge
from solver.parts.field_picture import FieldPicture
from solver.reports.shown_assessment import ShownAssessment
from solver.rules.rules_of_thumb import RuleReading
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.scattering import PortMode, ScatteringMatrix


def made_up_scattering(band, peak=0.02, error=4e-5, leaked=0.0):
    """A lossless, reciprocal, symmetric two-port whose reflection ripples up to `peak`."""
    frequency = band.frequencies
    phase = np.linspace(0.5, 9.0, len(frequency))
    s11 = peak * np.sin(phase) * np.exp(-1j * phase)
    s21 = 1j * np.exp(-1j * phase) * np.sqrt(1 - np.abs(s11) ** 2)
    s = np.array([[s11, s21], [s21, s11]]).transpose(2, 0, 1)
    modes = tuple(PortMode(port, "TE10", 6.557e9) for port in (1, 2))
    n = len(frequency)
    return ScatteringMatrix(frequency, modes, s, np.full(n, error), np.full(n, leaked), np.zeros(n))


def made_up_field():
    """A travelling wave on a strip of triangles."""
    x, y = np.meshgrid(np.linspace(0, 0.06, 25), np.linspace(0, 0.01, 5))
    points = np.array([x.ravel(), y.ravel()])
    corner = np.array([row * 25 + column for row in range(4) for column in range(24)])
    cells = np.hstack(
        [
            np.array([corner, corner + 1, corner + 25]),
            np.array([corner + 1, corner + 26, corner + 25]),
        ]
    )
    return FieldPicture(points, cells, np.exp(-150j * points[0]), 10e9, "H_x")


def make_assessment(title="mast head riser", vswr=1.05, peak=0.02, **changes):
    limit = Limit(vswr=vswr)
    band = Band(8.2e9, 12.4e9, 101)
    component = Bend(standard_guide("WR-90"), "E", math.radians(37.0), 0.045)
    scattering = made_up_scattering(band, peak)
    book = Source(citation="S. O. Rice, BSTJ 27, 305 (1948)", mark="published")
    habit = Source(citation="shop practice", mark="common practice")
    parts = {
        "title": title,
        "component": component,
        "band": band,
        "limit": limit,
        "scattering": scattering,
        "estimates": (
            Estimate(
                name="junction reflections of a gentle bend",
                source=book,
                s11_abs=np.abs(scattering.s11) * 1.02,
                within_validity=True,
                note="",
            ),
            Estimate(
                name="an estimate far outside its range",
                source=habit,
                s11_abs=np.full(101, np.nan),
                within_validity=False,
                note="R/b is below 2",
            ),
        ),
        "rules": (
            RuleReading(
                name="two wavelengths",
                reading="mean radius at least two guide wavelengths at band centre",
                source=habit,
                measure="mean radius",
                required=0.0794,
                actual=0.045,
                satisfied=False,
                extra=0.0344,
            ),
        ),
        "verdict": judge(scattering, limit),
        "provenance": Provenance(
            version="0.1.0",
            method="scalar finite elements in the plane",
            unknowns=812,
            mesh={"cells": 52, "order": 4},
            factorisations=3,
            seconds={"mesh": 0.02, "solve": 0.1},
            convergence=(
                {"order": 3, "unknowns": 480, "change": 3e-4},
                {"order": 4, "unknowns": 812, "change": 4e-5},
            ),
            accuracy_reached=True,
            libraries={"numpy": "2.0"},
        ),
        "field": made_up_field(),
    }
    return ShownAssessment(**(parts | changes))


@pytest.fixture
def assessment():
    return make_assessment()


@pytest.fixture
def assessment_maker():
    return make_assessment
