"""A title, some sentences and a table as HTML, for the cell of a notebook."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

#: Rows of a table that a cell shows.
MOST_ROWS = 20


def notebook_view(
    title: str,
    sentences: Iterable[str],
    heads: Sequence[str] = (),
    rows: Sequence[Sequence[str]] = (),
) -> str:
    """Return a result as HTML; every text is escaped.

    Parameters
    ----------
    title : str
    sentences : iterable of str
        The first stands by itself, the others in a list.
    heads : sequence of str, optional
        Of the table.
    rows : sequence of sequences of str, optional
        Those beyond `MOST_ROWS` are counted.
    """
    first, *rest = [escape(sentence) for sentence in sentences if sentence] or [""]
    html = [f"<p><b>{escape(title)}</b></p>", f"<p>{first}</p>"]
    if rest:
        html.append("<ul>" + "".join(f"<li>{sentence}</li>" for sentence in rest) + "</ul>")
    if heads:
        html.append("<table><thead>" + _row("th", heads) + "</thead><tbody>")
        html += [_row("td", row) for row in rows[:MOST_ROWS]]
        html.append("</tbody></table>")
    if len(rows) > MOST_ROWS:
        html.append(f"<p>and {len(rows) - MOST_ROWS} more</p>")
    return f'<div style="max-width:46rem;overflow-x:auto">{"".join(html)}</div>'


def _row(cell: str, texts: Sequence[str]) -> str:
    return "<tr>" + "".join(f"<{cell}>{escape(text)}</{cell}>" for text in texts) + "</tr>"
