"""An answer as the page shows it: one line first, then the detail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from profiler.onset.guards import Guard
from profiler.web.page import fragment


@dataclass(frozen=True, kw_only=True)
class Table:
    """A small table: caption, column names with unit, rows; numbers: columns set to the right."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Answer:
    """headline says it all; lead: sentences under it; rows: name with text; notes: look out.

    scale: what the picture is drawn from; missing: no answer yet, the headline says what to type.
    rows_first: they stand before the tables.
    """

    headline: str
    lead: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    rows: tuple[tuple[str, str], ...] = ()
    notes: tuple[tuple[bool, str], ...] = ()
    closing: tuple[str, ...] = ()
    scale: dict[str, Any] | None = None
    missing: bool = False
    rows_first: bool = False

    def html(self) -> str:
        """Return the detail below the headline."""
        return fragment("answer.html", answer=self)

    def plain(self) -> dict[str, Any]:
        """Return what a script needs to show it."""
        return {
            "headline": self.headline,
            "html": self.html(),
            "scale": self.scale,
            "missing": self.missing,
        }


def missing(what: str) -> Answer:
    """Return the request for what must be typed before there is an answer."""
    return Answer(headline=what, missing=True)


def notes(guards: Sequence[Guard]) -> tuple[tuple[bool, str], ...]:
    """Return what to look out for; True where the setting should be changed."""
    return tuple((guard.warns, guard.text) for guard in guards)


def rows(pairs: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Return the pairs whose text isn't empty."""
    return tuple((name, text) for name, text in pairs if text)
