"""Explorations on a cluster of two local workers give the dataset of this machine."""

import os
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

from solver import explore

ROOT = Path(__file__).parents[2]
STUDY = """
guide = "WR-90"
[component]
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = 30.0
[band]
from_ghz = 8.2
to_ghz = 12.4
points = 9
"""
VARY = ["--vary", "component.mean_radius_mm=12:30:8"]


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=":0", silence_logs=50
    ) as made:
        yield made


def _start(study, folder, *more):
    command = [sys.executable, "-m", "solver", "explore", str(study), *VARY, "-o", str(folder)]
    told = folder.with_suffix(".err")
    with told.open("ab") as errors:
        return subprocess.Popen(
            [*command, *more], cwd=ROOT, stdout=subprocess.DEVNULL, stderr=errors
        )


def _points(folder):
    path = folder.with_name(folder.name + ".partial") / "points.jsonl"
    return path.read_bytes().count(b"\n") if path.is_file() else 0


def _wait_for_points(process, folder, count):
    end = time.monotonic() + 60
    while _points(folder) < count and process.poll() is None and time.monotonic() < end:
        time.sleep(0.02)


@pytest.mark.slow
def test_killed_worker_and_killed_client_leave_the_same_dataset(cluster, tmp_path):
    study = tmp_path / "study.toml"
    study.write_text(STUDY, encoding="utf-8")
    here, there = tmp_path / "here", tmp_path / "there"
    local = _start(study, here, "--workers", "1")
    assert local.wait(timeout=120) == 0
    engine = ["--engine", cluster.scheduler_address]
    client = _start(study, there, *engine)
    _wait_for_points(client, there, 3)
    victim = next(iter(cluster.workers.values()))
    os.kill(victim.process.pid, signal.SIGKILL)
    _wait_for_points(client, there, 4)
    client.send_signal(signal.SIGKILL)
    client.wait()
    kept = _points(there)
    assert kept >= 4 or (there / "points.jsonl").is_file()
    again = _start(study, there, *engine)
    assert again.wait(timeout=120) == 0, there.with_suffix(".err").read_text()
    assert (there / "points.jsonl").read_bytes() == (here / "points.jsonl").read_bytes()
    for name in ("table.csv", "dataset.nc"):
        assert (there / name).read_bytes() == (here / name).read_bytes()


@pytest.mark.slow
def test_runs_on_a_cluster_are_those_of_this_machine(cluster, tmp_path):
    bend = '[[part]]\nkind = "bend"\nplane = "E"\nangle_deg = 90.0\nmean_radius_mm = 20.0\n'
    line = '[[part]]\nname = "riser"\nkind = "straight"\nlength_mm = 100.0\n'
    band = "band = { from_ghz = 9.0, to_ghz = 9.5, points = 3 }\n"
    tables = tomllib.loads(f'guide = "WR-90"\n{band}{bend}{line}{bend}')
    vary = {"part.riser.length_mm": [100.0, 104.0, 108.0, 112.0]}
    here = explore(tables, vary)
    there = explore(tables, vary, engine=cluster.scheduler_address)
    assert here.to_dataset().equals(there.to_dataset())
    assert here.outcome == "no limit" and len(here.cells) == 4


@pytest.mark.slow
def test_scheduler_that_is_not_there(tmp_path):
    pytest.importorskip("distributed")
    study = tmp_path / "study.toml"
    study.write_text(STUDY, encoding="utf-8")
    assert _start(study, tmp_path / "out", "--engine", "nonsense://x").wait(timeout=60) == 2
    told = (tmp_path / "out.err").read_text().splitlines()
    assert "no scheduler answers there" in told[-1] and "Traceback" not in told
