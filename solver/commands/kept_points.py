"""Points that outlast an interrupt, for every command that computes many."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from solver.searches.point_store import PointStore


@contextmanager
def kept_points(folder: Path | None) -> Iterator[PointStore]:
    """Open the store of a folder; an interrupt tells what was kept."""
    from solver.output.output_folder import check_folder
    from solver.searches.point_store import PointStore

    if folder is not None:
        check_folder(folder)
    store = PointStore(folder)
    try:
        yield store
    except KeyboardInterrupt as interrupt:
        raise KeyboardInterrupt(store.kept_text) from interrupt
