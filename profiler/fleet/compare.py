"""Two results compared: bodies with each other, meters on one body."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Final

from profiler.calibration.fit.budget import coverage_factor
from profiler.errors import ProfileError
from profiler.fleet.columns import Rows, Text, body_of, combined
from profiler.fleet.correlation import Correlation, common_sources, difference_u
from profiler.fleet.decide import current_rows
from profiler.fleet.rows import Row, Value, sorted_rows

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_NAMES: Final = ("asset_tag", "camera_serial", "series")
SIGNIFICANT: Final = 0.05
"""Probability of chance below which a difference counts (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Difference:
    """Result a minus result b in EV with its 95 % interval; significant: zero lies outside of it.

    correlation: of the two results; common_ev: source -> uncertainty that both share, which
    cancels. same_meter: told by the serials; same_constant: both took one meter constant.
    """

    a: Row
    b: Row
    quantity: str
    value_ev: float
    u_ev: float
    low_ev: float
    high_ev: float
    correlation: float
    common_ev: Mapping[str, float]
    same_meter: bool
    same_constant: bool

    @property
    def significant(self) -> bool:
        """Whether the difference is more than its uncertainty explains."""
        return not self.low_ev <= 0.0 <= self.high_ev


def difference(a: Row, b: Row, quantity: str, sharing: Correlation | None = None) -> Difference:
    """Return a - b in EV with its uncertainty, common errors cancelled.

    ProfileError where the two can't be compared: another mode, light, ISO label, aim, or a bound.
    """
    sharing = sharing or Correlation()
    first, second = exact_value(a, quantity), exact_value(b, quantity)
    for name in ("mode", "light", "iso", *(("aim_stops",) if quantity == "offset_ev" else ())):
        if getattr(a, name) != getattr(b, name):
            raise ProfileError(
                f"{name} is {getattr(a, name)} in one, {getattr(b, name)} in the other",
                f"{a.series} and {b.series}",
                "Compare results of one mode, light, ISO label and aim",
            )
    u, correlation = difference_u(a, b, quantity, sharing)
    value = first.value - second.value
    half = _coverage(u, first, second) * u
    return Difference(
        a=a,
        b=b,
        quantity=quantity,
        value_ev=value,
        u_ev=u,
        low_ev=value - half,
        high_ev=value + half,
        correlation=correlation,
        common_ev=common_sources(a, b, quantity, sharing),
        same_meter=a.meter is not None and a.meter == b.meter,
        same_constant=a.meter_constant == b.meter_constant,
    )


def half_width(u_ev: float, pair: tuple[Row, Row], quantity: str) -> float:
    """Return half the 95 % interval, in EV, of a difference of two rows with this uncertainty."""
    first, second = (exact_value(row, quantity) for row in pair)
    return _coverage(u_ev, first, second) * u_ev


def compare_bodies(
    rows: Sequence[Row], one: str, other: str, quantity: str, sharing: Correlation | None = None
) -> list[Difference]:
    """Return the differences of two bodies, named by tag or serial, in all they have in common.

    Where both were measured by the same meters, each meter's results are held together.
    """
    ours, theirs = of_body(rows, one), of_body(rows, other)
    if ours[0].body == theirs[0].body:
        raise ProfileError("they are one and the same body", f"{one} and {other}", "Name two")
    out = []
    for a in current_rows(ours):
        matches = [
            b for b in current_rows(theirs) if _comparable(a, b, quantity) and usable(b, quantity)
        ]
        alike = [b for b in matches if b.meter is not None and b.meter == a.meter] or matches
        if alike and usable(a, quantity):
            out.append(difference(a, max(alike, key=lambda b: b.date), quantity, sharing))
    if not out:
        raise ProfileError(
            f"they have no {quantity} with one lens, mode, light and ISO label in common",
            f"{one} and {other}",
            "Measure both in the same way",
        )
    return out


def of_body(rows: Sequence[Row], name: str) -> Rows:
    """Return all rows of the body with this tag, serial or full name; ProfileError without one.

    A tag that only some of a body's rows bear finds them all.
    """
    import numpy as np

    table, wanted = Rows.of(rows), name.strip()
    tag, serial, series = (table.text(column) for column in _NAMES)

    def named(text: Text) -> NDArray[np.bool_]:
        return text.are(*(value for value in text.values if value.strip() == wanted))

    unnamed = tag.are("") & serial.are("")
    full = (value for value in table.bodies.values if _in_full(value) == wanted)
    found = named(tag) | named(serial) | (unnamed & named(series)) | table.bodies.are(*full)
    bodies = np.unique(table.bodies.codes[found]) if wanted else np.empty(0)
    if not bodies.size:
        raise ProfileError(f"there is no body {name!r}", "the table", _perhaps(table, wanted))
    if bodies.size > 1:
        raise ProfileError(
            f"{name!r} names several bodies",
            "the table",
            f"Name it in full, such as {_in_full(table.bodies.values[bodies[0]])!r}",
        )
    return table.take(table.bodies.codes == bodies[0])


def _perhaps(table: Rows, wanted: str) -> str:
    """What else may be meant: a serial that has lost its zeros, else what there is."""
    bare = wanted.lstrip("0")
    serials = table.text("camera_serial").values
    near = sorted(each for each in serials if bare and each.lstrip("0") == bare)
    if near:
        return f"Perhaps {' or '.join(near)} is meant"
    known = sorted(set(body_names(table).values()))
    return f"It holds {', '.join(known[:5])}{' and more' if len(known) > 5 else ''}"


def _in_full(body: str) -> str:
    return " ".join(" ".join(body_of(body)).split())


def body_names(rows: Sequence[Row]) -> dict[tuple[str, str, str], str]:
    """Return body -> the shortest name that of_body takes for it alone."""
    import numpy as np

    table = Rows.of(rows)
    bodies, (tag, serial, series) = table.bodies, (table.text(column) for column in _NAMES)
    unnamed = tag.are("") & serial.are("")
    key = combined([bodies.codes, tag.codes, serial.codes, np.where(unnamed, 1 + series.codes, 0)])
    first = np.sort(np.unique(key, return_index=True)[1])
    columns = [text.array[first].tolist() for text in (bodies, tag, serial, series)]
    names: dict[str, list[str]] = {}
    holders: dict[str, set[str]] = defaultdict(set)
    for body, *called, shot in zip(*columns, strict=True):
        short = [name.strip() for name in called if name.strip()] or [shot.strip()]
        names.setdefault(body, []).extend(short)
        for name in short:
            holders[name].add(body)
    return {
        body_of(body): next((n for n in short if len(holders[n]) == 1), _in_full(body))
        for body, short in names.items()
    }


def compare_meters(
    rows: Sequence[Row], quantity: str, sharing: Correlation | None = None
) -> list[Difference]:
    """Return, for each body measured by several meters, the difference of every two of them."""
    groups: dict[tuple[object, ...], list[Row]] = defaultdict(list)
    for row in current_rows(rows):
        if usable(row, quantity):
            groups[(row.body, row.case)].append(row)
    return [
        difference(a, b, quantity, sharing)
        for _, members in sorted(groups.items())
        for a, b in combinations(sorted_rows(members), 2)
        if _comparable(a, b, quantity)
    ]


def _comparable(a: Row, b: Row, quantity: str) -> bool:
    """Whether two rows hold the same thing: an offset depends on the aim, too."""
    return a.case == b.case and (quantity != "offset_ev" or a.aim_stops == b.aim_stops)


def _coverage(u_ev: float, first: Value, second: Value) -> float:
    """Coverage factor of a difference; sources with few degrees of freedom are each one's own."""
    fourth = first.u**4 / first.dof + second.u**4 / second.dof
    return coverage_factor(max(2.0, u_ev**4 / fourth if fourth > 0.0 else math.inf))


def usable(row: Row, quantity: str) -> bool:
    """Return whether a row has the quantity, as more than a lower bound."""
    value = row.value(quantity)
    return value is not None and not value.lower_bound


def exact_value(row: Row, quantity: str) -> Value:
    """Return the quantity of a row; ProfileError where it is missing or only a lower bound."""
    value = row.value(quantity)
    if value is None or value.lower_bound:
        state = "wasn't measured" if value is None else "is only a lower bound"
        raise ProfileError(
            f"{quantity} {state}", f"series {row.series}", "Measure it with frames beyond clip"
        )
    return value
