"""Write a set of result files: all of them, or none."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from solver.errors import OutputError
from solver.studies.messages import one_line

_PREFIX = ".guideproof-"


def check_folder(folder: str | Path) -> None:
    """Refuse a folder into which nothing can be written, before anything is computed.

    Parameters
    ----------
    folder : str or Path
        The folder; it need not exist.

    Raises
    ------
    OutputError
    """
    path = Path(folder)
    try:
        with _made(path), tempfile.TemporaryDirectory(prefix=_PREFIX, dir=path):
            raise _Withdraw
    except _Withdraw:
        pass
    except (OSError, ValueError) as error:
        raise _refusal(path, error) from error


def write_files(folder: str | Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write files into a folder so that a failure leaves what was there before.

    Parameters
    ----------
    folder : str or Path
        Made if it does not exist.
    files : mapping of str to bytes
        Contents by file name.

    Returns
    -------
    tuple of Path
        The files.

    Raises
    ------
    OutputError
        If any of them could not be written.
    """
    path = Path(folder)
    try:
        with _made(path):
            _replace_all(path, files)
    except (OSError, ValueError) as error:
        raise _refusal(path, error) from error
    return tuple(path / name for name in files)


class _Withdraw(Exception):  # noqa: N818 - a signal within this module, not an error
    """Ends a trial so that the folders made for it go away again."""


@contextmanager
def _made(folder: Path) -> Iterator[None]:
    """Make a folder and its parents; take the new ones away if what follows fails."""
    new = [p for p in (folder, *folder.parents) if not p.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        for made in new:
            if made.is_dir() and not any(made.iterdir()):
                made.rmdir()
        raise


def _replace_all(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write beside the old files first; then swap, and swap back if a swap fails."""
    work = Path(tempfile.mkdtemp(prefix=_PREFIX, dir=folder))
    try:
        for name, content in files.items():
            (work / name).write_bytes(content)
        (work / "before").mkdir()
        swapped: list[str] = []
        try:
            for name in files:
                if (folder / name).is_dir():
                    raise IsADirectoryError(0, f"{name} is a folder there")
                swapped.append(name)
                if (folder / name).exists():
                    (folder / name).replace(work / "before" / name)
                (work / name).replace(folder / name)
        except OSError:
            for name in swapped:
                if (work / "before" / name).exists():
                    (work / "before" / name).replace(folder / name)
                elif not (work / name).exists():
                    (folder / name).unlink(missing_ok=True)
            raise
    finally:
        shutil.rmtree(work, ignore_errors=True)


def _refusal(path: Path, error: OSError | ValueError) -> OutputError:
    reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
    return OutputError(
        f"{one_line(str(path))}: cannot be written: {one_line(reason)}; choose another folder"
    )
