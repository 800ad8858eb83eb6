"""A field of a part that rings by itself, as a value and in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

#: Stands for a Q without bound: round-off alone damps the field.
HIGHEST_Q = 1e15
#: A Q above this that is not the same in two spaces is what round-off and the mesh let through.
UNDRIVEN_Q = 1e7


@dataclass(frozen=True)
class Resonance:
    """One field that rings by itself.

    Parameters
    ----------
    frequency : float
        [Hz]
    error : float
        Bound on its error [Hz].
    quality : float
        Q by what leaves through the ports and past the rim; walls are lossless [-].
    about : str
        Which fields it belongs to, such as ``"m = 0"``; empty where there is only one kind.
    driven : bool
        Whether the entering mode drives it: a field that symmetry keeps apart from the ports has
        a Q that only errors bound, and that changes from space to space.
    before : tuple of (float, float)
        Its frequency and half width in the space before [Hz]; empty if it was not there.
    """

    frequency: float
    error: float
    quality: float
    about: str
    driven: bool = True
    before: tuple[tuple[float, float], ...] = ()

    @property
    def width(self) -> float:
        """Half of the width at half power [Hz]."""
        return self.frequency / (2 * self.quality)


def too_sharp(resonances: Sequence[Resonance]) -> tuple[Resonance, ...]:
    """Those that are driven and so sharp that what they do cannot be told."""
    return tuple(r for r in resonances if r.driven and r.quality > UNDRIVEN_Q)


def resonance_text(found: Resonance) -> str:
    """Return a resonance as a caution, one sentence."""
    at = f"at {found.frequency / 1e9:.6g} GHz"
    if not found.driven:
        return (
            f"a resonance {at} in the band is not driven in the ideal shape: wear, tilt or a "
            "little offset may drive it"
        )
    kind = f"trapped resonance ({found.about})" if found.about else "resonance"
    return (
        f"a {kind} {at}, Q {found.quality:.3g} by what leaves it, lies in the band: a small "
        "change of size, wear or tilt moves it and may drive it harder"
    )
