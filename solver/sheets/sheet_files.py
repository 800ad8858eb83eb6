"""A computed sheet as JSON, CSV, LaTeX and HTML."""

from __future__ import annotations

import csv
import io
import math
from typing import Any

from solver.output.result_json import as_text
from solver.reports.run_record import RunRecord
from solver.sheets.certain_digits import uncertainty_text
from solver.sheets.sheet import Sheet, SheetValue, SolvedCase
from solver.sheets.sheet_page import sheet_html
from solver.sheets.sheet_wording import conditions, libraries_of, method_of
from solver.studies.plain_values import described_component, described_guide, plain
from solver.version import installed_version

SHEET_JSON = "sheet.json"
_LATEX = {
    "\\": r"\textbackslash{}",
    "{": r"\{",
    "}": r"\}",
    "&": r"\&",
    "%": r"\%",
    "$": r"\$",
    "#": r"\#",
    "_": r"\_",
    "~": r"\textasciitilde{}",
    "^": r"\textasciicircum{}",
}


def sheet_files(sheet: Sheet, record: RunRecord | None = None) -> dict[str, bytes]:
    """Return the content of every file of a sheet, by name."""
    return {
        SHEET_JSON: as_text(sheet_result_of(sheet)).encode("ascii"),
        "sheet.csv": sheet_csv(sheet).encode("utf-8"),
        "sheet.tex": sheet_latex(sheet).encode("utf-8"),
        "sheet.html": sheet_html(sheet, record).encode("utf-8"),
    }


def sheet_result_of(sheet: Sheet) -> dict[str, Any]:
    """Return the sheet as plain values; its own tables among them, so that it can be redone."""
    return plain(
        {
            "schema": 1,
            "title": sheet.request.title,
            "version": installed_version(),
            "libraries": libraries_of(sheet),
            "sheet": sheet.request.tables,
            "values": [
                described_value(case, value, number)
                for number, case in enumerate(sheet.cases)
                for value in case.values
            ],
        }
    )


def described_value(case: SolvedCase, value: SheetValue, number: int) -> dict[str, Any]:
    """Return one value as plain values."""
    assessment = case.assessment
    told: dict[str, Any] = {
        "case": number,
        "name": case.case.name,
        "wanted": value.wanted.text,
        "quantity": value.quantity.words,
        "conditions": conditions(case, value),
        "value": value.value,
        "unit": value.quantity.unit,
        "uncertainty": value.uncertainty,
        "text": value.text,
        "guide": described_guide(case.case.guide),
        "method": method_of(case, value),
    }
    if assessment is not None and value.quantity.of_part:
        told["component"] = described_component(assessment.component)
    if value.second is not None:
        bound = value.second.uncertainty + value.uncertainty
        told["second_path"] = {
            "way": value.second.way,
            "value": value.second.value,
            "uncertainty": value.second.uncertainty,
            "apart": value.apart,
            "within_uncertainties": None
            if math.isnan(bound)
            else bool((value.apart or 0.0) <= bound + 1e-9 * abs(value.value)),
        }
    if value.printed is not None:
        told["printed"] = {"text": value.printed[0], "source": value.printed[1]}
    return told


def sheet_csv(sheet: Sheet) -> str:
    """Return the values as comma-separated values with one line of names."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    heads = "case,quantity,conditions,value,unit,uncertainty,second_way,second_value,apart,printed"
    writer.writerow([*heads.split(","), "source"])
    for case, value in sheet.values:
        second = value.second
        writer.writerow(
            [
                case.case.name,
                value.quantity.words,
                conditions(case, value),
                value.text,
                value.quantity.unit,
                uncertainty_text(value.uncertainty),
                second.way if second else "",
                f"{second.value:.9g}" if second else "",
                uncertainty_text(value.apart) if value.apart is not None else "",
                *(value.printed or ("", "")),
            ]
        )
    return text.getvalue()


def latex_text(text: str) -> str:
    r"""Return text with everything escaped that means something to LaTeX.

    Examples
    --------
    >>> latex_text("largest |S11| <= 5 %")
    'largest $|S_{11}|$ $\\le$ 5 \\%'
    """
    escaped = "".join(_LATEX.get(c, c) for c in text)
    for plain_form, form in (("|S11|", "$|S_{11}|$"), ("|S21|", "$|S_{21}|$"), ("<=", r"$\le$")):
        escaped = escaped.replace(plain_form, form)
    return escaped.replace(">=", r"$\ge$")


def sheet_latex(sheet: Sheet) -> str:
    """Return the values as a LaTeX table; it needs no package."""
    lines = [
        f"% {sheet.request.title}",
        f"% computed by guideproof {installed_version()}",
        r"\begin{tabular}{llrll}",
        r"\hline",
        r"Part & Quantity & Value & Unit & Known to \\",
        r"\hline",
    ]
    for case, value in sheet.values:
        words = f"{value.quantity.words}, {conditions(case, value)}"
        cells = [case.case.name, words, value.text, value.quantity.unit]
        cells.append(uncertainty_text(value.uncertainty))
        lines.append(" & ".join(latex_text(cell) for cell in cells) + r" \\")
    return "\n".join([*lines, r"\hline", r"\end{tabular}", ""])
