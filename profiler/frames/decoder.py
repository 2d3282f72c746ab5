"""Work with raw files handed to a process of its own, which may crash or hang."""

from __future__ import annotations

import atexit
import os
import pickle
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final, TypeVar, cast

from profiler import standards
from profiler.errors import FrameError, GreytareError
from profiler.frames.decoder_child import DONE, FAILED, NEWS, WATCH

T = TypeVar("T")
_KEPT: Final = 2
_ENDED: Final = "ended"
_BEGIN: Final = (
    "import sys; sys.path[:] = {path!r}; from profiler.frames.decoder_child import serve; serve()"
)


class DecoderDied(Exception):  # noqa: N818  (an outcome that is worked on, not shown)
    """The decoder crashed, hung or ran out of memory; busy: on which frames, how: in words.

    sure: whether it was the busy one, though others were at work.
    """

    def __init__(self, busy: tuple[Path, ...], how: str, *, sure: bool = False) -> None:
        super().__init__(busy, how)
        self.busy, self.how, self.sure = busy, how, sure


def decode_apart(
    work: Callable[..., T],
    *args: object,
    room_bytes: int,
    news: Callable[[Any], None] | None = None,
) -> T:
    """Return work(tell, *args), a function of a module, done in another process.

    What it tells is handed to `news`; what it raises is raised here. room_bytes: memory it may
    take. Raises DecoderDied; then, and when `news` raises, the process is ended.
    """
    with _borrowed() as child:
        return cast(T, child.run((room_bytes, work, args), news))


def decode_one(work: Callable[..., T], path: Path, *args: object) -> T:
    """Return work(tell, path, *args) done in another process; FrameError where a frame kills it."""
    path = path.absolute()
    try:
        return decode_apart(work, path, *args, room_bytes=room_for([path], 1))
    except DecoderDied as died:
        raise undecodable(path.name, died.how) from died


def undecodable(file: str, how: str) -> FrameError:
    """Return the error that names a frame which the decoder can't survive."""
    return FrameError(
        f"{how} over this file",
        file,
        "Copy it from the card again, or leave the frame out",
    )


def start_decoder() -> None:
    """Begin to load the libraries in a process that waits for work, if there is none yet."""
    with _lock:
        if not _idle:
            _idle.append(_Child())


def stop_decoders() -> None:
    """End the processes that wait for work."""
    with _lock:
        children, _idle[:] = list(_idle), []
    for child in children:
        child.end()


def room_for(paths: list[Path], jobs: int) -> int:
    """Return the memory in bytes that so many threads may take for frames of these sizes."""
    largest = max((path.stat().st_size for path in paths), default=0)
    return jobs * (standards.DECODE_ROOM_BYTES + standards.DECODE_ROOM_TIMES * largest)


class _Child:
    """A process, with what it sends; waits: whether it has nothing to do."""

    def __init__(self) -> None:
        code = _BEGIN.format(path=[os.path.abspath(place) for place in sys.path])
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-c", code],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
                start_new_session=True,  # Ctrl-C is the parent's
            )
        except OSError as error:
            raise GreytareError(
                f"the process that decodes can't be started ({error.strerror})",
                sys.executable,
                "Check the memory and the number of processes that are left",
            ) from error
        self.waits = True
        self._sent: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def _listen(self) -> None:
        with cast(Any, self._process.stdout) as stream:
            try:
                while True:
                    self._sent.put(pickle.load(stream))
            except Exception:  # its end, or half a message before it
                self._sent.put((_ENDED, None))

    def run(self, request: object, news: Callable[[Any], None] | None) -> Any:
        busy: dict[Path, float] = {}
        self.waits = False
        try:
            pickle.dump(request, cast(Any, self._process.stdin))
            cast(Any, self._process.stdin).flush()
        except OSError as error:
            raise DecoderDied((), "LibRaw ended") from error
        while True:
            kind, value = self._next(busy)
            if kind == WATCH:
                path, size = value
                if size is None:
                    busy.pop(path, None)
                else:
                    busy[path] = time.monotonic() + time_limit_s(size)
            elif kind == NEWS and news is not None:
                news(value)
            elif kind == DONE:
                self.waits = True
                return value
            elif kind == FAILED:
                raised, cause = value
                if isinstance(raised, MemoryError):
                    raise DecoderDied(raised.args, "LibRaw ran out of memory")
                self.waits = True
                raise raised from cause
            elif kind == _ENDED:
                raise DecoderDied(tuple(busy), "LibRaw crashed")

    def _next(self, busy: dict[Path, float]) -> tuple[str, Any]:
        """What it sends next; DecoderDied once a frame takes longer than it may."""
        while True:
            soonest = min(busy.values(), default=None)
            left = None if soonest is None else max(0.0, soonest - time.monotonic())
            try:
                return self._sent.get(timeout=left)
            except queue.Empty:
                late = tuple(path for path, end in busy.items() if end <= time.monotonic())
                if late:
                    raise DecoderDied(late[:1], "LibRaw hung", sure=True) from None

    def end(self) -> None:
        """End it, whatever it is doing."""
        self._process.kill()
        self._process.wait()
        self._listener.join()
        with suppress(OSError):  # what was still to be sent
            cast(Any, self._process.stdin).close()


def time_limit_s(size_bytes: int) -> float:
    """Return the seconds that a frame may take to decode."""
    return standards.DECODE_S + standards.DECODE_S_PER_MB * size_bytes / 1e6


_lock = threading.Lock()
_idle: list[_Child] = []


@contextmanager
def _borrowed() -> Iterator[_Child]:
    with _lock:
        child = _idle.pop() if _idle else _Child()
    try:
        yield child
    finally:
        with _lock:
            kept = child.waits and len(_idle) < _KEPT
            if kept:
                _idle.append(child)
        if not kept:
            child.end()


atexit.register(stop_decoders)
