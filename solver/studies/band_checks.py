"""Whether a band fits the guide that it is to pass."""

from __future__ import annotations

from typing import Any

import numpy as np

from geometries.shapes.guide_sizes import inches_hint
from solver.studies.band import Band
from solver.studies.study_keys import BandKeys
from solver.studies.tables import RefusedKeyError
from solver.waves.guide_modes import entering_cutoff

#: A guide is never used this many times above its cutoff: the frequency has another unit.
MOST_CUTOFFS_ABOVE = 100.0


def band_for(keys: BandKeys, part: Any) -> Band:
    """Return the band of a study, checked against the part's own guide.

    Parameters
    ----------
    keys : BandKeys
    part : Component

    Raises
    ------
    RefusedKeyError
    """
    cutoff = entering_cutoff(part)
    for key, ghz in _given(keys):
        if far_above(cutoff, ghz):
            raise RefusedKeyError(f"band.{key}", ghz, far_above(cutoff, ghz))
    try:
        band = keys.build()
    except RefusedKeyError as error:
        raise RefusedKeyError(f"band.{error.key}", error.shown, error.text) from error
    check_cutoff(keys, part, band)
    return band


def _given(keys: BandKeys) -> list[tuple[str, float]]:
    found = [("from_ghz", keys.from_ghz), ("to_ghz", keys.to_ghz)]
    listed = keys.frequencies_ghz or []
    found += [(f"frequencies_ghz[{number}]", ghz) for number, ghz in enumerate(listed)]
    return [(key, ghz) for key, ghz in found if ghz is not None]


def far_above(cutoff: float, ghz: float) -> str:
    """Return what to say of a frequency meant in MHz or Hz; empty for any other.

    Parameters
    ----------
    cutoff : float
        First cutoff of the guide [Hz].
    ghz : float
        The frequency [GHz].

    Examples
    --------
    >>> far_above(6.557e9, 12.4)
    ''
    """
    if ghz * 1e9 <= MOST_CUTOFFS_ABOVE * cutoff:
        return ""
    unit, scale = ("Hz", 1e9) if ghz > cutoff else ("MHz", 1e3)
    fits = ghz * 1e9 / scale > cutoff
    meant = f"for {ghz:g} {unit} write {ghz / scale:g}" if fits else "lower it"
    return (
        f"is in GHz, and more than {MOST_CUTOFFS_ABOVE:g} times the cutoff of the guide, "
        f"{cutoff / 1e9:.6g} GHz; {meant}"
    )


def check_cutoff(keys: BandKeys, part: Any, band: Band, which: str = "") -> None:
    """Refuse a band that starts at or below the cutoff of the mode that enters a part.

    Parameters
    ----------
    keys : BandKeys
    part : Component
    band : Band
    which : str
        Words that tell its guide from that of the study.

    Raises
    ------
    RefusedKeyError
    """
    cutoff = entering_cutoff(part)
    # At cutoff itself the guide wavelength is infinite; round-off must not hide that.
    if band.start <= cutoff * (1.0 + 1e-9):
        guide_text = f"the guide{which}" if which else "this guide"
        listed = keys.frequencies_ghz is not None
        raise RefusedKeyError(
            "band.frequencies_ghz[0]" if listed else "band.from_ghz",
            np.round(band.start / 1e9, 12),
            f"must be above the cutoff of {part.entering_mode} in {guide_text}, "
            f"{cutoff / 1e9:.6g} GHz; raise it" + inches_hint(part.guide, cutoff, band.start),
        )
