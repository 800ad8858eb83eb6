"""Rules of thumb in words: one line a rule, with the range of its readings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from solver.output.wording import in_mm

if TYPE_CHECKING:
    from solver.rules.rules_of_thumb import RuleReading


@dataclass(frozen=True)
class RuleLine:
    """One rule with all its readings.

    Parameters
    ----------
    name : str
    asks, has : str
        What its readings ask for, and what the part has.
    holds : str
        ``"yes"``, ``"no"``, or how many of the readings hold.
    change : str
        What would have to change for those that do not hold.
    readings : tuple of RuleReading
    """

    name: str
    asks: str
    has: str
    holds: str
    change: str
    readings: tuple[RuleReading, ...]


def rule_lines(rules: Iterable[RuleReading]) -> list[RuleLine]:
    """Return one line for each rule, in the order of the readings."""
    grouped: dict[str, list[RuleReading]] = {}
    for rule in rules:
        grouped.setdefault(rule.name, []).append(rule)
    return [_line(name, tuple(readings)) for name, readings in grouped.items()]


def _line(name: str, readings: tuple[RuleReading, ...]) -> RuleLine:
    held = sum(rule.satisfied for rule in readings)
    missing = [rule.required - rule.actual for rule in readings if not rule.satisfied]
    some = f"in {held} of {len(readings)} readings"
    holds = "yes" if held == len(readings) else some if held else "no"
    return RuleLine(
        name,
        _by_measure(readings, lambda rule: rule.required, named=True),
        _by_measure(readings, lambda rule: rule.actual),
        holds,
        _change(missing),
        readings,
    )


def _by_measure(
    readings: Sequence[RuleReading], length: Callable[[RuleReading], float], named: bool = False
) -> str:
    """Range of a length for each thing that the readings measure."""
    measures = list(dict.fromkeys(rule.measure for rule in readings))
    ranges = [_range([length(r) for r in readings if r.measure == m]) for m in measures]
    if len(measures) == 1 or not named:
        return "; ".join(dict.fromkeys(ranges))
    return "; ".join(f"{text} {name}" for text, name in zip(ranges, measures, strict=True))


def _range(lengths: Sequence[float]) -> str:
    low, high = (round(end, 5) for end in (min(lengths), max(lengths)))
    return in_mm(low) if low == high else f"{in_mm(low).split()[0]} to {in_mm(high)}"


def _change(missing: Sequence[float]) -> str:
    """Say how much longer or shorter the part would have to be."""
    more, less = [m for m in missing if m > 0], [-m for m in missing if m < 0]
    said = [
        f"{_range(amounts)} {word}" for amounts, word in ((less, "less"), (more, "more")) if amounts
    ]
    return " or ".join(said)


def reading_text(rule: RuleReading) -> str:
    """Return a reading with what it measures."""
    return rule.reading if rule.measure in rule.reading else f"{rule.reading} ({rule.measure})"


def reading_row(rule: RuleReading) -> tuple[str, str, str, str]:
    """Return what one reading asks for, what the part has, whether it holds, what to change."""
    return (
        in_mm(round(rule.required, 5)),
        in_mm(round(rule.actual, 5)),
        "yes" if rule.satisfied else "no",
        "" if rule.satisfied else _change([rule.required - rule.actual]),
    )


def rules_frame(rules: Iterable[RuleReading], actual: str) -> dict[str, Any]:
    """Return what `rules_table.html` needs; sources are long and repeat, so they get numbers."""
    rules = tuple(rules)
    sources = list(dict.fromkeys(str(rule.source) for rule in rules))
    return {
        "rules": rule_lines(rules),
        "rule_readings": [
            (f"{rule.name}: {reading_text(rule)}", *reading_row(rule), _numbered(rule, sources))
            for rule in rules
        ],
        "rule_sources": sources,
        "actual_name": actual,
    }


def _numbered(rule: RuleReading, sources: Sequence[str]) -> str:
    return f"[{sources.index(str(rule.source)) + 1}]"
