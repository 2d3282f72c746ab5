"""How far a batch is: count, rate and time left on stderr."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from profiler.fleet.batch.task import Failure

_TERMINAL_S = 0.2
_LOG_S = 10.0


class ProgressLine:
    """A line that is rewritten on a terminal, and added to a log every ten seconds elsewhere."""

    def __init__(self) -> None:
        self._started = self._shown = time.monotonic()
        self._terminal = sys.stderr.isatty()
        self._failed = 0
        self._open = False

    def __enter__(self) -> ProgressLine:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end_line()

    def __call__(self, done: int, total: int, failure: Failure | None) -> None:
        """Show that so many series are done; a failure is told at once."""
        if failure is not None:
            self._failed += 1
            self._end_line()
            click.echo(
                f"{failure.series} failed: {failure.where}: {failure.what}. {failure.mend}.",
                err=True,
            )
        now = time.monotonic()
        patience = _TERMINAL_S if self._terminal else _LOG_S
        if now - self._shown < patience and not (done == total and self._terminal):
            return
        self._shown = now
        line = progress_line(done, total, self._failed, now - self._started)
        if self._terminal:
            click.echo(f"\r{line:<78}", err=True, nl=False)
            self._open = True
        else:
            click.echo(line, err=True)

    def _end_line(self) -> None:
        if self._open:
            click.echo("", err=True)
            self._open = False


def progress_line(done: int, total: int, failed: int, elapsed_s: float) -> str:
    """Return `12 of 200 series, 1 failed, 34 a minute, 6 min left`."""
    rate = done / elapsed_s if elapsed_s > 0.0 else 0.0
    parts = [f"{done} of {total} series"]
    if failed:
        parts.append(f"{failed} failed")
    if rate > 0.0:
        per, unit = (60.0 * rate, "minute") if rate < 2.0 else (rate, "second")
        parts += [f"{per:.2g} a {unit}", f"{_span((total - done) / rate)} left"]
    return ", ".join(parts)


def _span(seconds: float) -> str:
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    minutes = seconds / 60.0
    return f"{minutes:.0f} min" if minutes < 90.0 else f"{minutes / 60.0:.1f} h"
