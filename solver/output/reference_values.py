"""Verified reference values for a part, as course material and test data can use them."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.shapes.bends import Bend
from geometries.shapes.guides import RectangularGuide
from solver.studies.plain_values import described_component, described_guide, plain
from solver.waves.guide_modes import phase_constant

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment


def reference_columns(assessment: Assessment) -> dict[str, np.ndarray]:
    """Return the table's columns by name, each (n,).

    Parameters
    ----------
    assessment : Assessment
        The computed part; its error bar becomes the column ``s_error``.

    Notes
    -----
    The exact phase constant of a curved guide comes from its Bessel cross-product equation, which
    shares nothing with the finite elements; see `solver.closed_forms.curved_guides`.
    """
    scattering, component = assessment.scattering, assessment.component
    columns = {
        "frequency_ghz": scattering.frequency / 1e9,
        "s11_re": scattering.s11.real,
        "s11_im": scattering.s11.imag,
        "s11_abs": np.abs(scattering.s11),
    }
    if scattering.transmitted is not None:
        columns |= {"s21_re": scattering.s21.real, "s21_im": scattering.s21.imag}
    columns["s_error"] = scattering.error
    for estimate in assessment.estimates:
        columns[f"s11_abs by {estimate.name}"] = np.asarray(estimate.s11_abs)
    if isinstance(component.guide, RectangularGuide):
        beta = phase_constant(component.guide, scattering.frequency)
        columns["phase_constant_straight_rad_per_m"] = np.asarray(beta)
    if isinstance(component, Bend) and component.profile == "constant":
        columns |= _curved_phase_constants(component, scattering.frequency)
    return columns


def _curved_phase_constants(bend: Bend, frequency: np.ndarray) -> dict[str, np.ndarray]:
    from solver.closed_forms.curved_guides import (
        phase_constant_bessel,
        phase_constant_e_plane,
        phase_constant_h_plane,
    )

    gentle = phase_constant_e_plane if bend.plane == "E" else phase_constant_h_plane
    exact = phase_constant_bessel(bend.plane, bend.guide, bend.mean_radius, frequency)
    return {
        "phase_constant_curved_exact_rad_per_m": np.asarray(exact),
        "phase_constant_curved_order_r2_rad_per_m": np.asarray(
            gentle(bend.guide, bend.mean_radius, frequency)
        ),
    }


def reference_json(assessment: Assessment) -> dict[str, Any]:
    """Return the table with its part, sources and accuracy as plain values (schema 1)."""
    return plain(
        {
            "schema": 1,
            "title": assessment.title,
            "component": described_component(assessment.component),
            "guide": described_guide(assessment.component.guide),
            "columns": reference_columns(assessment),
            "sources": {e.name: str(e.source.citation) for e in assessment.estimates},
            "accuracy_reached": assessment.provenance.accuracy_reached,
            "version": assessment.provenance.version,
        }
    )


def reference_csv(assessment: Assessment) -> str:
    """Return the table as comma-separated values with one line of names."""
    columns = reference_columns(assessment)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    for row in zip(*columns.values(), strict=True):
        writer.writerow([f"{value:.12g}" for value in row])
    return text.getvalue()
