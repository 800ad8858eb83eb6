"""What a limit can ask of a part that radiates on purpose."""

from __future__ import annotations

from typing import Any

from geometries.shapes.horns import Horn
from solver.errors import UnsupportedPartError
from solver.studies.limits import Limit


def refuse_leakage(component: Any, limit: Limit | None) -> None:
    """Refuse a limit of leakage for a horn.

    Raises
    ------
    UnsupportedPartError
    """
    if isinstance(component, Horn) and limit is not None and limit.leakage_db is not None:
        raise UnsupportedPartError(
            f"leakage_db = {limit.leakage_db:g} has no meaning for a horn, which radiates on "
            "purpose: leave it out of the limits"
        )
