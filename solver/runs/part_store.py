"""Finished parts of runs kept on disk, so that a change of one costs the solution of one."""

from __future__ import annotations

import contextlib
import io
import json
import os
import tokenize
import zipfile
from pathlib import Path
from typing import Any

import numpy as np

from solver.errors import OutputError
from solver.runs.part_task import KeptPart
from solver.runs.sampled_part import as_arrays, from_arrays
from solver.studies.messages import one_line

#: Folder of kept parts within that of the results.
KEPT = "kept-parts"
#: What reading a torn archive raises: an empty file, a header or an array that is cut or garbled.
_TORN = (
    OSError,
    EOFError,
    ValueError,
    LookupError,
    TypeError,
    RuntimeError,
    tokenize.TokenError,
    zipfile.BadZipFile,
)


class PartStore:
    """Finished parts by fingerprint, one file each.

    Parameters
    ----------
    folder : Path or None
        The folder of the results; None keeps nothing.
    """

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder / KEPT if folder is not None else None
        self.added = 0

    @property
    def keeps(self) -> bool:
        """Whether anything is kept."""
        return self._folder is not None

    def get(self, fingerprint: str) -> KeptPart | None:
        """Return the part with this fingerprint, if it is there and whole."""
        if self._folder is None:
            return None
        try:
            return _read((self._folder / f"{fingerprint}.npz").read_bytes())
        except _TORN:
            return None  # not there, or torn: it is computed again

    def add(self, fingerprint: str, part: KeptPart) -> None:
        """Keep a part; it is on disk when this returns.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        if self._folder is None:
            return
        # two processes of a grid may come to the same part
        partial = self._folder / f"{fingerprint}.{os.getpid()}.partial"
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            with partial.open("wb") as file:
                file.write(_written(part))
                file.flush()
                os.fsync(file.fileno())
            partial.replace(self._folder / f"{fingerprint}.npz")
        except OSError as error:
            with contextlib.suppress(OSError):
                partial.unlink()
            reason = one_line(error.strerror or str(error))
            raise OutputError(
                f"{one_line(str(self._folder))}: {reason}; choose another folder"
            ) from error
        self.added += 1

    @property
    def kept_text(self) -> str:
        """What an interrupted run leaves, in words; empty if it leaves nothing."""
        if self._folder is None or not self.added:
            return ""
        return (
            f"finished parts kept in {one_line(str(self._folder))}: {self.added}; the same "
            "command goes on from there"
        )


def _written(part: KeptPart) -> bytes:
    file = io.BytesIO()
    files = {f"file {name}": np.frombuffer(c, dtype=np.uint8) for name, c in part.files.items()}
    arrays: dict[str, Any] = as_arrays(part.sampled) | files
    np.savez(file, facts=np.array(json.dumps(part.facts)), **arrays)
    return file.getvalue()


def _read(content: bytes) -> KeptPart:
    with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
        files = {
            name.removeprefix("file "): arrays[name].tobytes()
            for name in arrays.files
            if name.startswith("file ")
        }
        return KeptPart(from_arrays(arrays), json.loads(str(arrays["facts"])), files)
