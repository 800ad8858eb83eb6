"""Write a benchmark's figures with the machine, versions and commit that they belong to."""

from __future__ import annotations

import datetime
import json
import os
import platform
import subprocess
from importlib.metadata import version
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parent / "results"


def record(name: str, figures: dict[str, Any]) -> Path:
    """Write ``results/NAME-DATE.json`` and return its path.

    Parameters
    ----------
    name : str
        Name of the benchmark.
    figures : dict
        What was measured; times in seconds.
    """
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    ).stdout.strip()
    entry = {
        "benchmark": name,
        "date": datetime.date.today().isoformat(),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores",
        "python": platform.python_version(),
        "versions": {p: version(p) for p in ("numpy", "scipy", "scikit-fem", "gmsh")},
        "commit": commit,
        "figures": figures,
    }
    RESULTS.mkdir(exist_ok=True)
    path = RESULTS / f"{name}-{entry['date']}.json"
    path.write_text(json.dumps(entry, indent=1) + "\n")
    return path
