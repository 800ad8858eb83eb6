"""What the field does in a waveguide part, and whether it meets its limit.

Names are loaded when they are first used, so that ``import solver`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from solver.assess_part import assess
    from solver.assessment import Assessment
    from solver.band import Band
    from solver.gradual import find_gradual
    from solver.limits import Limit
    from solver.scattering import ScatteringMatrix
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
    "Assessment": "assessment",
    "Band": "band",
    "Limit": "limits",
    "ScatteringMatrix": "scattering",
    "Verdict": "verdict",
    "Walls": "walls",
    "assess": "assess_part",
    "find_gradual": "gradual",
    "read_study": "study",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'solver' has no attribute {name!r}")
    value = getattr(import_module(f"solver.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
