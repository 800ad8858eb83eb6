"""The result as one HTML page that needs no network, and as a short view for notebooks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from markupsafe import Markup

from solver.output import pictures, plots
from solver.output.cautions import BROKEN_RULE, CAUTIONS, CAUTIONS_SOURCE, FABRICATED_GUIDE
from solver.output.drawing import drawing_of, in_mm
from solver.output.estimate_wording import leakage_rows
from solver.output.field_files import vtu_bytes
from solver.output.inline_figures import as_png_address, as_svg
from solver.output.page_templates import page_template
from solver.output.result_json import as_text, gradual_result_of, result_of
from solver.output.touchstone import touchstone_name, touchstone_text
from solver.output.wording import (
    band_text,
    gradual_text,
    headline,
    loss_text,
    margin_text,
    part_text,
    peak_text,
    smallest_text,
)
from solver.studies.plain_values import dimensions_of
from solver.waves.guide_modes import guide_wavelength

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from solver.judgement.assessment import Assessment
    from solver.rules.rules_of_thumb import RuleReading
    from solver.searches.gradual import GradualResult

#: Rows of the table of S-parameters; the JSON and Touchstone files hold them all.
_SAMPLES = 11


def result_files(assessment: Assessment, more: Mapping[str, Any] | None = None) -> dict[str, bytes]:
    """Return the content of every file of a result, by name; `more` goes into the JSON file."""
    files = {
        "result.json": as_text(result_of(assessment) | dict(more or {})).encode("ascii"),
        touchstone_name(assessment): touchstone_text(assessment).encode("ascii"),
        "report.html": report_html(assessment).encode("utf-8"),
    }
    if assessment.field is not None:
        files["field.vtu"] = vtu_bytes(assessment.field)
    return files


def gradual_files(result: GradualResult, version: str) -> dict[str, bytes]:
    """Return the content of every file of a search for the most compact part, by name."""
    return {
        "gradual.json": as_text(gradual_result_of(result)).encode("ascii"),
        "gradual.html": gradual_html(result, version).encode("utf-8"),
    }


def report_html(assessment: Assessment) -> str:
    """Return the whole report as one HTML page; it fetches nothing."""
    scattering, provenance = assessment.scattering, assessment.provenance
    field, goes_on = assessment.field, plots.transmission_figure(assessment)
    page = _headline(assessment) | {
        "kind_of_page": "guideproof report",
        "cautions": CAUTIONS,
        "cautions_source": CAUTIONS_SOURCE,
        "version": provenance.version,
        "band": band_text(assessment.band),
        **_part(assessment),
        "vswr": Markup(as_svg(plots.vswr_figure(assessment))),
        "reflection": Markup(as_svg(plots.reflection_figure(assessment))),
        "transmission": Markup(as_svg(goes_on)) if goes_on is not None else "",
        "leakage": leakage_svg(assessment),
        "thin_bar": "; where it cannot be seen it is thinner than the line",
        "walls": "with loss" if scattering.dissipated_power.any() else "without loss",
        **_samples(assessment),
        "field": as_png_address(pictures.field_figure(field)) if field is not None else "",
        "field_text": _field_text(assessment),
        "loss": loss_text(assessment.over_band),
        "peak_field": _peak(assessment),
        "estimates": _estimates(assessment),
        "broken_rule": BROKEN_RULE,
        "fabricated_guide": FABRICATED_GUIDE,
        "leakage_rows": leakage_rows(assessment.estimates, scattering),
        "leakage_note": next((e.leakage_note for e in assessment.estimates if e.leakage_note), ""),
        "computed_worst": f"{np.max(np.abs(assessment.over_band.s11)):.4g}",
        "error": f"{np.max(scattering.error):.2g}",
        "wanted": f"{assessment.wanted_error:.2g}",
        **_rules(assessment.rules, "The part has"),
        "method": provenance.method[:1].upper() + provenance.method[1:].rstrip("."),
        "accuracy_reached": provenance.accuracy_reached,
        "provenance": _provenance(assessment),
        **_convergence(provenance.convergence),
    }
    return page_template("report.html").render(page)


def leakage_svg(assessment: Assessment) -> str:
    """Return the figure of what leaks; empty for a closed part."""
    if not assessment.scattering.leaked_power.any():
        return ""
    return Markup(as_svg(plots.leakage_figure(assessment)))


def notebook_html(assessment: Assessment) -> str:
    """Return a short view of the result for a notebook cell."""
    shown = _headline(assessment) | {
        "part": part_text(assessment.component),
        "vswr": Markup(as_svg(plots.vswr_figure(assessment))),
    }
    return page_template("notebook.html").render(shown)


def gradual_html(result: GradualResult, version: str) -> str:
    """Return the search for the most compact part as one HTML page; it fetches nothing."""
    wavelength = float(guide_wavelength(result.guide, result.band.centre))
    curve = plots.gradual_figure(result, wavelength)
    found = result.smallest is not None
    page = {
        "kind_of_page": "guideproof gradual",
        "title": f"How gradual must this {result.kind} be?",
        "part": gradual_text(result),
        "version": version,
        "band": band_text(result.band),
        "outcome": "meets" if found else "undecided",
        "headline": smallest_text(result),
        "reasons": [sentence.rstrip(".") for sentence in result.reasons],
        "curve": Markup(as_svg(curve)),
        "cautions": CAUTIONS,
        "cautions_source": CAUTIONS_SOURCE,
        **_rules(result.rules, "Found"),
    }
    return page_template("gradual_report.html").render(page)


def _headline(assessment: Assessment) -> dict[str, Any]:
    verdict = assessment.verdict
    return {
        "title": assessment.title,
        "outcome": verdict.outcome.replace(" ", "-"),
        "headline": headline(verdict),
        "worst": verdict.text[:1].upper() + verdict.text[1:],
        "margin": margin_text(verdict, assessment.band),
        "reasons": [reason[:1].upper() + reason[1:] for reason in verdict.reasons],
    }


def _part(assessment: Assessment) -> dict[str, Any]:
    component, guide = assessment.component, assessment.component.guide
    drawing = drawing_of(component)
    label = f"{component.kind} in {guide.label}"
    inside = [("guide", guide.label)]
    if hasattr(guide, "broad_width"):
        inside.append(("inside", f"{in_mm(guide.broad_width)} by {in_mm(guide.narrow_height)}"))
    plane = getattr(component, "plane", None)
    limit = assessment.limit.text if assessment.limit is not None else "none was set"
    return {
        "part": part_text(component),
        "drawing": Markup(as_svg(pictures.drawing_figure(drawing, label))) if drawing else "",
        "dimensions": [
            *inside,
            *((("plane", f"{plane}-plane"),) if plane else ()),
            *(drawing.dimensions if drawing else _named_dimensions(component)),
            ("limit", limit),
        ],
    }


def _named_dimensions(component: Any) -> list[tuple[str, str]]:
    """Dimensions of a part without a drawing, by the keys of a study file."""
    named = []
    for dimension in dimensions_of(component):
        text = dimension.text
        if isinstance(dimension.value, dict):
            sides = (v for key, v in dimension.value.items() if key != "name")
            text = f"{' by '.join(f'{side:.6g}' for side in sides)} mm"
        if dimension.name != "plane":
            named.append((dimension.words, text))
    return named


def _samples(assessment: Assessment) -> dict[str, Any]:
    """Rows of S-parameters, the two ends of the band and the worst frequency among them."""
    scattering = assessment.scattering
    count = len(scattering.frequency)
    chosen = set(np.linspace(0, count - 1, min(count, _SAMPLES)).round().astype(int).tolist())
    chosen.add(int(np.argmax(np.abs(scattering.s11))))
    passing = scattering.transmitted is not None
    rows = []
    for at in sorted(chosen):
        row = [
            f"{scattering.frequency[at] / 1e9:.6g}",
            f"{np.abs(scattering.s11[at]):.5f}",
            f"{scattering.return_loss_db[at]:.2f}",
            f"{scattering.vswr[at]:.5f}",
        ]
        if passing:
            row += [
                f"{scattering.insertion_loss_db[at]:.5f}",
                f"{np.degrees(np.angle(scattering.s21[at])):.2f}",
            ]
        rows.append([*row, f"{scattering.error[at]:.1e}"])
    heads = ["f / GHz", "|S11|", "return loss / dB", "VSWR"]
    heads += ["insertion loss / dB", "phase of S21 / deg"] if passing else []
    return {
        "sample_heads": [*heads, "error of S"],
        "samples": rows,
        "samples_note": f"{len(rows)} of {count} frequencies; result.json and the Touchstone file "
        "hold them all.",
    }


def _field_text(assessment: Assessment) -> str:
    field = assessment.field
    if field is None:
        return ""
    return (
        f"{field.quantity} at {field.frequency / 1e9:.6g} GHz for a wave that enters at port 1, "
        "over the peak of that wave alone"
        + (": at one instant, and its magnitude." if field.points.shape[0] == 2 else ".")
    )


def _peak(assessment: Assessment) -> list[str]:
    peak = assessment.peak_field
    if peak is None:
        return []
    return [f"Largest electric field: {peak_text(peak)}.", f"It holds for {peak.note}."]


def _estimates(assessment: Assessment) -> list[dict[str, str]]:
    computed = np.abs(assessment.scattering.s11)
    shown = []
    for estimate in assessment.estimates:
        finite = np.isfinite(estimate.s11_abs)
        values = np.asarray(estimate.s11_abs)[finite]
        gap = np.abs(values - computed[finite])
        shown.append(
            {
                "name": estimate.name,
                "note": estimate.note,
                "worst": f"{values.max():.4g}" if values.size else "no value",
                "furthest": f"{gap.max():.2g}" if values.size else "",
                "within": "yes" if estimate.within_validity else "no",
                "source": str(estimate.source),
            }
        )
    return shown


def _rules(rules: Iterable[RuleReading], actual: str) -> dict[str, Any]:
    """Rows of the table of rules; their sources are long and repeat, so they get numbers."""
    rules = tuple(rules)
    sources = list(dict.fromkeys(str(rule.source) for rule in rules))
    rows = [
        {
            "name": rule.name,
            "reading": rule.reading,
            "measure": rule.measure,
            "required": in_mm(round(rule.required, 5)),
            "actual": in_mm(round(rule.actual, 5)),
            "holds": "yes" if rule.satisfied else "no",
            "cost": "none" if rule.satisfied else in_mm(round(rule.required - rule.actual, 5)),
            "source": f"[{sources.index(str(rule.source)) + 1}]",
        }
        for rule in rules
    ]
    return {"rules": rows, "rule_sources": sources, "actual_name": actual}


def _provenance(assessment: Assessment) -> list[tuple[str, str]]:
    made = assessment.provenance
    rows = [
        ("version", f"guideproof {made.version}"),
        ("unknowns", f"{made.unknowns}"),
        ("mesh", _listed(made.mesh)),
        ("factorisations of a full-size matrix", f"{made.factorisations}"),
        ("seconds", _listed(made.seconds)),
        ("libraries", _listed(made.libraries)),
        ("modes that propagate but that symmetry keeps apart", ", ".join(made.uncoupled_modes)),
    ]
    return [(name, text) for name, text in rows if text]


def _listed(named: dict[str, Any]) -> str:
    return ", ".join(f"{name.replace('_', ' ')} {_cell(value)}" for name, value in named.items())


def _convergence(levels: Sequence[dict[str, Any]]) -> dict[str, Any]:
    heads = list(dict.fromkeys(name for level in levels for name in level))
    rows = [[_cell(level.get(name, "")) for name in heads] for level in levels]
    return {"convergence_heads": [h.replace("_", " ") for h in heads], "convergence": rows}


def _cell(value: Any) -> str:
    return f"{value:.3g}" if isinstance(value, float) else f"{value}"
