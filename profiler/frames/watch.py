"""Who watches over the decoder, told of each frame that it takes up and lays down."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

Watcher = Callable[[Path, int | None], None]
"""(frame, its size in bytes) before it is decoded, (frame, None) after."""

_watchers: list[Watcher] = []


def watch(watcher: Watcher) -> None:
    """Tell `watcher` of every frame from now on."""
    _watchers.append(watcher)


@contextmanager
def watched(path: Path, size_bytes: int) -> Iterator[None]:
    """Nothing: the block is the decoder at work on one frame."""
    for tell in _watchers:
        tell(path, size_bytes)
    try:
        yield
    finally:
        for tell in _watchers:
            tell(path, None)
