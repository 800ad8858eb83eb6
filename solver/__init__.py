"""What the field does in a waveguide part, and whether it meets its limit.

Names are loaded when they are first used, so that ``import solver`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from solver.exchange.shape_files import save_shape
    from solver.judgement.verdict import Verdict
    from solver.reports.shown_assessment import ShownAssessment as Assessment
    from solver.reports.shown_assessment import assess
    from solver.reports.shown_searches import explore, gradual, seek
    from solver.reports.shown_tables import modes, reference
    from solver.run_output.shown_run import ShownRun as Run
    from solver.run_output.shown_run import run
    from solver.searches.gradual import find_gradual
    from solver.studies.band import Band
    from solver.studies.limits import Limit
    from solver.studies.run_chain import RunPart
    from solver.studies.run_study import read_run
    from solver.studies.study import read_study
    from solver.waves.scattering import ScatteringMatrix
    from solver.waves.walls import Walls

__all__ = [
    "Assessment",
    "Band",
    "Limit",
    "Run",
    "RunPart",
    "ScatteringMatrix",
    "Verdict",
    "Walls",
    "assess",
    "explore",
    "find_gradual",
    "gradual",
    "modes",
    "read_run",
    "read_study",
    "reference",
    "run",
    "save_shape",
    "seek",
]

_HOMES = {
    "Assessment": ("solver.reports.shown_assessment", "ShownAssessment"),
    "Band": ("solver.studies.band", "Band"),
    "Limit": ("solver.studies.limits", "Limit"),
    "Run": ("solver.run_output.shown_run", "ShownRun"),
    "RunPart": ("solver.studies.run_chain", "RunPart"),
    "ScatteringMatrix": ("solver.waves.scattering", "ScatteringMatrix"),
    "Verdict": ("solver.judgement.verdict", "Verdict"),
    "Walls": ("solver.waves.walls", "Walls"),
    "assess": ("solver.reports.shown_assessment", "assess"),
    "explore": ("solver.reports.shown_searches", "explore"),
    "find_gradual": ("solver.searches.gradual", "find_gradual"),
    "gradual": ("solver.reports.shown_searches", "gradual"),
    "modes": ("solver.reports.shown_tables", "modes"),
    "read_run": ("solver.studies.run_study", "read_run"),
    "read_study": ("solver.studies.study", "read_study"),
    "reference": ("solver.reports.shown_tables", "reference"),
    "run": ("solver.run_output.shown_run", "run"),
    "save_shape": ("solver.exchange.shape_files", "save_shape"),
    "seek": ("solver.reports.shown_searches", "seek"),
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'solver' has no attribute {name!r}")
    home, own_name = _HOMES[name]
    value = getattr(import_module(home), own_name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
