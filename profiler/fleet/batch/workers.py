"""Work spread over local processes or a cluster, through `concurrent.futures.Executor`."""

from __future__ import annotations

import logging
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from itertools import islice
from multiprocessing import get_context, parent_process
from typing import Any, TypeVar

from profiler import __version__
from profiler.errors import GreytareError

T = TypeVar("T")
R = TypeVar("R")
_CLOSE_S = 5.0
"""Longest wait for a scheduler to take leave."""
CONNECT_S = 15.0
"""Longest wait for a scheduler to answer."""


@dataclass(frozen=True, kw_only=True)
class WorkerPool:
    """An executor, how many tasks it is given at once, and what it raises when a worker dies.

    alone: whether a worker holds one task only, so that it is clear which one it died of.
    """

    executor: Executor
    width: int
    deaths: tuple[type[BaseException], ...]
    alone: bool
    name: str


class WorkerDied(Exception):  # noqa: N818  (an outcome that is handed on, not raised)
    """A worker process died twice under one task."""


def run_tasks(
    pool: WorkerPool, work: Callable[[T], R], tasks: Iterable[T]
) -> Iterator[tuple[T, R | BaseException]]:
    """Yield (task, result) as results come, in no order; an exception stands for a failed task.

    No more than `pool.width` tasks are under way, so that memory doesn't grow with their number. A
    task whose worker died is tried once more, with no other on its worker: the second time it
    yields WorkerDied.
    """
    again: list[T] = []
    for task, result in _run_tasks(pool, work, tasks, pool.width):
        if isinstance(result, pool.deaths):
            again.append(task)
        else:
            yield task, result
    for task, result in _run_tasks(pool, work, again, pool.width if pool.alone else 1):
        died = isinstance(result, pool.deaths)
        yield task, WorkerDied("its worker process died twice") if died else result


def _run_tasks(
    pool: WorkerPool, work: Callable[[T], R], tasks: Iterable[T], width: int
) -> Iterator[tuple[T, R | BaseException]]:
    flying: dict[Future[R], T] = {}
    waiting = iter(tasks)
    while True:
        for task in islice(waiting, width - len(flying)):
            flying[pool.executor.submit(work, task)] = task
        if not flying:
            return
        done, _ = wait(flying, return_when=FIRST_COMPLETED)
        for future in done:
            task = flying.pop(future)
            if future.cancelled():
                raise GreytareError(
                    "the workers are gone",
                    pool.name,
                    "Start them, then run again: it goes on where it was",
                )
            error = future.exception()
            yield task, future.result() if error is None else error


@contextmanager
def local(jobs: int) -> Iterator[WorkerPool]:
    """Yield a pool of `jobs` local processes (spawned, never forked), one task each at a time."""
    executor = Slots(jobs)
    try:
        yield WorkerPool(
            executor=executor,
            width=jobs,
            deaths=(BrokenExecutor,),
            alone=True,
            name="local processes",
        )
    except BaseException:
        executor.kill()
        raise
    finally:
        executor.shutdown(wait=True, cancel_futures=True)


@contextmanager
def cluster(address: str) -> Iterator[WorkerPool]:
    """Yield a pool of the dask.distributed cluster whose scheduler listens at `address`.

    Workers need this greytare and see the series under the same paths; one thread each is best.
    """
    try:
        from distributed import Client, KilledWorker
        from distributed.comm.core import CommClosedError
    except ImportError as error:
        raise GreytareError(
            "dask.distributed is not installed",
            "",
            "Install the extra: pip install 'greytare[cluster]'",
            "cluster",
        ) from error
    _hush()
    try:
        connect: Any = Client
        client = connect(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise GreytareError(
            "no scheduler answers there",
            address,
            "Start one with dask scheduler, and give the address that it prints, such as "
            "tcp://host:8786",
            "cluster",
        ) from error
    try:
        _check_workers(client, address)
        threads = sum(client.nthreads().values())
        yield WorkerPool(
            executor=client.get_executor(pure=False),
            width=2 * threads,  # one at work, one on its way
            deaths=(KilledWorker,),
            alone=False,
            name=address,
        )
    except (CancelledError, CommClosedError, TimeoutError) as error:
        raise _gone(address) from error
    except OSError as error:
        if client.status == "running":
            raise
        raise _gone(address) from error
    finally:
        with suppress(OSError, TimeoutError, CommClosedError):
            client.close(timeout=_CLOSE_S)


def _gone(address: str) -> GreytareError:
    return GreytareError(
        "the cluster has ended", address, "Start it, then run again: it goes on where it was"
    )


def _hush() -> None:
    """Keep what the library logs about lost connections from the terminal: we say it ourselves."""
    for name in ("tornado", "asyncio", *logging.root.manager.loggerDict):
        if name.partition(".")[0] in ("distributed", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL)


class Slots(Executor):
    """Spawned worker processes, each in a pool of its own, so that one that dies breaks no other.

    No more tasks may be under way than there are slots.
    """

    def __init__(self, jobs: int) -> None:
        if jobs < 1:
            raise ValueError(f"at least one job is needed, not {jobs}")
        self._pools = [_one() for _ in range(jobs)]
        self._pids: list[Future[int] | None] = [None] * jobs
        self._busy: list[Future[Any] | None] = [None] * jobs

    def submit(self, fn: Callable[..., R], /, *args: Any, **kwargs: Any) -> Future[R]:
        """Return the future of a call in the first idle slot."""
        k = next(i for i, task in enumerate(self._busy) if task is None or task.done())
        last = self._busy[k]
        if last is not None and isinstance(last.exception(), BrokenExecutor):
            self._pools[k].shutdown(wait=False)
            self._pools[k], self._pids[k] = _one(), None
        if self._pids[k] is None:
            self._pids[k] = self._pools[k].submit(os.getpid)
        future = self._pools[k].submit(fn, *args, **kwargs)
        self._busy[k] = future
        return future

    def kill(self) -> None:
        """End the worker processes at once: nobody waits for what they are doing."""
        for pid in self._pids:
            if pid is not None and pid.done() and pid.exception() is None:
                try:
                    os.kill(pid.result(), signal.SIGTERM)
                except ProcessLookupError:
                    continue

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the worker processes when they have done what they are at."""
        for pool in self._pools:
            pool.shutdown(wait=wait, cancel_futures=cancel_futures)


def version() -> str:
    """Return the version of greytare, as a worker has it."""
    return __version__


def _one() -> ProcessPoolExecutor:
    return ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_begin)


def _begin() -> None:
    """In a worker: one thread of linear algebra, as on the command line, so that sums are the same
    wherever they are made; Ctrl-C left to the parent; an end when the parent ends (kill -9, too).
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _check_workers(client: Any, address: str) -> None:
    versions = client.run(version, on_error="return")
    if not versions:
        raise GreytareError(
            "the scheduler has no workers", address, f"Start some with: dask worker {address}"
        )
    for name, found in versions.items():
        if isinstance(found, BaseException):
            raise GreytareError(
                f"worker {name} can't load greytare", address, "Install greytare on every worker"
            ) from found
        if found != __version__:
            raise GreytareError(
                f"worker {name} has greytare {found}, this is {__version__}",
                address,
                "Install one version everywhere",
            )
