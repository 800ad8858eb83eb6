"""The answer of ``guideproof gradual --shortest``."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from solver.commands.kept_points import kept_points
from solver.commands.printing import print_table

if TYPE_CHECKING:
    from solver.studies.band import Band
    from solver.studies.limits import Limit


def tell_shortest(
    part: Any,
    band: Band,
    limit: Limit,
    asked: Mapping[str, Any],
    folder: Path | None,
    as_json: bool,
    study: Path | None = None,
) -> int:
    """Search over profiles, tell what was found, and return the exit code.

    Parameters
    ----------
    part, band, limit
        As those of `solver.searches.shortest.shortest`.
    asked : mapping
        Its accuracy, walls and ceiling.
    folder : Path or None
        Takes what was found, and the parts computed on the way.
    as_json : bool
    study : Path, optional
        The file that says what the part is.
    """
    from solver.progress import ProgressLine
    from solver.reports.shortest_report import shortest_answer
    from solver.searches.shortest import shortest

    with kept_points(folder) as store, ProgressLine() as progress:
        result = shortest(part, band, limit, store=store, progress=progress, **asked)
    print_table(shortest_answer(result), "gradual", folder, as_json, study, store.files())
    store.close()
    return result.exit_code
