"""A cluster of dask: two local workers, builtins and slow functions in place of the solver."""

import os
import signal
import sys
import time

import pytest

from solver.errors import EngineError
from solver.searches.cluster_pool import compute_on_cluster
from solver.searches.part_curves import Refusal


def test_without_dask_one_line_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(EngineError, match=r"dask is not installed.*guideproof\[cluster\]"):
        list(compute_on_cluster({"a": 1}, abs, "tcp://127.0.0.1:1"))


def test_wrong_address_is_one_line():
    pytest.importorskip("distributed")
    with pytest.raises(EngineError, match="no scheduler answers there"):
        list(compute_on_cluster({"a": 1}, abs, "nonsense://x"))


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=":0", silence_logs=50
    ) as made:
        yield made


def slowly(value):
    """Take some time, and give the value doubled."""
    time.sleep(0.15)
    return 2 * value


@pytest.mark.slow
def test_answers_survive_a_worker_that_is_killed(cluster):
    run = compute_on_cluster({str(n): n for n in range(40)}, slowly, cluster.scheduler_address)
    found = {}
    for name, outcome in run:
        found[name] = outcome
        if len(found) == 5:
            victim = next(iter(cluster.workers.values()))
            os.kill(victim.process.pid, signal.SIGKILL)
    assert found == {str(n): 2 * n for n in range(40)}


@pytest.mark.slow
def test_a_point_that_kills_every_worker_is_refused_and_the_others_are_not(cluster):
    run = compute_on_cluster({"a": 3, "b": 4}, exit_on_three, cluster.scheduler_address)
    found = dict(run)
    assert found["b"] == 4
    assert isinstance(found["a"], Refusal) and not found["a"].lasting


def exit_on_three(value):
    """End the process at 3."""
    if value == 3:
        os._exit(3)
    return value


@pytest.mark.slow
def test_a_fault_of_the_program_stops_it(cluster):
    with pytest.raises(RuntimeError, match="ValueError: invalid literal"):
        list(compute_on_cluster({"a": "x"}, int, cluster.scheduler_address))


@pytest.mark.slow
def test_workers_of_a_process_do_one_thing_at_a_time_with_one_thread(cluster):
    outcomes = dict(
        compute_on_cluster({str(n): n for n in range(3)}, threads, cluster.scheduler_address)
    )
    assert set(outcomes.values()) == {1}


def threads(_):
    """Most threads of any library of dense algebra here."""
    import numpy  # noqa: F401
    from threadpoolctl import threadpool_info

    return max(pool["num_threads"] for pool in threadpool_info())
