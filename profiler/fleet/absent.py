"""Bodies without a result that counts, so that a verdict forgets nobody."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from profiler.errors import GreytareError
from profiler.fleet.columns import Rows, body_of
from profiler.fleet.decide import BodyVerdict
from profiler.fleet.left import Left
from profiler.fleet.rows import Row

Reason = Literal["failed", "unread", "archived", "later", "duplicate", "no-tolerance"]


@dataclass(frozen=True, kw_only=True)
class Absent:
    """A body, or a series of a body that nobody knows, without a result that counts.

    failed: its newest series gave no result, whatever older ones say; unread: its profile can't be
    read; archived: its series are there no more; later: all of its results are of a later day;
    duplicate: its frames are those of another series; no-tolerance: no tolerance holds for what was
    measured. why: the error, or the other series.
    """

    body: tuple[str, str, str]
    asset_tag: str
    series: str
    reason: Reason
    why: str = ""


def absent_bodies(
    rows: Sequence[Row],
    verdicts: Sequence[BodyVerdict],
    today: date,
    *,
    left: Sequence[Left] = (),
    wrong: Mapping[str, GreytareError] | None = None,
) -> tuple[Absent, ...]:
    """Return who is missing among the verdicts, sorted by reason, then by body."""
    table = Rows.of(rows)
    judged = {one.body for one in verdicts}
    out = [
        Absent(body=("", "", f"tag {path}"), asset_tag="", series=path, reason="unread", why=e.what)
        for path, e in (wrong or {}).items()
    ]
    known = {body_of(table.bodies.values[code]) for code in set(table.bodies.codes.tolist())}
    for each in left:
        if each.kind == "failed" or each.body not in judged | known:
            out.append(
                Absent(
                    body=each.body,
                    asset_tag=each.asset_tag,
                    series=each.series,
                    reason=each.kind,
                    why=each.why,
                )
            )
    silent = [k for k, body in enumerate(table.bodies.values) if body_of(body) not in judged]
    if silent:
        out += _silent(table, set(silent), today)
    return tuple(sorted(out, key=lambda one: (one.reason, one.body, one.series)))


def _silent(table: Rows, codes: set[int], today: date) -> list[Absent]:
    """Bodies of the table none of whose results was judged."""
    import numpy as np

    rows = table.take(np.isin(table.bodies.codes, list(codes)))
    last: dict[tuple[str, str, str], Row] = {}
    known: set[tuple[str, str, str]] = set()
    for row in rows:  # one that counts says more than one that doesn't
        if row.date <= today.isoformat():
            known.add(row.body)
        held = last.get(row.body)
        if held is None or (not row.duplicate_of, row.date) >= (not held.duplicate_of, held.date):
            last[row.body] = row
    out = []
    for body, row in last.items():
        reason: Reason = "no-tolerance"
        if row.duplicate_of:
            reason = "duplicate"
        elif body not in known:
            reason = "later"
        out.append(
            Absent(
                body=body,
                asset_tag=row.asset_tag,
                series=row.series,
                reason=reason,
                why=row.duplicate_of if reason == "duplicate" else "",
            )
        )
    return out
