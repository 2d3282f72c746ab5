"""A bar on stderr that shows up only when there is something to wait for."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

PATIENCE_S = 1.0


@contextmanager
def frame_bar(doing: str) -> Iterator[Callable[[int, int], None]]:
    """Yield a function (done, total) that draws a bar with frame count and time left.

    Nothing is drawn in the first second. The bar writes to a copy of stderr, which decoding
    silences meanwhile.
    """
    started = time.monotonic()
    bar: dict[str, Any] = {}
    terminal = os.fdopen(os.dup(sys.stderr.fileno()), "w") if _has_descriptor() else sys.stderr

    def update(done: int, total: int) -> None:
        if not bar:
            if time.monotonic() - started < PATIENCE_S or done >= total:
                return
            from rich.console import Console
            from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
            from rich.progress import TimeRemainingColumn as TimeLeft

            progress = Progress(
                TextColumn("{task.description}"),
                BarColumn(),
                MofNCompleteColumn(),
                TextColumn("frames,"),
                TimeLeft(),
                TextColumn("left"),
                console=Console(file=terminal),
            )
            progress.start()
            bar["progress"], bar["task"] = progress, progress.add_task(doing, total=total)
        bar["progress"].update(bar["task"], completed=done, total=total)

    try:
        yield update
    finally:
        if bar:
            bar["progress"].stop()
        if terminal is not sys.stderr:
            terminal.close()


def _has_descriptor() -> bool:
    try:
        sys.stderr.fileno()
    except (AttributeError, OSError, ValueError):
        return False
    return True
