"""Memory of one frame kept for the next."""

from __future__ import annotations

import ctypes
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

# parameters of mallopt(3) in glibc's malloc.h
_TRIM_THRESHOLD: Final = -1
_MMAP_THRESHOLD: Final = -3
_KEEP_BYTES: Final = 1 << 30
_USUAL_BYTES: Final = 32 << 20
"""As far as glibc moves its threshold by itself on 64 bits; it trims at the double, mallopt(3)."""


@contextmanager
def kept_memory() -> Iterator[None]:
    """Nothing: inside the block freed memory stays with the process; only glibc knows how.

    Handed back to the system, as it is elsewhere, the 48 MB of a 24 MP frame return as fresh pages
    that have to be cleared and mapped one by one, which takes 4 % of decoding the frame. Frames
    beyond about 32 MP don't fit into the 64 MiB that glibc grants a thread; for them, and where
    glibc refuses so high a threshold, nothing changes.
    """
    if sys.platform != "linux" or not hasattr(ctypes.CDLL(None), "malloc_trim"):
        yield
        return
    libc = ctypes.CDLL(None)
    if not libc.mallopt(_MMAP_THRESHOLD, _KEEP_BYTES):  # glibc before 2.35 (from memory): 32 MiB
        yield
        return
    libc.mallopt(_TRIM_THRESHOLD, _KEEP_BYTES)
    try:
        yield
    finally:
        libc.mallopt(_MMAP_THRESHOLD, _USUAL_BYTES)
        libc.mallopt(_TRIM_THRESHOLD, 2 * _USUAL_BYTES)
        libc.malloc_trim(0)
