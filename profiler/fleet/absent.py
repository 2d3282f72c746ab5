"""Series and bodies without a result that counts, so that no verdict leaves them out."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final, Literal

from profiler.errors import GreytareError
from profiler.files.regular import read_text
from profiler.fleet.batch.store import ERRORS, PROFILES
from profiler.fleet.columns import Rows, body_of
from profiler.fleet.decide import BodyVerdict
from profiler.fleet.rows import Row, known_as

Kind = Literal["failed", "archived"]
_TEXTS: Final = ("series", "asset_tag", "camera_make", "camera_model", "camera_serial")


@dataclass(frozen=True, kw_only=True)
class Left:
    """A series without a result. failed: its data are at fault; archived: its files are gone.

    Identity as far as it is known, empty where not. why: the error in a sentence, or the name that
    the same frames have now; empty for a series that was deleted.
    """

    kind: Kind
    series: str
    asset_tag: str = ""
    camera_make: str = ""
    camera_model: str = ""
    camera_serial: str = ""
    why: str = ""

    @property
    def body(self) -> tuple[str, str, str]:
        """Which body it is of, named as a row names it."""
        name = known_as(self.camera_serial, self.asset_tag, self.series)
        return (self.camera_make, self.camera_model, name)


def series_left(folder: Path, runs: Sequence[Path] = ()) -> tuple[Left, ...]:
    """Return the series that the last runs left without a result, failed ones first.

    folder: a run's output, or the profiles in it; runs: outputs below it, which name their series.
    """
    own = folder.parent if folder.name == PROFILES else folder
    left = [*_left_by(own, "")]
    for run in runs:
        left += _left_by(run, f"{run.relative_to(folder).as_posix()}/")
    return tuple(sorted(left, key=lambda one: one.kind != "failed"))


def _left_by(run: Path, prefix: str) -> list[Left]:
    """What one run left, each series called after the folder of the run."""
    try:
        data = json.loads(read_text(run / ERRORS))
    except (OSError, ValueError, RecursionError):
        return []
    if not isinstance(data, dict) or data.get("format") != "greytare-errors":
        return []
    failed = [
        _left("failed", entry, prefix, _sentence(entry)) for entry in _entries(data, "failed")
    ]
    gone = [
        _left("archived", entry, prefix, prefix + now if (now := str(entry.get("now", ""))) else "")
        for entry in _entries(data, "archived")
    ]
    return failed + gone


def _entries(data: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    entries = data.get(name)
    if not isinstance(entries, list):
        return []
    return [entry for entry in entries if isinstance(entry, dict)]


def _left(kind: Kind, entry: Mapping[str, Any], prefix: str, why: str) -> Left:
    texts = {name: str(entry.get(name, "")) for name in _TEXTS}
    return Left(kind=kind, why=why, **texts | {"series": prefix + texts["series"]})


def _sentence(entry: Mapping[str, Any]) -> str:
    return f"{entry.get('what', '')}. {entry.get('mend', '')}."


Reason = Literal["failed", "unread", "archived", "later", "duplicate", "no-tolerance"]


@dataclass(frozen=True, kw_only=True)
class Absent:
    """A body, or a series of an unknown body, without a result that counts.

    failed: its newest series gave no result, whatever older ones say; unread: its profile can't be
    read; archived: the files of its series are gone; later: all of its results are of a later day;
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
        Absent(
            body=("", "", known_as("", "", path)),
            asset_tag="",
            series=path,
            reason="unread",
            why=e.what,
        )
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
