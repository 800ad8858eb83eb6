"""The folder of reference values for one part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from solver.output import plots
from solver.output.reference_values import reference_columns, reference_csv, reference_json
from solver.output.wording import band_text, part_text
from solver.reports.table_report import TableAnswer

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment


#: Columns that the page shows.
_SHOWN = ("frequency_ghz", "s11_re", "s11_im", "s11_abs", "s21_re", "s21_im", "s_error")


def reference_answer(assessment: Assessment) -> TableAnswer:
    """Return reference values with the part and its reflection."""
    columns, table = reference_columns(assessment), reference_csv(assessment)
    reached = assessment.provenance.accuracy_reached
    error = float(np.max(assessment.scattering.error))
    return TableAnswer(
        told=reference_json(assessment),
        text=table.removesuffix("\n"),
        table=table,
        title=f"{assessment.title}: reference values",
        part=part_text(assessment.component),
        band=band_text(assessment.band),
        headline=f"Every S-parameter is known to {error:.2g}",
        heads=[name.replace("_", " ") for name in columns],
        rows=[[f"{x:.8g}" for x in row] for row in zip(*columns.values(), strict=True)],
        notes=[f"{estimate.name}: {estimate.source}" for estimate in assessment.estimates]
        + ["S-parameters by a short that reads S11 = -1; time factor exp(+jωt)"],
        shown=[i for i, name in enumerate(columns) if name in _SHOWN],
        outcome="no limit" if reached else "undecided",
        facts=[("Accuracy asked for", f"{assessment.wanted_error:.2g}")],
        component=assessment.component,
        figures={
            "reflection": (
                plots.reflection_figure(assessment),
                plots.reflection_caption(assessment),
            )
        },
    )
