"""Long arithmetic done in processes of its own, so that the page goes on answering."""

from __future__ import annotations

import os
import signal
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context, parent_process
from typing import Any, Final, TypeVar, cast

T = TypeVar("T")
_KEPT: Final = 300
_TRIES: Final = 2


class Compute:
    """Workers that all start with the first question; equal questions are worked out once."""

    def __init__(self, workers: int | None = None) -> None:
        self._workers = workers or max(1, min(4, os.cpu_count() or 1))
        self._lock = threading.Lock()
        self._pool: ProcessPoolExecutor | None = None
        self._asked: OrderedDict[Hashable, Future[Any]] = OrderedDict()

    def ask(self, work: Callable[..., T], *key: Hashable) -> T:
        """Return work(*key), a function of a module; what it raises is raised here.

        A worker that dies costs one more try.
        """
        question = (work.__module__, work.__qualname__, *key)
        for _ in range(_TRIES):
            future, pool = self._future(question, work, key)
            try:
                return cast(T, future.result())
            except BrokenProcessPool:
                self._forget(question, future, pool)
        return work(*key)

    def close(self) -> None:
        """End the workers."""
        with self._lock:
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)

    def _future(
        self, question: Hashable, work: Callable[..., Any], key: tuple[Hashable, ...]
    ) -> tuple[Future[Any], ProcessPoolExecutor | None]:
        with self._lock:
            if question in self._asked:
                self._asked.move_to_end(question)
                return self._asked[question], self._pool
            if self._pool is None:
                self._pool = ProcessPoolExecutor(
                    self._workers, mp_context=get_context("spawn"), initializer=_begin
                )
                for _ in range(self._workers):  # a submission starts one worker at most
                    self._pool.submit(_nothing)
            future = self._pool.submit(work, *key)
            self._asked[question] = future
            while len(self._asked) > _KEPT:
                self._asked.popitem(last=False)
            return future, self._pool

    def _forget(
        self, question: Hashable, future: Future[Any], pool: ProcessPoolExecutor | None
    ) -> None:
        with self._lock:
            if self._asked.get(question) is future:
                del self._asked[question]
            if self._pool is pool:
                self._pool = None


def _begin() -> None:
    """Leave Ctrl-C to the parent, end with it however it ends, and load what questions need."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_follow_parent, daemon=True).start()
    from profiler.calibration import pipeline  # noqa: F401
    from profiler.simulate import memory  # noqa: F401


def _nothing() -> None:
    """Nothing, in a worker."""


def _follow_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(0)
