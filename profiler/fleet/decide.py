"""Verdicts on the rows of a table: in, out or undecided, with expiry and adjustments."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from profiler.errors import ProfileError
from profiler.fleet.columns import CASE, METER, TEXTS, Made, Rows, body_of, own_doubts
from profiler.fleet.correlation import Correlation, difference_u
from profiler.fleet.due import days_after
from profiler.fleet.rows import Row
from profiler.fleet.rules import WORST, Verdict, decide
from profiler.fleet.tolerances import Tolerance, Tolerances

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_STATES: Final = {"as-found": 0, "": 1, "as-left": 2}
"""Order of results of one day."""


@dataclass(frozen=True, kw_only=True)
class Judged:
    """One quantity of one row under its tolerance. expires: ISO date, empty without an interval.

    current: of the latest day of its body, lens, mode, light and ISO label. expanded_ev: U (95 %).
    A result that nobody knows the day of never expires.
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
class _Cells:
    """The columns of verdicts; row and tolerance: places; expires: ISO dates; see Judged."""

    row: NDArray[np.int64]
    tolerance: NDArray[np.int64]
    value_ev: NDArray[np.float64]
    expanded_ev: NDArray[np.float64]
    lower_bound: NDArray[np.bool_]
    guard_ev: NDArray[np.float64]
    verdict: NDArray[np.int8]
    probability: NDArray[np.float64]
    current: NDArray[np.bool_]
    expires: NDArray[np.object_]
    expired: NDArray[np.bool_]

    def take(self, places: Any) -> _Cells:
        return _Cells(**{name: array[places] for name, array in vars(self).items()})


class Verdicts(Made[Judged]):
    """Verdicts as columns; a Judged is made when one is asked for.

    places: where each of `rows` stands in the table that was judged.
    """

    def __init__(
        self,
        rows: Rows,
        places: NDArray[np.int64],
        tolerances: Sequence[Tolerance],
        cells: _Cells,
    ) -> None:
        self.rows, self.places = rows, places
        self.tolerances, self.cells = tolerances, cells

    def __len__(self) -> int:
        return len(self.cells.row)

    def __iter__(self) -> Iterator[Judged]:
        import numpy as np

        used, places = np.unique(self.cells.row, return_inverse=True)
        rows = list(self.rows.take(used))
        names = [field.name for field in fields(_Cells)]
        lists = zip(*(getattr(self.cells, name).tolist() for name in names), strict=True)
        for place, values in zip(places.tolist(), lists, strict=True):
            held = dict(zip(names, values, strict=True))
            tolerance = self.tolerances[held.pop("tolerance")]
            low, high = tolerance.limits.low, tolerance.limits.high
            chance = held.pop("probability")
            yield Judged(
                **held
                | {
                    "row": rows[place],
                    "quantity": tolerance.quantity,
                    "low_ev": low if math.isfinite(low) else None,
                    "high_ev": high if math.isfinite(high) else None,
                    "verdict": WORST[held["verdict"]],
                    "probability": None if math.isnan(chance) else chance,
                }
            )

    def take(self, places: Any) -> Verdicts:
        """Return the verdicts at some places, or where a mask is true."""
        return Verdicts(self.rows, self.places, self.tolerances, self.cells.take(places))


@dataclass(frozen=True, kw_only=True)
class BodyVerdict:
    """The worst of a body's current verdicts; expired: at least one of them.

    doubts: names of what the lab's own records cast doubt on, of any of them.
    """

    body: tuple[str, str, str]
    asset_tag: str
    verdict: Verdict
    expired: bool
    judged: Sequence[Judged]
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Adjustment:
    """An as-found result and the as-left one after it: what the adjustment changed, in EV."""

    found: Judged
    left: Judged
    change_ev: float
    u_ev: float


def judge(
    rows: Sequence[Row], tolerances: Tolerances, today: date, *, none_holds: bool = False
) -> Verdicts:
    """Return the verdict on each quantity that has a tolerance, for each row, in table order.

    Results of a later day than today aren't known yet, and one of a series that repeats another
    isn't counted. ProfileError where no tolerance holds for any row, unless none_holds allows for
    that.
    """
    import numpy as np

    table = Rows.of(rows).sorted()
    known = (table.text("date").array <= today.isoformat()).astype(bool)
    places = np.flatnonzero(counted(table) & known)
    table = table.take(places)
    newest = latest(table)
    expires = _expiries(table, tolerances.interval_days)
    expired = (expires != "") & (expires < today.isoformat())
    found: list[_Cells] = []
    for number, tolerance in enumerate(tolerances.tolerances):
        values = table.values(tolerance.quantity)
        held = np.flatnonzero(holding(tolerance, table) & ~np.isnan(values.value))
        values = values.take(held)
        decided = decide(values, tolerance.limits, tolerances.rule)
        found.append(
            _Cells(
                row=held,
                tolerance=np.full(held.size, number),
                value_ev=values.value,
                expanded_ev=values.expanded,
                lower_bound=values.lower_bound,
                guard_ev=decided.guard_ev,
                verdict=decided.verdict,
                probability=decided.probability,
                current=newest[held],
                expires=expires[held],
                expired=expired[held],
            )
        )
    names = [field.name for field in fields(_Cells)]
    whole = _Cells(**{n: np.concatenate([getattr(each, n) for each in found]) for n in names})
    if not whole.row.size and not none_holds:
        raise ProfileError(
            "no tolerance holds for any of its results",
            "the table",
            "Compare the conditions in the tolerances with the table's columns",
        )
    order = np.lexsort([whole.tolerance, whole.row])
    return Verdicts(table, places, tolerances.tolerances, whole.take(order))


