"""The command ``guideproof guides``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from solver.commands.options import GUIDE, JSON
from solver.commands.printing import print_json, speak_lengths

if TYPE_CHECKING:
    from geometries.shapes.guides import CircularGuide, RectangularGuide, StandardGuide


@click.command()
@click.argument("size", required=False, type=GUIDE)
@JSON
def guides(size: RectangularGuide | CircularGuide | None, as_json: bool) -> None:
    """List the standard guides, or one SIZE with its bands, loss and power.

    SIZE is a standard name, 22.86x10.16 or 27.0 in mm, or 0.9x0.4in.

    Example: guideproof guides WR-90
    """
    from geometries.shapes.guides import standard_guides
    from solver.output import screen

    speak_lengths()
    standard = standard_guides() if size is None else _standard(size)
    if as_json:
        print_json({"schema": 1, "guides": _described(size, standard)})
    elif size is None:
        click.echo(screen.guides_text(standard))
    else:
        click.echo(screen.guide_text(standard[0]) if standard else _own_text(size))


def _standard(size: RectangularGuide | CircularGuide) -> tuple[StandardGuide, ...]:
    """The row of the catalogue that has these dimensions; empty if none has."""
    from geometries.shapes.guides import CircularGuide, standard_guides

    if isinstance(size, CircularGuide):
        return ()
    return tuple(
        row
        for row in standard_guides()
        if abs(row.guide.broad_width - size.broad_width) < 1e-6 * size.broad_width
        and abs(row.guide.narrow_height - size.narrow_height) < 1e-6 * size.broad_width
    )


def _described(
    size: RectangularGuide | CircularGuide | None, standard: tuple[StandardGuide, ...]
) -> list[dict[str, Any]]:
    from solver.output.result_json import catalogue_of
    from solver.studies.plain_values import described_guide
    from solver.waves.guide_modes import dominant_cutoff

    if standard or size is None:
        return catalogue_of(standard)
    return [described_guide(size) | {"cutoff_hz": dominant_cutoff(size)}]


def _own_text(guide: RectangularGuide | CircularGuide) -> str:
    """A guide that the catalogue does not list, as text."""
    from geometries.shapes.guides import RectangularGuide
    from solver.output.screen import table_text
    from solver.output.wording import in_mm
    from solver.studies.inches import guide_text
    from solver.waves.guide_modes import (
        dominant_cutoff,
        mode_cutoffs,
        recommended_band,
        single_mode_band,
    )

    first = dominant_cutoff(guide)
    rows = []
    if isinstance(guide, RectangularGuide):
        size = f"{in_mm(guide.broad_width)} by {in_mm(guide.narrow_height)}"
        rows = [("inside", size)]
    modes = mode_cutoffs(guide, 3.0 * first)
    rows.append((f"cutoff of {modes[0].label}", f"{first / 1e9:.6g} GHz"))
    if isinstance(guide, RectangularGuide):
        low, high = recommended_band(guide)
        rows += [
            ("next mode from", f"{single_mode_band(guide)[1] / 1e9:.6g} GHz"),
            ("1.25 to 1.9 times the cutoff (IEC)", f"{low / 1e9:.5g} to {high / 1e9:.5g} GHz"),
        ]
    else:
        rows.append(("next mode from", f"{modes[1].cutoff / 1e9:.6g} GHz"))
    return table_text((guide_text(guide), ""), rows, ())
