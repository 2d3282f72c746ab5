"""The same run on a real cluster: a scheduler and two workers on loopback, each its own process."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import fleetlab
import pytest

from profiler.errors import GreytareError
from profiler.fleet.batch.run import run_fleet
from profiler.fleet.batch.task import Settings
from profiler.fleet.batch.workers import WorkerDied, cluster, run_tasks

pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
pytestmark = pytest.mark.filterwarnings("ignore")  # what dask, tornado and their loops warn of


class Cluster:
    """Scheduler and workers, started as a lab would start them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.processes: list[subprocess.Popen[bytes]] = []
        address = folder / "scheduler.json"
        self._start("scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", str(address))
        end = time.monotonic() + 60.0
        while not address.exists() and time.monotonic() < end:
            time.sleep(0.1)
        time.sleep(0.2)
        self.address = json.loads(address.read_text())["address"]

    def add_worker(self, *, nanny: bool = False, bare: bool = False) -> subprocess.Popen[bytes]:
        """bare: on a machine where greytare isn't installed."""
        watched = "--nanny" if nanny else "--no-nanny"
        words = ("worker", self.address, "--nthreads", "1", watched, "--no-dashboard")
        if bare:
            (self.folder / "sitecustomize.py").write_text(BARE)
        return self._start(*words, path=self.folder if bare else None)

    def _start(self, kind: str, *words: str, path: Path | None = None) -> subprocess.Popen[bytes]:
        environment = os.environ | {
            "PYTHONPATH": str(path or Path(__file__).parent),
            "GREYTARE_CACHE": str(self.folder / "cache"),
            "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0",
            "OPENBLAS_NUM_THREADS": "1",
        }
        with (self.folder / f"{kind}{len(self.processes)}.log").open("wb") as log:
            process = subprocess.Popen(
                [
                    sys.executable,
                    "-m",
                    "dask",
                    kind,
                    *words,
                    "--host",
                    "127.0.0.1",
                ],
                cwd=self.folder,
                env=environment,
                stdout=log,
                stderr=log,
            )
        self.processes.append(process)
        return process

    def stop(self) -> None:
        """End workers first, kindly, so that nannies take theirs with them."""
        for process in reversed(self.processes):
            process.terminate()
            try:
                process.wait(timeout=10.0)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


@pytest.fixture(scope="module")
def lab(tmp_path_factory) -> Iterator[Cluster]:
    made = Cluster(tmp_path_factory.mktemp("cluster"))
    try:
        yield made
    finally:
        made.stop()


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    folder = fleetlab.levels_fleet(tmp_path_factory.mktemp("series") / "root", 12)
    (folder / "bench" / "body00" / "sheet.csv").write_text("file,reading,mode\n")
    return folder


def workers_ready(lab: Cluster, count: int) -> None:
    from distributed import Client

    client = Client(lab.address, timeout=60)
    try:
        client.wait_for_workers(count, timeout=60)
    finally:
        client.close()


BARE = """
import sys

class Without:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] == "profiler":
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Without())
"""


def test_no_workers_yet_then_one_without_greytare(lab):
    with pytest.raises(GreytareError, match="has no workers"), cluster(lab.address):
        pass
    worker = lab.add_worker(bare=True)
    workers_ready(lab, 1)
    with pytest.raises(GreytareError, match="can't load greytare"), cluster(lab.address):
        pass
    worker.terminate()
    worker.wait()


def without_scheduler(own):
    """Tasks whose scheduler ends before the first."""
    own.processes[0].kill()
    yield from range(1, 40)


def test_a_wrong_address_and_a_scheduler_that_ends(tmp_path, monkeypatch):
    monkeypatch.setattr("profiler.fleet.batch.workers.CONNECT_S", 1.0)
    nobody = "tcp://127.0.0.1:1"
    with pytest.raises(GreytareError, match="no scheduler answers there"), cluster(nobody):
        pass
    own = Cluster(tmp_path)
    try:
        own.add_worker()
        workers_ready(own, 1)
        with (
            pytest.raises(GreytareError, match=r"ended|gone") as caught,
            cluster(own.address) as pool,
        ):
            list(run_tasks(pool, fleetlab.crash_if_negative, without_scheduler(own)))
        assert "goes on where it was" in caught.value.mend
    finally:
        own.stop()


def test_same_table_and_a_killed_worker_loses_nothing(lab, root, tmp_path):
    run_fleet(root, tmp_path / "local", jobs=2)
    first, _ = lab.add_worker(), lab.add_worker()
    workers_ready(lab, 2)
    summary = run_fleet(root, tmp_path / "far", address=lab.address)
    assert (summary.measured, len(summary.failures)) == (11, 1)
    assert fleetlab.results_of(tmp_path / "far") == fleetlab.results_of(tmp_path / "local")
    again = run_fleet(root, tmp_path / "far", address=lab.address)
    assert (again.measured, again.same) == (0, 11)

    seen = []

    def kill_one(done: int, total: int, failure: object) -> None:
        seen.append(done)
        if done == total // 2:
            first.send_signal(signal.SIGKILL)

    settings = Settings(report=fleetlab.slow_report)
    summary = run_fleet(
        root, tmp_path / "hit", address=lab.address, settings=settings, progress=kill_one
    )
    assert first.wait() == -signal.SIGKILL
    assert (summary.measured, len(summary.failures)) == (11, 1)
    assert seen == list(range(1, 13))
    assert fleetlab.table_of(tmp_path / "hit") == fleetlab.table_of(tmp_path / "local")
    assert len(list((tmp_path / "hit" / "reports").rglob("*.html"))) == 11


def test_a_task_that_kills_its_workers_fails_alone(lab):
    """The workers have nannies here, who start them again."""
    lab.add_worker(nanny=True)
    workers_ready(lab, 1)
    with cluster(lab.address) as pool:
        got = dict(run_tasks(pool, fleetlab.crash_if_negative, [1, -2, 3]))
    assert isinstance(got.pop(-2), WorkerDied)
    assert got == {1: 2, 3: 6}