def body_verdicts(judged: Verdicts) -> list[BodyVerdict]:
    """Return one verdict per body, from its current results: out beats undecided beats in."""
    import numpy as np

    bodies, cells = judged.rows.bodies, judged.cells
    places = np.flatnonzero(cells.current)
    if not places.size:
        return []
    codes = bodies.codes[cells.row[places]]
    order = np.lexsort([places, bodies.ranks[cells.row[places]]])
    places, codes = places[order], codes[order]
    starts = np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]])
    worst = np.minimum.reduceat(cells.verdict[places], starts)
    expired = np.logical_or.reduceat(cells.expired[places], starts)
    tags = judged.rows.text("asset_tag").array[cells.row[places[starts]]]
    doubts = {
        name: np.logical_or.reduceat(mask[cells.row[places]], starts).tolist()
        for name, mask in own_doubts(judged.rows).items()
    }
    return [
        BodyVerdict(
            body=body_of(bodies.values[codes[start]]),
            asset_tag=tags[k],
            verdict=WORST[worst[k]],
            expired=bool(expired[k]),
            judged=judged.take(places[start:end]),
            doubts=tuple(name for name, holds in doubts.items() if holds[k]),
        )
        for k, (start, end) in enumerate(zip(starts, [*starts[1:], len(places)], strict=True))
    ]


def adjustments(judged: Verdicts, sharing: Correlation | None = None) -> list[Adjustment]:
    """Return each as-found result with the next as-left one of the same body, case and meter."""
    groups: dict[tuple[object, ...], list[Judged]] = defaultdict(list)
    stated = ~judged.rows.text("state").are("")
    for one in judged.take(stated[judged.cells.row]):
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


def current_rows(rows: Sequence[Row], *, by_meter: bool = True) -> Rows:
    """Return the latest row of each body, lens, mode, light, ISO label (and meter).

    As-left beats as-found.
    """
    table = Rows.of(rows).sorted()
    table = table.take(counted(table))
    return table.take(current(table, by_meter=by_meter))


def counted(table: Rows) -> NDArray[np.bool_]:
    """Return which rows count: those of series that don't repeat another one."""
    return table.text("duplicate_of").are("")


def moments(table: Rows) -> list[NDArray[np.int64]]:
    """Return what orders rows in time, the first array first: date, as-found before as-left."""
    import numpy as np

    states = table.text("state")
    state = np.array([_STATES[each] for each in states.values], dtype=np.int64)
    return [table.text("date").ranks, state[states.codes]]


def current(table: Rows, *, by_meter: bool = True) -> NDArray[np.bool_]:
    """Return which rows are the latest of their body, lens, mode, light, ISO label (and meter)."""
    import numpy as np

    key = table.key("body", *CASE, *(METER if by_meter else ()))
    day, state = moments(table)
    order = np.lexsort([np.arange(len(table)), state, day, key])
    mask = np.zeros(len(table), dtype=bool)
    if len(table):
        mask[order[np.r_[key[order][1:] != key[order][:-1], True]]] = True
    return mask


def latest(table: Rows) -> NDArray[np.bool_]:
    """Return which rows are current by their meter, and of the last day of body and case."""
    import numpy as np

    key, day = table.key("body", *CASE), table.text("date").ranks
    last = np.full(int(key.max(initial=-1)) + 1, -1)
    np.maximum.at(last, key, day)
    mask: NDArray[np.bool_] = current(table) & (day == last[key])
    return mask


def moment(row: Row) -> tuple[str, int]:
    """Return what orders the rows of one body in time: date, then as-found before as-left."""
    return (row.date, _STATES[row.state])


def counts(verdicts: Sequence[BodyVerdict]) -> Mapping[str, int]:
    """Return how many bodies are in, out, undecided."""
    return {
        name: sum(one.verdict == name for one in verdicts) for name in ("in", "out", "undecided")
    }


def holding(tolerance: Tolerance, table: Rows) -> NDArray[np.bool_]:
    """Return for which rows a tolerance holds: those that meet every condition."""
    import numpy as np

    mask = np.ones(len(table), dtype=bool)
    for name, allowed in tolerance.conditions.items():
        if name in TEXTS:
            mask &= table.text(name).are(*map(str, allowed))
        else:
            mask &= np.isin(table.number(name), np.array(allowed))
    return mask


def _expiries(table: Rows, days: int | None) -> NDArray[np.object_]:
    """The ISO date on which each verdict expires, empty where none does."""
    import numpy as np

    text = table.text("date")
    ends = np.full(len(text.values), "", dtype=object)
    for code, day in enumerate(text.values):
        if day and days is not None:
            ends[code] = days_after(date.fromisoformat(day), days).isoformat()
    out: NDArray[np.object_] = ends[text.codes]
    return out
