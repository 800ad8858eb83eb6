"""Compute what a reference sheet asks for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from solver.errors import StudyError
from solver.judgement.assessment import Assessment
from solver.progress import Progress
from solver.sheets.certain_digits import certain_text
from solver.sheets.quantities import QUANTITIES, Quantity, Solved, Wanted
from solver.sheets.second_path import (
    SecondPath,
    second_of_guide,
    second_of_part,
    solved_in_space,
)
from solver.sheets.sheet_keys import Case, SheetRequest


@dataclass(frozen=True)
class SheetValue:
    """One value of a sheet.

    Parameters
    ----------
    wanted : Wanted
    value, uncertainty : float
        In the unit of the quantity.
    second : SecondPath or None
    printed : (str, str) or None
        Text and source of a printed value.
    """

    wanted: Wanted
    value: float
    uncertainty: float
    second: SecondPath | None = None
    printed: tuple[str, str] | None = None

    @property
    def quantity(self) -> Quantity:
        """What it is a value of."""
        return QUANTITIES[self.wanted.quantity]

    @property
    def text(self) -> str:
        """The value with the digits that are certain."""
        return certain_text(self.value, self.uncertainty)

    @property
    def apart(self) -> float | None:
        """How far the second way is from the value; angles are taken the short way round."""
        if self.second is None:
            return None
        apart = abs(self.second.value - self.value)
        return min(apart, abs(360 - apart)) if self.quantity.unit == "deg" else apart


@dataclass(frozen=True, eq=False)
class SolvedCase:
    """One part, or guide, with its values.

    Parameters
    ----------
    case : Case
    values : tuple of SheetValue
    assessment : Assessment or None
        Of a part.
    """

    case: Case
    values: tuple[SheetValue, ...]
    assessment: Assessment | None


@dataclass(frozen=True, eq=False)
class Sheet:
    """A computed sheet.

    Parameters
    ----------
    request : SheetRequest
    cases : tuple of SolvedCase
    """

    request: SheetRequest
    cases: tuple[SolvedCase, ...]

    @property
    def values(self) -> tuple[tuple[SolvedCase, SheetValue], ...]:
        """Every value with its case."""
        return tuple((case, value) for case in self.cases for value in case.values)


def computed_sheet(
    request: SheetRequest, progress: Progress | None = None, *, second_paths: bool = True
) -> Sheet:
    """Compute every value of a sheet.

    Parameters
    ----------
    request : SheetRequest
    progress : callable, optional
    second_paths : bool
        Whether to compute the second ways too, where the case wants them.

    Raises
    ------
    StudyError, GeometryError, GuideproofError
        With the name of the case in front.
    """
    cases = []
    for number, case in enumerate(request.cases, start=1):
        if progress:
            progress(f"{case.name} ({number} of {len(request.cases)})")
        try:
            cases.append(_solved(case, progress, second_paths))
        except StudyError as error:
            raise StudyError(f"{case.name}: {error}") from error
    return Sheet(request, tuple(cases))


def _solved(case: Case, progress: Progress | None, second_paths: bool) -> SolvedCase:
    twice = second_paths and case.second_path
    needs_part = any(QUANTITIES[w.quantity].of_part for w in case.wanted)
    solved = assessment = in_space = None
    if case.study is not None and needs_part:
        from solver.judgement.assess_part import assessed

        at = _frequencies(case)
        assessment = assessed(case.study, further_at=at, progress=progress)
        solved = _read_from(case, assessment, progress)
        in_space = solved_in_space(case.study, at, progress) if twice else None
    values = []
    for wanted in case.wanted:
        quantity = QUANTITIES[wanted.quantity]
        second = None
        if quantity.of_part:
            assert assessment is not None
            value, uncertainty = quantity.read(solved, wanted)
            second = second_of_part(wanted, assessment, in_space) if twice else None
        else:
            value, uncertainty = quantity.read(case.guide, wanted)
            second = second_of_guide(wanted, case.guide) if twice else None
        printed = case.printed.get(wanted.text)
        values.append(SheetValue(wanted, value, uncertainty, second, printed))
    return SolvedCase(case, tuple(values), assessment)


def _frequencies(case: Case) -> Any:
    at = {
        w.frequency
        for w in case.wanted
        if QUANTITIES[w.quantity].of_part and w.frequency is not None
    }
    return np.array(sorted(at)) if at else None


def _read_from(case: Case, assessment: Assessment, progress: Progress | None) -> Solved:
    gradual = None
    if any(w.quantity == "smallest_size_mm" for w in case.wanted):
        from solver.searches.gradual import gradual as search

        study = case.study
        assert study is not None
        if study.limit is None:
            raise StudyError("smallest_size_mm needs a [limit] in the study")
        gradual = search(
            study.component, study.band, study.limit, s_error=study.s_error, progress=progress
        )
    return Solved(assessment.over_band, assessment.further, tuple(assessment.resonances), gradual)
