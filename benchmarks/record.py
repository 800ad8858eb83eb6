"""Write a benchmark's figures with the machine, versions and commit that they belong to."""

from __future__ import annotations

import datetime
import json
import os
import platform
import subprocess
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parent / "results"

_PACKAGES = ("numpy", "scipy", "scikit-fem", "gmsh", "pypardiso", "ngsolve", "loky", "distributed")


def record(name: str, figures: dict[str, Any], folder: Path = RESULTS) -> Path:
    """Write ``NAME-DATE.json`` and return its path.

    Parameters
    ----------
    name : str
        Name of the benchmark.
    figures : dict
        What was measured; times in seconds.
    folder : Path
        Where to; made if it is not there.
    """
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parent,
    ).stdout.strip()
    entry = {
        "benchmark": name,
        "date": datetime.date.today().isoformat(),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores",
        "load_average": [round(load, 2) for load in _load()],
        "python": platform.python_version(),
        "versions": _versions(),
        "commit": commit,
        "figures": figures,
    }
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}-{entry['date']}.json"
    path.write_text(json.dumps(entry, indent=1) + "\n")
    return path


def _load() -> tuple[float, ...]:
    """Processes that wanted a core over the last 1, 5 and 15 minutes, where that is known."""
    return os.getloadavg() if hasattr(os, "getloadavg") else ()


def _versions() -> dict[str, str]:
    found = {}
    for package in _PACKAGES:
        try:
            found[package] = version(package)
        except PackageNotFoundError:  # the solver does without pypardiso
            continue
    return found
