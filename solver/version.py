"""Which version of this package is running."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def installed_version() -> str:
    """Return the version of the installed distribution; ``"0+source"`` if it is not installed."""
    try:
        return version("guideproof")
    except PackageNotFoundError:
        return "0+source"
