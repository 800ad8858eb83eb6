"""Does the computed part meet its limit, given how sure the numbers are?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solver.judgement.quantities import (
    EXCEEDS,
    MEETS,
    NO_LIMIT,
    UNDECIDED,
    Judged,
    holding_parts,
    read_quantity,
)
from solver.judgement.reasons import accuracy_sentence, reading_sentence, unsampled_sentence
from solver.studies.limits import NOTHING, WORDING, Limit, value_of, wording
from solver.waves.resonances import Resonance


@dataclass(frozen=True)
class Verdict:
    """The answer, with the reading that decides it.

    Parameters
    ----------
    outcome : str
        ``"meets"``, ``"exceeds"``, ``"undecided"``, or ``"no limit"`` where none was set.
    quantity : str
        Quantity with the least room to its limit: a field name of `Limit`.
    worst : float
        Worst value of that quantity over the band, in the limit's own quantity and unit.
    lowest, highest : float
        Interval that holds the true worst value, ascending, in the same unit.
    at_hz : float
        Frequency of the worst value [Hz].
    limit : float or None
        The limit on the quantity; None if none was set.
    reasons : tuple of str
        Sentences that say why.
    margin_db : float or None
        Room between the limit and the end of the bar that decides, as a ratio of amplitudes;
        negative where the limit is exceeded [dB].
    margin : float or None
        The same room in the limit's own quantity and unit.
    holds : tuple of (float, float)
        Parts of the band in which every limit holds with the bar counted [Hz].
    accuracy_reached : bool
        Whether the bar is under the accuracy that was asked for.
    """

    outcome: str
    quantity: str
    worst: float
    lowest: float
    highest: float
    at_hz: float
    limit: float | None
    reasons: tuple[str, ...]
    margin_db: float | None = None
    margin: float | None = None
    holds: tuple[tuple[float, float], ...] = ()
    accuracy_reached: bool = True

    @property
    def exit_code(self) -> int:
        """Exit code of the command: 0 meets, 1 exceeds, 3 undecided.

        Without a limit 0, or 3 if the accuracy that was asked for was not reached.
        """
        if self.outcome == NO_LIMIT:
            return 0 if self.accuracy_reached else 3
        return {MEETS: 0, EXCEEDS: 1, UNDECIDED: 3}[self.outcome]

    @property
    def text(self) -> str:
        """The worst value and its interval in words."""
        name = WORDING[self.quantity][0]
        worst, low, high = (
            wording(self.quantity, value, self.limit)
            for value in (self.worst, self.lowest, self.highest)
        )
        if self.quantity == "leakage_db" and high == NOTHING:
            return "nothing leaks"
        return f"worst {name} {worst} at {self.at_hz / 1e9:.6g} GHz, between {low} and {high}"


def judge(
    scattering: Judged,
    limit: Limit | None,
    accuracy_reached: bool = True,
    *,
    wanted_error: float | None = None,
    cautions: Sequence[str] = (),
    resonances: Sequence[Resonance] = (),
    unsampled: Sequence[Resonance] = (),
) -> Verdict:
    """Judge the part against its limit.

    Parameters
    ----------
    scattering : ScatteringMatrix
        The computed part, or anything else with what `Judged` asks for; dense enough to hold
        the extremes of its band, as `solver.judgement.whole_band.whole_band` gives it.
    limit : Limit or None
        What is asked of it.
    accuracy_reached : bool
        Whether the bar is under the accuracy that was asked for; if not, a sentence says so.
    wanted_error : float, optional
        The accuracy that was asked for, for the wording [-].
    cautions : sequence of str, optional
        More sentences for the reasons, for example a resonance in the band.
    resonances : sequence of Resonance, optional
        Those in the band, to name the one that decides.
    unsampled : sequence of Resonance, optional
        Those whose effect nobody can tell: nothing is met while there is one.

    Returns
    -------
    Verdict
        "meets" if the upper end of the bar meets every limit at every frequency, "exceeds" if
        the lower end exceeds a limit at some frequency, "undecided" if a limit lies inside the
        bar, and "no limit" if none was set.

    Notes
    -----
    The bar bounds the complex error of each S-parameter, so ``|S11| - error`` and
    ``|S11| + error`` hold the true reflection. Leaked power is taken as the square of an
    amplitude with the same bar.
    """
    wanted = limit.values if limit is not None else {}
    readings = [read_quantity(scattering, q, v) for q, v in wanted.items()]
    if not readings:
        readings = [read_quantity(scattering, "vswr", None)]
    rank = {NO_LIMIT: 0, MEETS: 0, UNDECIDED: 1, EXCEEDS: 2}
    readings.sort(key=lambda r: (rank[r.outcome], r.use), reverse=True)
    first = readings[0]
    outcome = UNDECIDED if unsampled and first.outcome == MEETS else first.outcome
    reasons = [reading_sentence(reading, resonances) for reading in readings]
    if not accuracy_reached:
        reasons.append(accuracy_sentence(scattering, wanted_error))
    reasons += [unsampled_sentence(found) for found in unsampled]
    converted = _beside_the_dominant(scattering)
    if converted:
        reasons.append(
            f"{scattering.port_modes[0].name} is not the only mode that propagates in the band: "
            "see the other rows of the S-matrix for the power converted to "
            + ", ".join(sorted(converted))
        )
    ends = value_of(first.quantity, [first.lowest, first.worst, first.highest])
    low, high = sorted((float(ends[0]), float(ends[2])))
    margin_db, margin = first.margin
    return Verdict(
        outcome=outcome,
        quantity=first.quantity,
        worst=float(ends[1]),
        lowest=low,
        highest=high,
        at_hz=first.at_hz,
        limit=first.limit,
        reasons=(*reasons, *cautions),
        margin_db=margin_db,
        margin=margin,
        holds=holding_parts(scattering, limit) if wanted else (),
        accuracy_reached=accuracy_reached,
    )


def _beside_the_dominant(scattering: Judged) -> set[str]:
    """Names of the modes that propagate at a port beside its dominant one."""
    dominant = {
        port: min(
            (mode for mode in scattering.port_modes if mode.port == port), key=lambda m: m.cutoff
        )
        for port in {mode.port for mode in scattering.port_modes}
    }
    return {m.name for m in scattering.port_modes if m is not dominant[m.port]}
