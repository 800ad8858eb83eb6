"""The one place where gmsh is imported.

gmsh keeps one global state per process: models and options survive from one use
to the next.  `gmsh_session` opens it with the options that every mesh here needs
and closes it again, so that two meshes made one after the other do not touch.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType

from geometries.errors import MeshingError

#: Package managers, and what each calls the system libraries that gmsh's wheel leaves out.
_LIBRARIES = {
    "apt-get": "libglu1-mesa libgl1 libxrender1 libxcursor1 libxft2 libxinerama1 libgomp1",
    "dnf": "mesa-libGLU libXrender libXcursor libXft libXinerama libgomp",
}


def remedy() -> str:
    """Return the command that installs what gmsh's wheel leaves to the system."""
    manager = next((name for name in _LIBRARIES if shutil.which(name)), "apt-get")
    return (
        f"its wheel leaves some libraries to the system: {manager} install -y "
        + (_LIBRARIES[manager])
    )


@contextmanager
def gmsh_session(name: str = "part") -> Iterator[ModuleType]:
    """Open gmsh with an empty model, and close it whatever happens.

    Parameters
    ----------
    name : str
        Name of the model.

    Yields
    ------
    module
        The ``gmsh`` module, with a fresh model as the current one.

    Raises
    ------
    MeshingError
        When gmsh cannot be loaded, is already open, or fails while it is in use.
    """
    try:
        import gmsh
    except OSError as error:  # a shared library of the system is missing
        raise MeshingError(f"gmsh cannot be loaded ({error}); {remedy()}") from error
    if gmsh.isInitialized():
        raise MeshingError("gmsh is already open in this process; close that session first")
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        gmsh.model.add(name)
        yield gmsh
    except MeshingError:
        raise
    except Exception as error:
        # gmsh raises bare Exception objects: only those become meshing errors.
        if type(error) is not Exception:
            raise
        raise MeshingError(f"gmsh could not mesh the {name}: {error}") from error
    finally:
        gmsh.finalize()
