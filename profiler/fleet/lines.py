"""Each result of a fleet with its verdict, the worst of those on its quantities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from profiler.fleet.decide import Judged, judge, latest_rows
from profiler.fleet.rows import Row
from profiler.fleet.tolerances import Tolerances

WORST: Final = ("out", "undecided", "in", "")
"""Verdicts, the worst first; empty where nothing is judged."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One result with its verdict: the worst of those on its quantities, empty without any.

    chance: the least probability of conformance of the quantities of that verdict, 1 where none is
    known. held: whether a tolerance holds for it, be its quantity measured or not.
    """

    row: Row
    current: bool
    verdict: str
    worst: Judged | None
    chance: float
    expired: bool
    held: bool


def make_lines(rows: Sequence[Row], tolerances: Tolerances | None, today: date) -> list[Line]:
    """Return all results with their verdicts, in table order."""
    held: dict[int, list[Judged]] = {}
    if tolerances is not None:
        for one in judge(rows, tolerances, today, none_holds=True):
            held.setdefault(id(one.row), []).append(one)
    newest = {id(row) for row in latest_rows(rows)}
    out = []
    for row in rows:
        judged = held.get(id(row), [])
        worst = min(
            judged,
            key=lambda one: (WORST.index(one.verdict), _chance(one)),
            default=None,
        )
        out.append(
            Line(
                row=row,
                current=id(row) in newest,
                verdict="" if worst is None else worst.verdict,
                worst=worst,
                chance=1.0 if worst is None else _chance(worst),
                expired=id(row) in newest and any(one.expired for one in judged),
                held=tolerances is not None
                and any(tolerance.holds_for(row) for tolerance in tolerances.tolerances),
            )
        )
    return out


def worst_by_body(lines: Sequence[Line]) -> dict[tuple[str, str, str], tuple[str, bool]]:
    """Return each body's worst verdict of its latest results, and whether one has expired."""
    worst: dict[tuple[str, str, str], tuple[str, bool]] = {}
    for line in lines:
        verdict, expired = worst.get(line.row.body, ("", False))
        if line.current:
            verdict = min(verdict, line.verdict, key=WORST.index)
            expired |= line.expired
        worst[line.row.body] = (verdict, expired)
    return worst


def _chance(one: Judged) -> float:
    """The probability that it conforms; a lower bound has none, and is known to."""
    return 1.0 if one.probability is None else one.probability
