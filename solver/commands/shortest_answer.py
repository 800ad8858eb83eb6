"""The answer of ``guideproof gradual --shortest``."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from solver.commands.kept_points import kept_points
from solver.commands.printing import print_json, print_paths, write_folder

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
    """
    from solver.output.result_json import as_text
    from solver.output.shortest_answer import shortest_csv, shortest_result_of, shortest_text
    from solver.progress import ProgressLine
    from solver.searches.shortest import shortest

    with kept_points(folder) as store, ProgressLine() as progress:
        result = shortest(part, band, limit, store=store, progress=progress, **asked)
    told = shortest_result_of(result)
    paths: tuple[Path, ...] = ()
    if folder is not None:
        files = {
            "result.json": as_text(told).encode("ascii"),
            "profiles.csv": shortest_csv(result).encode("ascii"),
        }
        paths = write_folder(folder, files | store.files())
        store.close()
    if as_json:
        print_json(told)
    else:
        click.echo(shortest_text(result))
        print_paths(paths)
    return result.exit_code
