"""A computed sheet as one HTML page that prints well."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from solver.figures.inline_figures import as_svg
from solver.figures.part_sheet import drawing_figure
from solver.output.drawing import drawing_of
from solver.output.wording import part_text
from solver.reports.page_frame import page_frame
from solver.reports.page_templates import page_template
from solver.reports.run_record import RunRecord
from solver.sheets.certain_digits import uncertainty_text
from solver.sheets.sheet import Sheet, SheetValue, SolvedCase
from solver.sheets.sheet_wording import agreement, conditions, libraries_of, method_of
from solver.studies.plain_values import dimensions_of

_HEADS = ("Quantity", "Conditions", "Value", "Unit", "Known to", "Second way; printed values")


def sheet_html(sheet: Sheet, record: RunRecord | None = None) -> str:
    """Return the sheet as one HTML page; it fetches nothing."""
    libraries = ", ".join(f"{name} {v}" for name, v in libraries_of(sheet).items())
    kinds = [c.assessment.component.kind for c in sheet.cases if c.assessment is not None]
    count = len(sheet.values)
    page = page_frame(
        "reference sheet",
        sheet.request.title,
        f"{count} reference values; each is known as far as stated, its last digit is certain",
        libraries,
        record,
        kinds=list(dict.fromkeys(kinds)),
    )
    cases = [_case(case) for case in sheet.cases]
    more = {"heads": _HEADS, "note": sheet.request.note, "cases": cases}
    return page_template("reference_sheet.html").render(page | more)


def _case(case: SolvedCase) -> dict[str, Any]:
    guide = case.case.guide
    assessment = case.assessment
    drawing, dimensions, method, part = "", [("guide", guide.label)], "", guide.label
    if assessment is not None:
        component = assessment.component
        drawing = Markup(as_svg(drawing_figure(drawing_of(component))))
        part = part_text(component)
        dimensions += [(d.words, d.text) for d in dimensions_of(component)]
        walls = case.case.study.walls if case.case.study else None
        metal = "without loss" if walls is None else f"{walls.conductivity:.4g} S/m"
        dimensions.append(("walls", metal))
        method = method_of(case, next(v for v in case.values if v.quantity.of_part))
    return {
        "name": case.case.name,
        "part": part,
        "drawing": drawing,
        "dimensions": dimensions,
        "method": method,
        "rows": [_value(case, value) for value in case.values],
    }


def _value(case: SolvedCase, value: SheetValue) -> tuple[str, ...]:
    printed = ""
    if value.printed is not None:
        printed = f"printed {value.printed[0]}: {value.printed[1]}"
    return (
        value.quantity.words,
        conditions(case, value),
        value.text,
        value.quantity.unit,
        uncertainty_text(value.uncertainty) if value.uncertainty else "exact",
        "; ".join(filter(None, (agreement(value), printed))),
    )
