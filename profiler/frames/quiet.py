"""Silence for the native libraries that write to the process's error stream by themselves."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

_STDERR_FD = 2


class _Muffler:
    """Points file descriptor 2 at the null device while at least one holder wants it so."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._holders = 0
        self._saved_fd = -1
        self._python_stream: TextIO | None = None
        self._stand_in: TextIO | None = None

    def enter(self) -> None:
        with self._lock:
            self._holders += 1
            if self._holders == 1:
                self._mute()

    def leave(self) -> None:
        with self._lock:
            self._holders -= 1
            if self._holders == 0 and self._saved_fd >= 0:
                self._restore()

    def _mute(self) -> None:
        try:
            self._saved_fd = os.dup(_STDERR_FD)
        except OSError:  # no error stream at all, so nothing to silence
            return
        if _writes_to_fd(sys.stderr, _STDERR_FD):
            sys.stderr.flush()
            self._python_stream = sys.stderr
            self._stand_in = os.fdopen(
                os.dup(self._saved_fd),
                "w",
                buffering=1,
                encoding=sys.stderr.encoding,
                errors="backslashreplace",
            )
            sys.stderr = self._stand_in
        null_fd = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null_fd, _STDERR_FD)
        os.close(null_fd)

    def _restore(self) -> None:
        os.dup2(self._saved_fd, _STDERR_FD)
        os.close(self._saved_fd)
        self._saved_fd = -1
        if self._stand_in is not None:
            self._stand_in.flush()
            if sys.stderr is self._stand_in and self._python_stream is not None:
                sys.stderr = self._python_stream
            self._stand_in.close()
        self._python_stream = self._stand_in = None


def _writes_to_fd(stream: TextIO | None, fd: int) -> bool:
    """True where the stream writes to that file descriptor."""
    if stream is None:
        return False
    try:
        return stream.fileno() == fd
    except (OSError, ValueError, AttributeError):  # replaced by something that is no file
        return False


_muffler = _Muffler()


@contextmanager
def quiet_native_stderr() -> Iterator[None]:
    """Nothing: inside the block what C libraries print to file descriptor 2 is dropped.

    Python's own sys.stderr goes on writing to where it did. May be nested or entered by several
    threads at once; since the descriptor belongs to the whole process, wrap a batch rather than
    each file.
    """
    _muffler.enter()
    try:
        yield
    finally:
        _muffler.leave()
