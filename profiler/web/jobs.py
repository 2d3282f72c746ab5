"""One long piece of work in the background, with progress, that can be cancelled."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

from profiler.errors import GreytareError
from profiler.files.mishap import mishap

T = TypeVar("T")
State = Literal["running", "done", "failed", "cancelled"]
Progress = Callable[[int, int], None]

log = logging.getLogger("greytare.web")


class CancelledError(BaseException):
    """Raised inside the work when the user wants it to stop; no fault, so no Exception."""


@dataclass(frozen=True, kw_only=True)
class JobState:
    """How far a job is; total 0 until it is known, left_s None until it can be told."""

    state: State
    done: int
    total: int
    left_s: float | None
    error: str


class Job(Generic[T]):
    """Work that runs in a thread of its own from the start; it stops at its next progress."""

    def __init__(self, work: Callable[[Progress], T], then: Callable[[T], None]) -> None:
        self._work, self._then = work, then
        self._lock = threading.Lock()
        self._cancel = threading.Event()
        self._state: State = "running"
        self._done, self._total, self._error = 0, 0, ""
        self._started = time.monotonic()
        self._thread = threading.Thread(target=self._run, name="greytare-job", daemon=True)
        self._thread.start()

    def look(self) -> JobState:
        """Return how far it is."""
        with self._lock:
            left = None
            if self._state == "running" and 0 < self._done < self._total:
                spent = time.monotonic() - self._started
                left = spent / self._done * (self._total - self._done)
            return JobState(
                state=self._state,
                done=self._done,
                total=self._total,
                left_s=left,
                error=self._error,
            )

    @property
    def running(self) -> bool:
        """Whether it still works."""
        return self.look().state == "running"

    def cancel(self) -> None:
        """Ask it to stop."""
        self._cancel.set()

    def join(self, timeout_s: float | None = None) -> None:
        """Wait until it has ended."""
        self._thread.join(timeout_s)

    def _progress(self, done: int, total: int) -> None:
        if self._cancel.is_set():
            raise CancelledError
        with self._lock:
            self._done, self._total = done, total

    def _run(self) -> None:
        try:
            result = self._work(self._progress)
            if self._cancel.is_set():
                raise CancelledError
            self._then(result)
            self._end("done")
        except CancelledError:
            self._end("cancelled")
        except GreytareError as error:
            self._end("failed", str(error))
        except Exception as error:
            log.exception("measuring failed")
            self._end("failed", str(mishap(error, "measuring")))

    def _end(self, state: State, error: str = "") -> None:
        with self._lock:
            self._state, self._error = state, error
