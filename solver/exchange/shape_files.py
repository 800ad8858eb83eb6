"""The inside of a part as an STL or STEP file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from solver.errors import StudyError
from solver.output.output_folder import check_folder, write_files
from solver.studies.messages import one_line


def check_shape_path(path: str | Path) -> None:
    """Refuse a file that cannot be written, before anything is computed.

    Parameters
    ----------
    path : str or Path

    Raises
    ------
    StudyError, OutputError
    """
    from geometries.solids.solid_files import ENDINGS

    path = Path(path)
    if path.suffix.lower() not in ENDINGS:
        raise StudyError(
            f"{one_line(str(path))}: a shape is written as STL or STEP; end it in .stl or .step"
        )
    check_folder(path.parent)


def save_shape(part: Any, path: str | Path) -> Path:
    """Write the inside of a part as an STL or STEP file, lengths in mm.

    Parameters
    ----------
    part : object
        A part of any kind, from `geometries`.
    path : str or Path
        Its ending says which: ``.stl``, ``.step`` or ``.stp``.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    StudyError
        For another ending.
    MeshingError
        For a part without a solid body.
    OutputError
    """
    from geometries.solids.solid_files import solid_file

    path = Path(path)
    check_shape_path(path)
    return write_files(path.parent, {path.name: solid_file(part, path.suffix)})[0]
