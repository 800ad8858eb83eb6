"""Points of a grid kept on disk as they are finished, so that a broken run loses none."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

from solver.errors import OutputError
from solver.searches.part_curves import PartCurves, Refusal, as_record, from_record
from solver.studies.messages import one_line
from solver.version import installed_version

#: One finished point on each line.
POINTS = "points.jsonl"


class PointStore:
    """Finished points by fingerprint, those of earlier runs included.

    While a run lasts they stand in ``FOLDER.partial``; in the end they move into FOLDER, where
    a finer grid of the same study finds them again.

    Parameters
    ----------
    folder : Path or None
        The folder of the results; None keeps nothing.

    Raises
    ------
    OutputError
        If the folder cannot be read or made.
    """

    def __init__(self, folder: Path | None) -> None:
        self.partial: Path | None = None
        self._lines: dict[str, str] = {}
        # A run that was killed may have left half a line, which the next one has to end.
        self._torn = ""
        self._found: dict[str, PartCurves | Refusal] = {}
        if folder is None:
            return
        folder = folder.resolve()
        self.partial = folder.with_name(folder.name + ".partial")
        try:
            for path in (folder / POINTS, self.partial / POINTS):
                if path.is_file():
                    self._read(path)
        except OSError as error:
            raise _refusal(self.partial, error) from error

    def get(self, fingerprint: str) -> PartCurves | Refusal | None:
        """Return the point with this fingerprint, if it is there."""
        return self._found.get(fingerprint)

    def add(self, fingerprint: str, outcome: PartCurves | Refusal) -> None:
        """Keep a point; it is on disk when this returns.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        self._found[fingerprint] = outcome
        if self.partial is None or (isinstance(outcome, Refusal) and not outcome.lasting):
            return
        record = {"fingerprint": fingerprint, "version": installed_version()}
        line = json.dumps(record | as_record(outcome), allow_nan=False)
        self._lines[fingerprint] = line
        try:
            self.partial.mkdir(parents=True, exist_ok=True)
            with (self.partial / POINTS).open("ab") as file:
                file.write(f"{self._torn}{line}\n".encode("ascii"))
                file.flush()
                os.fsync(file.fileno())
                self._torn = ""
        except OSError as error:
            raise _refusal(self.partial, error) from error

    @property
    def kept_text(self) -> str:
        """What an interrupted run leaves, in words; empty if it leaves nothing."""
        if self.partial is None or not (self.partial / POINTS).is_file():
            return ""
        return (
            f"finished points kept in {one_line(str(self.partial))}: {len(self._lines)}; the same "
            "command goes on from there"
        )

    def files(self) -> dict[str, bytes]:
        """Return the file of all points, in the order of their fingerprints, by name."""
        lines = (self._lines[key] + "\n" for key in sorted(self._lines))
        return {POINTS: "".join(lines).encode("ascii")}

    def close(self) -> None:
        """Take the partial folder away, once its points stand elsewhere."""
        if self.partial is not None:
            shutil.rmtree(self.partial, ignore_errors=True)

    def _read(self, path: Path) -> None:
        text = path.read_text(encoding="ascii", errors="replace")
        self._torn = "\n" if text and not text.endswith("\n") else ""
        for line in text.splitlines():
            try:
                record: Any = json.loads(line)
                if record["version"] != installed_version():
                    continue
                self._found[str(record["fingerprint"])] = from_record(record)
                self._lines[str(record["fingerprint"])] = line
            except (ValueError, KeyError, TypeError):
                continue  # half a line, or none of ours: the point is computed again


def _refusal(path: Path, error: OSError) -> OutputError:
    reason = one_line(error.strerror or str(error))
    return OutputError(f"{one_line(str(path))}: {reason}; choose another folder")
