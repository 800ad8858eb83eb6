"""The result as one HTML page that needs no network, and as a short view for notebooks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from markupsafe import Markup

from solver.exchange.field_files import vtu_bytes
from solver.exchange.touchstone import touchstone_name, touchstone_text
from solver.figures import field_figures
from solver.figures.inline_figures import as_png_address, as_svg, as_svg_file
from solver.figures.part_sheet import drawing_figure
from solver.figures.pattern_figure import pattern_figure
from solver.output import plots
from solver.output.cautions import BROKEN_RULE, FABRICATED_GUIDE
from solver.output.drawing import drawing_of
from solver.output.estimate_wording import leakage_rows
from solver.output.heat_answer import heat_lines
from solver.output.periodic_answer import periodic_lines
from solver.output.radiation_answer import radiation_lines
from solver.output.reference_values import reference_csv
from solver.output.result_json import as_text, result_of
from solver.output.rule_wording import rules_frame
from solver.output.wording import (
    band_text,
    headline,
    held_band_text,
    in_mm,
    loss_text,
    part_text,
    peak_text,
    room_text,
    shown_dimensions,
)
from solver.reports.next_steps import next_steps
from solver.reports.page_frame import answer_frame, folder_files, page_frame
from solver.reports.page_templates import page_template
from solver.studies.inches import guide_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from matplotlib.figure import Figure

    from solver.judgement.assessment import Assessment
    from solver.reports.run_record import RunRecord

#: Rows of the table of S-parameters; the JSON and Touchstone files hold them all.
_SAMPLES = 11
_CAPTIONS = {
    "vswr": "The shaded band is the error bar: it holds the value for the part as described; where "
    "it cannot be seen it is thinner than the line. The limit's ticks stand on the side that is "
    "not allowed.",
    "transmission": "0 dB means that all power goes on.",
    "leakage": "Beyond the rim the gap goes on as a matched radial line, so that nothing returns.",
    "heat": "The area under the curve is what does not come back.",
    "pattern": "Directivity in the E-plane and in the H-plane, over an isotropic radiator, at the "
    "middle of the band; a shaded band is the error bar.",
}


def result_files(
    assessment: Assessment,
    more: Mapping[str, Any] | None = None,
    record: RunRecord | None = None,
) -> dict[str, bytes]:
    """Return the content of every file of a result, by name.

    Parameters
    ----------
    assessment : Assessment
    more : mapping, optional
        Further keys of the JSON file.
    record : RunRecord, optional
        How it came about.
    """
    drawn = {name: as_svg(figure) for name, figure in _figures(assessment).items()}
    files = folder_files(
        _page(assessment, record, drawn),
        as_text(result_of(assessment) | dict(more or {})).encode("ascii"),
        reference_csv(assessment),
        {name: as_svg_file(svg) for name, svg in drawn.items()},
    )
    files[touchstone_name(assessment)] = touchstone_text(assessment).encode("ascii")
    if assessment.field is not None:
        files["field.vtu"] = vtu_bytes(assessment.field, assessment.component)
    return files


def report_html(assessment: Assessment, record: RunRecord | None = None) -> str:
    """Return the whole report as one HTML page; it fetches nothing."""
    drawn = {name: as_svg(figure) for name, figure in _figures(assessment).items()}
    return _page(assessment, record, drawn)


def _figures(assessment: Assessment) -> dict[str, Figure]:
    """Figures of curves and of the part, by the names of their files."""
    found = {"part": drawing_figure(drawing_of(assessment.component))}
    found["vswr"] = plots.vswr_figure(assessment)
    found["reflection"] = plots.reflection_figure(assessment)
    passed_on = plots.transmission_figure(assessment)
    if passed_on is not None:
        found["transmission"] = passed_on
    if assessment.scattering.leaked_power.any():
        found["leakage"] = plots.leakage_figure(assessment)
    if assessment.heat is not None:
        found["heat"] = plots.heat_figure(assessment.heat)
    if assessment.radiation is not None:
        found["pattern"] = pattern_figure(assessment.radiation)
    return found


def _page(assessment: Assessment, record: RunRecord | None, drawn: dict[str, str]) -> str:
    scattering, provenance = assessment.scattering, assessment.provenance
    told = [
        *heat_lines(assessment),
        *radiation_lines(assessment),
        *periodic_lines(assessment),
    ]
    page = {
        **page_frame(
            "report",
            assessment.title,
            part_text(assessment.component),
            band_text(assessment.band),
            record,
            kinds=(assessment.component.kind,),
            version=provenance.version,
        ),
        **_answer(assessment, record.study_name if record else ""),
        **_part(assessment),
        "drawing": Markup(drawn["part"]),
        "figures": [
            (Markup(svg), _caption(name, assessment))
            for name, svg in drawn.items()
            if name != "part"
        ],
        **_samples(assessment),
        "pictures": _pictures(assessment),
        "field_note": field_figures.note_on(assessment.field) if assessment.field else "",
        "peak_field": [*_peak(assessment), *(f"{line}." for line in told)],
        "estimates": _estimates(assessment),
        "broken_rule": BROKEN_RULE,
        "fabricated_guide": FABRICATED_GUIDE,
        "leakage_rows": leakage_rows(assessment.estimates, scattering),
        "leakage_note": next((e.leakage_note for e in assessment.estimates if e.leakage_note), ""),
        "computed_worst": f"{np.max(np.abs(assessment.over_band.s11)):.4g}",
        "error": f"{np.max(scattering.error):.2g}",
        "wanted": f"{assessment.wanted_error:.2g}",
        **rules_frame(assessment.rules, "The part has"),
        "method": provenance.method[:1].upper() + provenance.method[1:].rstrip("."),
        "accuracy_reached": provenance.accuracy_reached,
        "provenance": _provenance(assessment),
        **_convergence(provenance.convergence),
    }
    return page_template("report.html").render(page)


def _caption(name: str, assessment: Assessment) -> str:
    if name == "reflection":
        return plots.reflection_caption(assessment)
    loss = loss_text(assessment.over_band)
    return _CAPTIONS[name] + (f" {loss[:1].upper()}{loss[1:]}." if name == "transmission" else "")


def notebook_html(assessment: Assessment) -> str:
    """Return a short view of the result for a notebook cell."""
    shown = _answer(assessment) | {
        "title": assessment.title,
        "part": part_text(assessment.component),
        "vswr": Markup(as_svg(plots.vswr_figure(assessment))),
    }
    return page_template("notebook.html").render(shown)


def _answer(assessment: Assessment, study: str = "") -> dict[str, Any]:
    verdict, scattering = assessment.verdict, assessment.scattering
    limit = assessment.limit.text if assessment.limit is not None else "none was set"
    room = room_text(verdict)
    where = held_band_text(verdict, assessment.band) if room else ""
    loss = loss_text(assessment.over_band, absorber=assessment.heat is not None)
    error = float(np.max(scattering.error))
    facts = [
        ("Worst place", verdict.text.removeprefix("worst ")),
        ("Limit", limit),
        ("Margin, bar included", room),
        ("Usable band", where[:1].upper() + where[1:]),
        ("Losses", loss[:1].upper() + loss[1:]),
        (
            "Error of every S-parameter",
            f"at most {error:.2g}; asked for {assessment.wanted_error:.2g}",
        ),
    ]
    return answer_frame(
        verdict.outcome,
        headline(verdict),
        facts,
        verdict.reasons,
        next_steps(assessment, study),
    )


def _part(assessment: Assessment) -> dict[str, Any]:
    component, guide = assessment.component, assessment.component.guide
    drawing = drawing_of(component)
    inside = [("guide", guide_text(guide))]
    if hasattr(guide, "broad_width"):
        inside.append(("inside", f"{in_mm(guide.broad_width)} by {in_mm(guide.narrow_height)}"))
    else:
        inside.append(("inside diameter", in_mm(guide.diameter)))
    return {
        "drawing_note": drawing.note,
        "dimensions": [*inside, *shown_dimensions(component), *drawing.more],
    }


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


def _pictures(assessment: Assessment) -> list[tuple[str, str]]:
    """Address and caption of each picture of the field."""
    alone = () if assessment.field is None else (assessment.field,)
    drawn = field_figures.figures(assessment.fields or alone)
    return [(as_png_address(figure), caption) for figure, caption in drawn]


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
