"""Parts of which no leakage can be asked."""

from __future__ import annotations

from typing import Any

from geometries.shapes.horns import Horn
from geometries.shapes.loads import Load
from solver.errors import UnsupportedPartError
from solver.studies.limits import Limit
from solver.studies.tables import RefusedKeyError

_WHY: dict[Any, str] = {
    Horn: "has no meaning for a horn, which radiates on purpose",
    Load: "has no meaning for a load, which is closed: what enters it turns to heat",
}


def refuse_leakage(component: Any, limit: Limit | None) -> None:
    """Refuse a limit of leakage for a part that cannot leak.

    Parameters
    ----------
    component : Component
    limit : Limit or None

    Raises
    ------
    UnsupportedPartError
    """
    text = _why_not(component)
    if text and limit is not None and limit.leakage_db is not None:
        raise UnsupportedPartError(f"leakage_db = {limit.leakage_db:g} {text}")


def check_leakage_key(component: Any, limit: Limit | None) -> None:
    """Refuse it as a key of a study.

    Raises
    ------
    RefusedKeyError
    """
    text = _why_not(component)
    if text and limit is not None and limit.leakage_db is not None:
        raise RefusedKeyError("limit.leakage_db", limit.leakage_db, text)


def _why_not(component: Any) -> str:
    texts = [text for kind, text in _WHY.items() if isinstance(component, kind)]
    return f"{texts[0]}; leave it out of the limits" if texts else ""
