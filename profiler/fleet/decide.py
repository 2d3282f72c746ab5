"""Verdicts on the rows of a table: in, out or undecided, with expiry and adjustments."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from profiler.errors import ProfileError
from profiler.fleet.correlation import Correlation, difference_u
from profiler.fleet.due import days_after
from profiler.fleet.rows import Row, sorted_rows
from profiler.fleet.rules import Verdict, decide, worst_verdict
from profiler.fleet.tolerances import Tolerances
from profiler.fleet.trendline import day_of

_STATES: Final = {"as-found": 0, "": 1, "as-left": 2}
"""Order of results of one day."""


@dataclass(frozen=True, kw_only=True)
class Judged:
    """One quantity of one row under its tolerance. expires: ISO date, empty without an interval.

    current: of the latest day of its body, lens, mode, light and ISO label. expanded_ev: U (95 %).
    """

    row: Row
    quantity: str
    value_ev: float
    expanded_ev: float
    lower_bound: bool
    low_ev: float | None
    high_ev: float | None
    guard_ev: float
    verdict: Verdict
    probability: float | None
    current: bool
    expires: str
    expired: bool


@dataclass(frozen=True, kw_only=True)
class BodyVerdict:
    """The worst of a body's current verdicts; expired: at least one of them."""

    body: tuple[str, str, str]
    asset_tag: str
    verdict: Verdict
    expired: bool
    judged: tuple[Judged, ...]


@dataclass(frozen=True, kw_only=True)
class Adjustment:
    """An as-found result and the as-left one after it: what the adjustment changed, in EV."""

    found: Judged
    left: Judged
    change_ev: float
    u_ev: float


def judge(
    rows: Sequence[Row], tolerances: Tolerances, today: date, *, none_holds: bool = False
) -> list[Judged]:
    """Return the verdict on each quantity that has a tolerance, for each row, in table order.

    ProfileError where no tolerance holds for any row, unless none_holds allows for that.
    """
    newest = {id(row) for row in latest_rows(rows)}
    out = []
    for row in sorted_rows(rows):
        expires = _expires(row, tolerances.interval_days)
        for tolerance in tolerances.tolerances:
            value = row.value(tolerance.quantity)
            if value is None or not tolerance.holds_for(row):
                continue
            found = decide(value, tolerance.limits, tolerances.rule)
            low, high = tolerance.limits.low, tolerance.limits.high
            out.append(
                Judged(
                    row=row,
                    quantity=tolerance.quantity,
                    value_ev=value.value,
                    expanded_ev=value.expanded,
                    lower_bound=value.lower_bound,
                    low_ev=low if math.isfinite(low) else None,
                    high_ev=high if math.isfinite(high) else None,
                    guard_ev=found.guard_ev,
                    verdict=found.verdict,
                    probability=found.probability,
                    current=id(row) in newest,
                    expires="" if expires is None else expires.isoformat(),
                    expired=expires is not None and today > expires,
                )
            )
    if not out and not none_holds:
        raise ProfileError(
            "no tolerance holds for any of its results",
            "the table",
            "Compare the conditions in the tolerances with the table's columns",
        )
    return out


def body_verdicts(judged: Sequence[Judged]) -> list[BodyVerdict]:
    """Return one verdict per body, from its current results: out beats undecided beats in."""
    groups: dict[tuple[str, str, str], list[Judged]] = defaultdict(list)
    for one in judged:
        if one.current:
            groups[one.row.body].append(one)
    out = []
    for body, members in sorted(groups.items()):
        verdict = worst_verdict({one.verdict for one in members}) or "in"
        out.append(
            BodyVerdict(
                body=body,
                asset_tag=members[0].row.asset_tag,
                verdict=verdict,
                expired=any(one.expired for one in members),
                judged=tuple(members),
            )
        )
    return out


def adjustments(judged: Sequence[Judged], sharing: Correlation | None = None) -> list[Adjustment]:
    """Return each as-found result with the next as-left one of the same body, case and meter."""
    groups: dict[tuple[object, ...], list[Judged]] = defaultdict(list)
    for one in judged:
        if one.row.state:
            key = (one.row.body, one.row.case, one.row.meter, one.quantity, one.low_ev, one.high_ev)
            groups[key].append(one)
    out = []
    for members in groups.values():
        waiting: Judged | None = None
        for one in sorted(members, key=lambda j: moment(j.row)):
            if one.row.state == "as-found":
                waiting = one
            elif waiting is not None:
                u, _ = difference_u(waiting.row, one.row, one.quantity, sharing or Correlation())
                change = one.value_ev - waiting.value_ev
                out.append(Adjustment(found=waiting, left=one, change_ev=change, u_ev=u))
                waiting = None
    return sorted(
        out, key=lambda pair: (pair.found.row.body, pair.found.row.case, pair.left.quantity)
    )


def current_rows(rows: Sequence[Row], *, by_meter: bool = True) -> list[Row]:
    """Return the latest row of each body, lens, mode, light, ISO label (and meter).

    As-left beats as-found.
    """
    latest: dict[tuple[object, ...], Row] = {}
    for row in sorted_rows(rows):
        meter = (row.meter_make, row.meter_model, row.meter_serial) if by_meter else ()
        key = (row.body, row.case, meter)
        if key not in latest or moment(row) >= moment(latest[key]):
            latest[key] = row
    return sorted_rows(list(latest.values()))


def latest_rows(rows: Sequence[Row]) -> list[Row]:
    """Return the rows of the latest day of each body, lens, mode, light, ISO label.

    Those of several meters where they were used on that day; what an older meter found is past.
    """
    last: dict[tuple[object, ...], str] = {}
    for row in rows:
        key = (row.body, row.case)
        last[key] = max(last.get(key, ""), row.date)
    return [row for row in current_rows(rows) if row.date == last[(row.body, row.case)]]


def moment(row: Row) -> tuple[str, int]:
    """Return what orders the rows of one body in time: date, then as-found before as-left."""
    return (row.date, _STATES[row.state])


def counts(verdicts: Sequence[BodyVerdict]) -> Mapping[str, int]:
    """Return how many bodies are in, out, undecided."""
    return {
        name: sum(one.verdict == name for one in verdicts) for name in ("in", "out", "undecided")
    }


def _expires(row: Row, days: int | None) -> date | None:
    return None if days is None else days_after(day_of(row), days)
