"""Limits on a part, and their conversion to wave amplitudes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array
from geometries.shapes.horns import Horn
from geometries.shapes.loads import Load
from solver.errors import StudyError, UnsupportedPartError
from solver.studies.tables import RefusedKeyError
from solver.waves.scattering import reflection_of_vswr, return_loss_of, vswr_of

#: How each quantity is written in a sentence: name, then format of a value.
WORDING = {
    "vswr": ("VSWR", "{:.5g}"),
    "return_loss_db": ("return loss", "{:.2f} dB"),
    "leakage_db": ("leakage", "{:.2f} dB"),
}

#: A standing-wave ratio above this is written as total reflection.
_TOTAL = 1e6
#: A leakage at or below this is that of a part that is closed [dB].
_NOTHING = -290.0
#: How it is written.
NOTHING = "none"


@dataclass(frozen=True)
class Limit:
    """What the user asks of the part, over the whole band; any of the three, or none.

    Parameters
    ----------
    vswr : float, optional
        Largest voltage standing-wave ratio allowed [-]; > 1.
    return_loss_db : float, optional
        Smallest return loss allowed [dB]; > 0.
    leakage_db : float, optional
        Largest leaked power over incident power allowed [dB]; < 0.

    Raises
    ------
    StudyError
        If a value is outside the range that any part could have.
    """

    vswr: float | None = None
    return_loss_db: float | None = None
    leakage_db: float | None = None

    def __post_init__(self) -> None:
        for name, value, fits, wanted in (
            ("vswr", self.vswr, lambda v: v > 1, "above 1"),
            ("return_loss_db", self.return_loss_db, lambda v: v > 0, "above 0 dB"),
            ("leakage_db", self.leakage_db, lambda v: v < 0, "below 0 dB"),
        ):
            if value is not None and not (np.isfinite(value) and fits(value)):
                raise StudyError(f"limit: {name} = {value:g}: must be finite and {wanted}")

    @property
    def values(self) -> dict[str, float]:
        """The quantities that are set, by name."""
        named = {name: getattr(self, name) for name in WORDING}
        return {name: value for name, value in named.items() if value is not None}

    @property
    def text(self) -> str:
        """The limit in words, as ``"VSWR <= 1.05 and return loss >= 32.00 dB"``."""
        if not self.values:
            return "no limit was set"
        signs = {"vswr": "<=", "return_loss_db": ">=", "leakage_db": "<="}
        return " and ".join(
            f"{WORDING[q][0]} {signs[q]} {wording(q, v)}" for q, v in self.values.items()
        )


def wording(quantity: str, value: float, beside: float | None = None) -> str:
    """Return a value of a limit's quantity as text with its unit.

    Parameters
    ----------
    quantity : str
        A field name of `Limit`.
    value : float
    beside : float, optional
        A limit that the text must not seem to equal unless the value does: digits are added
        until it differs.

    Examples
    --------
    >>> wording("return_loss_db", 32.256)
    '32.26 dB'
    >>> wording("vswr", 1.072702, beside=1.0727)
    '1.072702'
    """
    if quantity == "leakage_db" and value <= _NOTHING:
        return NOTHING
    if quantity == "vswr" and value > _TOTAL:
        return f"over {_TOTAL:.0e} (total reflection)"
    text = WORDING[quantity][1].format(value)
    if beside is None or value == beside:
        return text
    kind, unit = ("g", "") if quantity == "vswr" else ("f", " dB")
    for digits in range(3, 14):
        if text != WORDING[quantity][1].format(beside):
            break
        longer, limit = f"{value:.{digits + 2}{kind}}", f"{beside:.{digits + 2}{kind}}"
        if longer != limit:
            return longer + unit
    return text


def amplitude_of(quantity: str, value: float) -> float:
    """Return the wave amplitude that a limit allows, relative to the incident wave [-].

    Examples
    --------
    >>> round(amplitude_of("vswr", 1.05), 6), amplitude_of("return_loss_db", 40.0)
    (0.02439, 0.01)
    """
    if quantity == "vswr":
        return float(reflection_of_vswr(value))
    return float(10.0 ** (-abs(value) / 20.0))


def value_of(quantity: str, amplitude: ArrayLike) -> Array:
    """Return a limit's quantity for a wave amplitude; the inverse of `amplitude_of`."""
    if quantity == "vswr":
        return vswr_of(amplitude)
    loss = return_loss_of(amplitude)
    return loss if quantity == "return_loss_db" else -loss


#: Parts of which no leakage can be asked.
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
