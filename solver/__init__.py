"""What the field does in a waveguide part, and whether it meets its limit.

Names are loaded when they are first used, so that ``import solver`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from solver.band import Band
    from solver.gradual import find_gradual
    from solver.limits import Limit
    from solver.scattering import ScatteringMatrix
    from solver.shown_assessment import ShownAssessment as Assessment
    from solver.shown_assessment import assess
    from solver.study import read_study
    from solver.verdict import Verdict
    from solver.walls import Walls

__all__ = [
    "Assessment",
    "Band",
    "Limit",
    "ScatteringMatrix",
    "Verdict",
    "Walls",
    "assess",
    "find_gradual",
    "read_study",
]

_HOMES = {
    "Assessment": ("solver.shown_assessment", "ShownAssessment"),
    "Band": ("solver.band", "Band"),
    "Limit": ("solver.limits", "Limit"),
    "ScatteringMatrix": ("solver.scattering", "ScatteringMatrix"),
    "Verdict": ("solver.verdict", "Verdict"),
    "Walls": ("solver.walls", "Walls"),
    "assess": ("solver.shown_assessment", "assess"),
    "find_gradual": ("solver.gradual", "find_gradual"),
    "read_study": ("solver.study", "read_study"),
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
