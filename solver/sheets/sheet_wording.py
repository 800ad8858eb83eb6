"""What a sheet says of a value in words: its conditions, method and second way."""

from __future__ import annotations

import math

from solver.sheets.certain_digits import uncertainty_text
from solver.sheets.sheet import Sheet, SheetValue, SolvedCase


def libraries_of(sheet: Sheet) -> dict[str, str]:
    """Return the versions of the libraries that computed it."""
    solved = [case.assessment for case in sheet.cases if case.assessment is not None]
    return dict(solved[0].provenance.libraries) if solved else {}


def conditions(case: SolvedCase, value: SheetValue) -> str:
    """Return under what conditions a value holds, in words."""
    at = value.wanted.frequency
    if at is not None:
        return f"at {at / 1e9:.9g} GHz"
    if value.wanted.mode:
        return value.wanted.mode
    if not value.quantity.of_part:
        return "dominant mode"
    assert case.case.study is not None
    band = case.case.study.band
    text = f"{band.start / 1e9:.9g} to {band.stop / 1e9:.9g} GHz"
    limit = case.case.study.limit
    if value.wanted.quantity == "smallest_size_mm" and limit is not None:
        text += f"; {limit.text}"
    return text


def method_of(case: SolvedCase, value: SheetValue) -> str:
    """Return how a value was found, in words."""
    if not value.quantity.of_part or case.assessment is None:
        return "closed form, exact"
    return case.assessment.provenance.method


def agreement(value: SheetValue) -> str:
    """Return how the second way compares, in words; empty where there is none."""
    if value.second is None or value.apart is None:
        return ""
    unit = f" {value.quantity.unit}" if value.quantity.unit else ""
    apart = uncertainty_text(value.apart)
    if math.isnan(value.second.uncertainty):
        return f"{value.second.way}: {value.second.value:.6g}{unit}, {apart}{unit} off"
    known = uncertainty_text(value.second.uncertainty)
    return f"{value.second.way}: agrees within {apart}{unit}, itself known to {known}{unit}"
