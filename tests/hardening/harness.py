"""Runs cases by number in a child that may hang, crash or swallow memory, and counts what came."""

from __future__ import annotations

import multiprocessing
import os
import resource
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection

HANG_S = 10.0
MEMORY_MB = 1024
SHOWN = 20

Case = Callable[[int], str]
"""Number of the case -> "fine", "refused" or "WRONG: what"; what it raises is a traceback."""


@dataclass
class Tally:
    """What became of many cases; bad: number and what, the first few of them."""

    counts: Counter[str] = field(default_factory=Counter)
    bad: list[tuple[int, str]] = field(default_factory=list)
    peak_mb: int = 0
    slowest_s: float = 0.0
    seconds: float = 0.0

    def add(self, number: int, outcome: str, spent_s: float) -> None:
        """Count one case."""
        kind = outcome.split(":")[0]
        self.counts[kind] += 1
        self.slowest_s = max(self.slowest_s, spent_s)
        if kind not in ("fine", "refused") and len(self.bad) < SHOWN:
            self.bad.append((number, outcome))

    @property
    def failed(self) -> int:
        """Cases that are neither fine nor refused."""
        return sum(n for kind, n in self.counts.items() if kind not in ("fine", "refused"))


def run(prepare: Callable[[], Case], numbers: range) -> Tally:
    """Run the cases; `prepare` makes them in the child, once for each child."""
    context = multiprocessing.get_context("spawn")
    tally = Tally()
    started = time.monotonic()
    at = numbers.start
    while at < numbers.stop:
        ours, theirs = context.Pipe()
        child = context.Process(target=_serve, args=(prepare, at, numbers.stop, theirs))
        child.start()
        theirs.close()
        at = _listen(ours, child, at, numbers.stop, tally)
    tally.seconds = time.monotonic() - started
    return tally


def _listen(ours: Connection, child: object, at: int, stop: int, tally: Tally) -> int:
    """Take in what the child reports until it ends; return the next number."""
    patience = 120.0  # for its imports
    while at < stop:
        try:
            if not ours.poll(patience):
                child.kill()  # type: ignore[attr-defined]
                child.join()  # type: ignore[attr-defined]
                tally.add(at, f"HANG: longer than {HANG_S:g} s", HANG_S)
                return at + 1
            kind, *rest = ours.recv()
        except (EOFError, OSError):
            child.join()  # type: ignore[attr-defined]
            tally.add(at, f"CRASH: exit {child.exitcode}", 0.0)  # type: ignore[attr-defined]
            return at + 1
        patience = HANG_S
        if kind == "ready":
            continue
        number, outcome, spent_s, peak_mb = rest
        tally.add(number, outcome, spent_s)
        tally.peak_mb = max(tally.peak_mb, peak_mb)
        at = number + 1
        if kind == "last":
            break
    child.join()  # type: ignore[attr-defined]
    return at


def _serve(prepare: Callable[[], Case], start: int, stop: int, theirs: Connection) -> None:
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 2)
    case = prepare()
    theirs.send(("ready",))
    before = _peak_mb()
    for number in range(start, stop):
        began = time.monotonic()
        try:
            outcome = case(number)
        except Exception:
            outcome = f"TRACEBACK: {traceback.format_exc()[-1500:]}"
        peak = _peak_mb()
        swelled = peak - before > MEMORY_MB
        if swelled:
            outcome = f"MEMORY: {peak - before} MB more"
        last = swelled or number == stop - 1
        kind = "last" if last else "done"
        theirs.send((kind, number, outcome, time.monotonic() - began, peak))
        if last:
            return


def _peak_mb() -> int:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak // (1 << 20 if sys.platform == "darwin" else 1 << 10)
