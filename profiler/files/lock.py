"""Locks on open files, where the system has them."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, Literal

from profiler.errors import GreytareError

_PATIENCE_S: Final = 10.0
_STEP_S: Final = 0.005


LockState = Literal["held", "busy", "none"]


def lock_state(descriptor: int) -> LockState:
    """Take the lock of an open file: held; busy where another process has it; none is to be had.

    The system frees it however the holder ends. There are none on Windows, and on file systems
    that know none.
    """
    try:
        import fcntl
    except ImportError:
        return "none"
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return "busy"
    except OSError:
        return "none"
    return "held"


def try_lock(descriptor: int) -> bool:
    """Take the lock of an open file, where there are locks; False where another process has it."""
    return lock_state(descriptor) != "busy"


@contextmanager
def locked_folder(folder: Path) -> Iterator[int | None]:
    """Yield the folder's descriptor, locked against others who write into it; None on Windows."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except PermissionError:  # Windows opens no folders; elsewhere a folder may be write-only
        yield None
        return
    try:
        end = time.monotonic() + _PATIENCE_S
        while not try_lock(descriptor):
            if time.monotonic() > end:
                raise GreytareError(
                    "another program has been writing into the folder for long",
                    str(folder),
                    "Wait for its end, or name another folder",
                )
            time.sleep(_STEP_S)
        yield descriptor
    finally:
        os.close(descriptor)
