"""Work over local processes: results, bugs, workers that die."""

from __future__ import annotations

import multiprocessing

import fleetlab
import pytest

from profiler.errors import GreytareError
from profiler.fleet.batch.workers import Slots, WorkerDied, cluster, local, run_tasks


def test_each_task_comes_back_once():
    with local(2) as pool:
        got = dict(run_tasks(pool, fleetlab.crash_if_negative, range(7)))
    assert got == {n: 2 * n for n in range(7)}


def test_a_dying_worker_costs_its_task_only():
    with local(2) as pool:
        got = dict(run_tasks(pool, fleetlab.crash_if_negative, [1, -2, 3, 4, -5, 6]))
    assert {n: r for n, r in got.items() if n > 0} == {1: 2, 3: 6, 4: 8, 6: 12}
    assert isinstance(got[-2], WorkerDied)
    assert isinstance(got[-5], WorkerDied)


def test_a_worker_that_died_once_is_no_failure(tmp_path):
    with local(1) as pool:
        got = list(run_tasks(pool, fleetlab.crash_once, [str(tmp_path / "marker")]))
    assert got == [(str(tmp_path / "marker"), "done")]


def test_a_bug_in_one_task_is_handed_back():
    with local(1) as pool:
        got = dict(run_tasks(pool, fleetlab.divide, [1, 0, 2]))
    assert got[1] == 1.0
    assert isinstance(got[0], ZeroDivisionError)
    assert got[2] == 0.5


def test_tasks_are_taken_as_they_are_needed():
    taken = []

    def tasks():
        for n in range(50):
            taken.append(n)
            yield n

    with local(2) as pool:
        for k, _ in enumerate(run_tasks(pool, fleetlab.crash_if_negative, tasks())):
            assert len(taken) <= k + 3


def stop_half_way():
    with local(2) as pool:
        for _ in run_tasks(pool, fleetlab.slow_double, range(1000)):
            raise RuntimeError("enough")


def test_stopped_half_way_leaves_no_process():
    before = set(multiprocessing.active_children())
    with pytest.raises(RuntimeError, match="enough"):
        stop_half_way()
    assert set(multiprocessing.active_children()) <= before


def test_no_jobs():
    with pytest.raises(ValueError, match="at least one job"):
        Slots(0)


def test_no_scheduler(monkeypatch):
    monkeypatch.setattr("profiler.fleet.batch.workers.CONNECT_S", 0.5)
    with (
        pytest.raises(GreytareError, match="no scheduler answers"),
        cluster("tcp://127.0.0.1:1"),
    ):
        pass
