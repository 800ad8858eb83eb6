"""The keys of a horn, which differ with the guide that it sits on."""

from __future__ import annotations

from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn, Horn, HornMode, HornRim, RectangularHorn
from solver.studies.guide_keys import Guide
from solver.studies.messages import WHOLE_TABLE
from solver.studies.tables import Millimetres, MillimetresFromZero, RefusedKeyError, Table

_RECTANGULAR = ("aperture_width_mm", "aperture_height_mm")
_ROUND = ("aperture_diameter_mm", "mode")


class HornTable(Table):
    """Keys of a horn on either guide; `built_horn` sees to it that they fit the guide."""

    aperture_width_mm: Millimetres | None = None
    aperture_height_mm: Millimetres | None = None
    aperture_diameter_mm: Millimetres | None = None
    length_mm: MillimetresFromZero
    mode: HornMode | None = None
    rim: HornRim = "wall"


def built_horn(keys: HornTable, guide: Guide) -> Horn:
    """Return the horn on its guide.

    Raises
    ------
    RefusedKeyError
        For a key that belongs to the other guide, or one that is missing.
    InvalidDimensionError
    """
    is_round = isinstance(guide, CircularGuide)
    shape, foreign = ("circular", _RECTANGULAR) if is_round else ("rectangular", _ROUND)
    own = _ROUND[:1] if is_round else _RECTANGULAR
    for key in foreign:
        if getattr(keys, key) is not None:
            text = f"does not belong to a horn on a {shape} guide, which takes {' and '.join(own)}"
            raise RefusedKeyError(f"component.{key}", getattr(keys, key), text)
    for key in own:
        if getattr(keys, key) is None:
            text = f"{key} is missing; a horn on a {shape} guide needs it"
            raise RefusedKeyError("component", WHOLE_TABLE, text)
    if isinstance(guide, CircularGuide):
        return ConicalHorn(
            guide,
            _metres(keys.aperture_diameter_mm),
            _metres(keys.length_mm),
            mode=keys.mode or "TE11",
            rim=keys.rim,
        )
    return RectangularHorn(
        guide,
        _metres(keys.aperture_width_mm),
        _metres(keys.aperture_height_mm),
        _metres(keys.length_mm),
        rim=keys.rim,
    )


def _metres(length_mm: float | None) -> float:
    assert length_mm is not None
    return length_mm / 1000
