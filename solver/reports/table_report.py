"""The folder of an answer that is a table: of `seek`, `modes` and `reference`."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from solver.figures.inline_figures import as_svg, as_svg_file
from solver.figures.part_sheet import drawing_figure
from solver.output.drawing import drawing_of
from solver.output.result_json import as_text
from solver.reports.page_frame import answer_frame, folder_files, page_frame
from solver.reports.page_templates import page_template

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from solver.reports.run_record import RunRecord

#: The page shows so many rows; the CSV file holds all.
_ROWS_SHOWN = 60


@dataclass(frozen=True, eq=False)
class TableAnswer:
    """An answer that a table gives.

    Parameters
    ----------
    told : dict
        The whole answer as plain values.
    text : str
        The same for a terminal.
    title, part, band : str
        Lines of the heading.
    headline : str
        The answer in a few words.
    heads : sequence of str
    rows : sequence of sequences of str
    shown : sequence of int
        Columns that the page shows; all by default. The CSV file holds all.
    table : str
        The CSV file; by default heads and rows.
    notes : sequence of str
        Sentences without their full stop.
    outcome : str
        As of `answer_frame`.
    facts : sequence of (str, str)
        As of `answer_frame`.
    component : Part or None
        The part that is drawn.
    varied : mapping of str to str
        Dimensions that are to stand out, and what stands there.
    figures : mapping of str to (Figure, str)
        Figures with their captions, by the name of their file.
    """

    told: dict[str, Any]
    text: str
    title: str
    part: str
    band: str
    headline: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    shown: Sequence[int] = ()
    table: str = ""
    notes: Sequence[str] = ()
    outcome: str = "no limit"
    facts: Sequence[tuple[str, str]] = ()
    component: Any = None
    varied: Mapping[str, str] = field(default_factory=dict)
    figures: Mapping[str, tuple[Figure, str]] = field(default_factory=dict)


def table_files(
    answer: TableAnswer, command: str, record: RunRecord | None = None
) -> dict[str, bytes]:
    """Return the content of every file of an answer, by name.

    Parameters
    ----------
    answer : TableAnswer
    command : str
        Name of the command, for the page.
    record : RunRecord, optional
        How it came about.
    """
    drawn: dict[str, tuple[str, str]] = {}
    if answer.component is not None:
        drawing = drawing_of(answer.component)
        drawn["part"] = (as_svg(drawing_figure(drawing, answer.varied)), drawing.note)
    drawn |= {name: (as_svg(figure), text) for name, (figure, text) in answer.figures.items()}
    columns = answer.shown or range(len(answer.heads))
    rows = f"{min(len(answer.rows), _ROWS_SHOWN)} of {len(answer.rows)} rows"
    shown = f"{rows}, {len(columns)} of {len(answer.heads)} columns; table.csv holds all."
    page = {
        **page_frame(
            command,
            answer.title,
            answer.part,
            answer.band,
            record,
            kinds=(answer.component.kind,) if answer.component is not None else (),
        ),
        **answer_frame(answer.outcome, answer.headline, answer.facts, answer.notes),
        "figures": [(Markup(svg), caption) for svg, caption in drawn.values()],
        "heads": [answer.heads[i] for i in columns],
        "rows": [[row[i] for i in columns] for row in answer.rows[:_ROWS_SHOWN]],
        "rows_note": shown,
    }
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([answer.heads, *answer.rows])
    return folder_files(
        page_template("table_report.html").render(page),
        as_text(answer.told).encode("ascii"),
        answer.table or text.getvalue(),
        {name: as_svg_file(svg) for name, (svg, _) in drawn.items()},
    )
