"""The process in which LibRaw runs, so that a crash of it ends nothing else."""

from __future__ import annotations

import os
import pickle
import queue
import signal
import sys
import threading
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

WATCH: Final = "watch"
NEWS: Final = "news"
DONE: Final = "done"
FAILED: Final = "failed"
"""Kinds of what the child sends: see serve."""

_page_bytes = os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 0


def serve() -> None:
    """Work off (room_bytes, work, args) from stdin until it ends; each is work(tell, *args).

    Sends pickled pairs: WATCH, (frame, size or None); NEWS, what the work tells; then DONE with
    its result or FAILED with its exception and that one's cause. Ends at once with stdin, whatever
    it is doing.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sender = _Sender()
    from profiler.frames import decode, exif, measure, statistics  # noqa: F401  (loaded meanwhile)
    from profiler.frames.watch import watch

    watch(lambda path, size: sender.send(WATCH, (path, size)))
    requests: queue.SimpleQueue[tuple[Any, ...]] = queue.SimpleQueue()
    threading.Thread(target=_work_off, args=(sender, requests), daemon=True).start()
    while True:
        try:
            requests.put(pickle.load(sys.stdin.buffer))
        except EOFError:
            os._exit(0)


class _Sender:
    """The way back to the parent; whatever else prints, prints into nothing."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._stream = os.fdopen(os.dup(1), "wb")
        nothing = os.open(os.devnull, os.O_WRONLY)
        for descriptor in (1, 2):
            os.dup2(nothing, descriptor)
        os.close(nothing)

    def send(self, kind: str, value: object) -> None:
        content = pickle.dumps((kind, value))
        with self._lock:
            self._stream.write(content)
            self._stream.flush()


def _work_off(sender: _Sender, requests: queue.SimpleQueue[tuple[Any, ...]]) -> None:
    from profiler.frames.kept_memory import kept_memory

    while True:
        room_bytes, work, args = requests.get()
        limit_memory(room_bytes)
        with kept_memory():  # given back after the result is sent, so that nobody waits for it
            _run(sender, work, args)


def _run(sender: _Sender, work: Callable[..., Any], args: tuple[Any, ...]) -> None:
    try:
        sender.send(DONE, work(lambda value: sender.send(NEWS, value), *args))
    except BaseException as error:
        error.add_note(traceback.format_exc())
        try:
            sender.send(FAILED, (error, error.__cause__ or error.__context__))
        except Exception:
            sender.send(FAILED, (RuntimeError(traceback.format_exc()), None))


def limit_memory(room_bytes: int) -> None:
    """Let the process grow by so much and no more; only Linux can be told so."""
    if sys.platform != "linux":
        return
    import resource

    held = int(Path("/proc/self/statm").read_text().split()[0]) * _page_bytes
    _, most = resource.getrlimit(resource.RLIMIT_AS)
    wanted = held + room_bytes
    soft = wanted if most == resource.RLIM_INFINITY else min(wanted, most)
    resource.setrlimit(resource.RLIMIT_AS, (soft, most))
