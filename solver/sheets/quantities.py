"""Quantities that a sheet can hold: their words, units, and how each is read with its bound."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from solver.errors import StudyError
from solver.judgement.quantities import read_quantity
from solver.searches.gradual import GradualResult
from solver.studies.limits import value_of
from solver.waves.guide_modes import (
    SPEED_OF_LIGHT,
    dominant_cutoff,
    guide_wavelength,
    mode_cutoffs,
)
from solver.waves.resonances import Resonance
from solver.waves.scattering import ScatteringMatrix, decibels


@dataclass(frozen=True)
class Wanted:
    """One value that is wanted.

    Parameters
    ----------
    text : str
        As the sheet writes it.
    quantity : str
        Key of `QUANTITIES`.
    frequency : float or None
        [Hz]
    mode : str
        Of a cutoff; empty for the dominant mode.
    """

    text: str
    quantity: str
    frequency: float | None
    mode: str = ""


@dataclass(frozen=True, eq=False)
class Solved:
    """What values are read from.

    Parameters
    ----------
    over_band : ScatteringMatrix
        At as many frequencies as the extremes need.
    at : ScatteringMatrix or None
        At the frequencies that values are wanted at.
    resonances : tuple of Resonance
    gradual : GradualResult or None
    """

    over_band: ScatteringMatrix
    at: ScatteringMatrix | None = None
    resonances: tuple[Resonance, ...] = ()
    gradual: GradualResult | None = None


Reading = tuple[float, float]


@dataclass(frozen=True)
class Quantity:
    """A quantity in the field's terms.

    Parameters
    ----------
    words : str
    unit : str
        Empty for a number.
    read : callable
        Gives value and bound on its error from (Solved, Wanted), or from (guide, Wanted).
    at_frequency : bool
        Whether it is wanted at one frequency; otherwise over the band.
    of_part : bool
        Whether it needs a part; otherwise a guide alone.
    """

    words: str
    unit: str
    read: Callable[..., Reading]
    at_frequency: bool = False
    of_part: bool = True


def _worst(quantity: str) -> Callable[[Solved, Wanted], Reading]:
    def read(solved: Solved, wanted: Wanted) -> Reading:
        found = read_quantity(solved.over_band, quantity, None)
        value, ends = (
            value_of(quantity, found.worst),
            [float(value_of(quantity, end)) for end in (found.lowest, found.highest)],
        )
        return float(value), max(abs(end - float(value)) for end in ends)

    return read


def _worst_s11(solved: Solved, wanted: Wanted) -> Reading:
    found = read_quantity(solved.over_band, "return_loss_db", None)
    return found.worst, max(found.highest - found.worst, found.worst - found.lowest)


def _element(solved: Solved, wanted: Wanted, second: bool) -> tuple[complex, float]:
    assert solved.at is not None and wanted.frequency is not None
    at = int(np.argmin(np.abs(solved.at.frequency - wanted.frequency)))
    values = solved.at.s21 if second else solved.at.s11
    return complex(values[at]), float(solved.at.error[at])


def _size(second: bool) -> Callable[[Solved, Wanted], Reading]:
    def read(solved: Solved, wanted: Wanted) -> Reading:
        value, error = _element(solved, wanted, second)
        return abs(value), error

    return read


def _phase(second: bool) -> Callable[[Solved, Wanted], Reading]:
    def read(solved: Solved, wanted: Wanted) -> Reading:
        value, error = _element(solved, wanted, second)
        turn = math.asin(error / abs(value)) if error < abs(value) else math.pi
        return math.degrees(math.atan2(value.imag, value.real)), math.degrees(turn)

    return read


def _loss(solved: Solved, wanted: Wanted) -> Reading:
    value, error = _element(solved, wanted, True)
    here = -float(decibels(abs(value)))
    return here, max(abs(here + float(decibels(abs(value) + s * error))) for s in (1, -1))


def _smallest(solved: Solved, wanted: Wanted) -> Reading:
    found = solved.gradual
    if found is None or found.smallest is None:
        raise StudyError("no size was found from which every larger one meets the limit")
    return found.smallest * 1e3, (found.uncertainty or 0.0) * 1e3


def _resonance(solved: Solved, wanted: Wanted) -> Reading:
    driven = [r for r in solved.resonances if r.driven]
    if not driven:
        raise StudyError("no resonance lies in the band: widen the band of its study")
    sharpest = max(driven, key=lambda r: r.quality)
    return sharpest.frequency / 1e9, sharpest.error / 1e9


def _cutoff(guide: object, wanted: Wanted) -> Reading:
    if not wanted.mode:
        return dominant_cutoff(guide) / 1e9, 0.0  # type: ignore[arg-type]
    for mode in mode_cutoffs(guide, 6 * dominant_cutoff(guide)):  # type: ignore[arg-type]
        if wanted.mode == mode.label:
            return mode.cutoff / 1e9, 0.0
    raise StudyError(f"no mode {wanted.mode} among those up to six cutoffs; write it as TE20")


def _guide_wavelength(guide: object, wanted: Wanted) -> Reading:
    assert wanted.frequency is not None
    if wanted.frequency <= dominant_cutoff(guide):  # type: ignore[arg-type]
        raise StudyError(f"{wanted.text}: must be above the cutoff of the guide")
    return float(guide_wavelength(guide, wanted.frequency)) * 1e3, 0.0  # type: ignore[arg-type]


def _wavelength(guide: object, wanted: Wanted) -> Reading:
    assert wanted.frequency is not None
    return SPEED_OF_LIGHT / wanted.frequency * 1e3, 0.0


QUANTITIES = {
    "vswr": Quantity("worst VSWR in the band", "", _worst("vswr")),
    "return_loss_db": Quantity("least return loss in the band", "dB", _worst("return_loss_db")),
    "s11_abs": Quantity("largest |S11| in the band", "", _worst_s11),
    "leakage_db": Quantity("most leakage in the band", "dB", _worst("leakage_db")),
    "s11_abs_at": Quantity("|S11|", "", _size(False), at_frequency=True),
    "s11_phase_deg": Quantity("phase of S11", "deg", _phase(False), at_frequency=True),
    "s21_abs_at": Quantity("|S21|", "", _size(True), at_frequency=True),
    "s21_phase_deg": Quantity("phase of S21", "deg", _phase(True), at_frequency=True),
    "insertion_loss_db": Quantity("insertion loss", "dB", _loss, at_frequency=True),
    "smallest_size_mm": Quantity(
        "size from which every larger one meets the limit", "mm", _smallest
    ),
    "resonance_ghz": Quantity("sharpest resonance in the band", "GHz", _resonance),
    "cutoff_ghz": Quantity("cutoff frequency", "GHz", _cutoff, of_part=False),
    "guide_wavelength_mm": Quantity(
        "guide wavelength", "mm", _guide_wavelength, at_frequency=True, of_part=False
    ),
    "wavelength_mm": Quantity(
        "free-space wavelength", "mm", _wavelength, at_frequency=True, of_part=False
    ),
}
