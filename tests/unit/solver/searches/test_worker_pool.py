"""Processes that compute side by side; builtins stand for the computation."""

import os

import pytest

from solver.searches.part_curves import Refusal
from solver.searches.worker_pool import compute_all, physical_cores


@pytest.mark.parametrize("workers", [1, 2])
def test_every_answer_comes_back_under_its_name(workers):
    found = dict(compute_all({"a": -3, "b": 4, "c": -5}, abs, workers))
    assert found == {"a": 3, "b": 4, "c": 5}


def test_a_process_that_dies_takes_one_point_with_it():
    found = dict(compute_all({"a": 3, "b": 4, "c": 5}, os._exit, 2))
    assert set(found) == {"a", "b", "c"}
    assert all(isinstance(outcome, Refusal) and not outcome.lasting for outcome in found.values())
    assert "exit code 3" in found["a"].reason


def test_a_fault_of_the_program_stops_it():
    with pytest.raises(RuntimeError, match="ValueError: invalid literal"):
        list(compute_all({"a": "x", "b": "y"}, int, 2))


def test_processes_get_one_thread_and_this_one_keeps_its_own(monkeypatch):
    monkeypatch.setenv("MKL_NUM_THREADS", "7")
    monkeypatch.delenv("OMP_NUM_THREADS")
    names = {"a": "MKL_NUM_THREADS", "b": "OMP_NUM_THREADS"}
    assert dict(compute_all(names, os.getenv, 2)) == {"a": "1", "b": "1"}
    assert os.environ["MKL_NUM_THREADS"] == "7"
    assert "OMP_NUM_THREADS" not in os.environ


def test_there_is_a_core():
    assert physical_cores() >= 1
