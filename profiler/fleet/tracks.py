"""The histories of all bodies as arrays: limits, changes, straight lines, worked out together."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from profiler.errors import ProfileError
from profiler.fleet.bench import Bench, Scatter, bench_of
from profiler.fleet.columns import CASE, METER, TEXTS, Rows, combined
from profiler.fleet.correlation import Correlation, covariances
from profiler.fleet.decide import counted, moments
from profiler.fleet.p_values import student_quantiles
from profiler.fleet.rows import Row
from profiler.fleet.trendline import Lines, Trend, fit_lines, trend_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_FEWEST_DOF: Final = 2.0


@dataclass(frozen=True, kw_only=True)
class Tracks:
    """Rows by history, oldest first; starts, ends: of each history; numbers per row in EV, NaN
    where there are none (see drift.Point).

    adjusted, trends, benches: of each history. table: the whole fleet in table order; place: where
    each of its rows stands here, -1 for one without a place in a history.
    """

    table: Rows
    place: NDArray[np.int64]
    rows: Rows
    starts: NDArray[np.int64]
    ends: NDArray[np.int64]
    value_ev: NDArray[np.float64]
    u_ev: NDArray[np.float64]
    centre_ev: NDArray[np.float64]
    low_ev: NDArray[np.float64]
    high_ev: NDArray[np.float64]
    outside: NDArray[np.bool_]
    change_ev: NDArray[np.float64]
    change_u_ev: NDArray[np.float64]
    change_half_ev: NDArray[np.float64]
    changed: NDArray[np.bool_]
    adjusted: NDArray[np.int64]
    trends: Sequence[Trend | None]
    benches: Sequence[Bench | None]


def make_tracks(rows: Sequence[Row], quantity: str, sharing: Correlation, control: float) -> Tracks:
    """Return the histories of a quantity, sorted by body, case and meter.

    control: half width of the control limits in standard uncertainties.
    """
    import numpy as np

    table = Rows.of(rows).sorted()
    dated = ~table.text("date").are("")
    fit = np.flatnonzero(counted(table) & dated & table.values(quantity).usable)
    order, starts = _order(table.take(fit), quantity)
    held = table.take(fit[order])
    n = len(held)
    place = np.full(len(table), -1)
    place[fit[order]] = np.arange(n)
    ends = np.append(starts[1:], n) if n else starts
    history = np.repeat(np.arange(starts.size), ends - starts)
    days = _days(held)
    values = held.values(quantity)
    change, change_u, dof = _changes(held, quantity, sharing, starts)
    # first by the budget, to learn how well the bench repeats; then by that
    factor = np.ones(n)
    benches: list[Bench | None] = [None] * starts.size
    free = dof
    for last in (False, True):
        half = student_quantiles(0.975, np.maximum(free, _FEWEST_DOF)) * change_u * factor
        changed = np.abs(change) > half
        begins = starts[history]
        anew = changed & _adjusted(held)
        begins = np.maximum.accumulate(np.where(anew, np.arange(n), begins)) if n else begins
        segments = list(_segments(begins, held, quantity, sharing, days, values.value))
        if last:
            break
        benches = _benches(held, history, begins, ends, days, segments)
        scale = [1.0 if bench is None else bench.scale for bench in benches]
        factor = np.sqrt(np.array(scale, dtype=np.float64))[history]
        known = np.array([math.inf if b is None else b.dof for b in benches], dtype=np.float64)
        seen = np.array([bench is not None for bench in benches], dtype=bool)[history]
        free = np.where(seen, known[history], dof)
    centre, spread = np.full(n, np.nan), np.full(n, np.nan)
    for segment in segments:
        segment.limits(values.value, centre, spread)
    reach = control * factor * np.sqrt(np.maximum(spread, 0.0))
    low, high = centre - reach, centre + reach
    return Tracks(
        table=table,
        place=place,
        rows=held,
        starts=starts,
        ends=ends,
        value_ev=values.value,
        u_ev=values.u,
        centre_ev=centre,
        low_ev=low,
        high_ev=high,
        outside=~np.isnan(centre) & ~((low <= values.value) & (values.value <= high)),
        change_ev=change,
        change_u_ev=change_u * factor,
        change_half_ev=half,
        changed=changed,
        adjusted=begins[ends - 1] - starts if n else starts,
        trends=_trends(history, segments, ends, benches),
        benches=benches,
    )


@dataclass(frozen=True, kw_only=True)
class _Segment:
    """Histories since their last adjustment, all of m calibrations: places (g, m), covariances
    (g, m, m), each one's own variance (g, m), and their straight lines where there are two days."""

    places: NDArray[np.int64]
    matrix: NDArray[np.float64]
    own: NDArray[np.float64]
    lined: NDArray[np.bool_]
    lines: Lines

    def limits(
        self, y: NDArray[np.float64], centre: NDArray[np.float64], spread: NDArray[np.float64]
    ) -> None:
        """Write down, for each but the first, the mean of those before it and the variance of the
        difference from it (EV^2)."""
        import numpy as np

        for k in range(1, self.places.shape[1]):
            before = self.matrix[:, :k, :k]
            weights = np.linalg.inv(before).sum(axis=1)
            weights /= weights.sum(axis=1, keepdims=True)
            here = self.places[:, k]
            centre[here] = (weights * y[self.places[:, :k]]).sum(axis=1)
            own = (weights * (before @ weights[:, :, None])[:, :, 0]).sum(axis=1)
            both = (weights * self.matrix[:, :k, k]).sum(axis=1)
            spread[here] = own + self.matrix[:, k, k] - 2.0 * both


def _segments(
    begins: NDArray[np.int64],
    held: Rows,
    quantity: str,
    sharing: Correlation,
    days: NDArray[np.int64],
    y: NDArray[np.float64],
) -> Iterator[_Segment]:
    """The stretches between adjustments, those of one length together."""
    import numpy as np

    firsts, counts = np.unique(begins, return_counts=True)
    for m in np.unique(counts).tolist():
        places = firsts[counts == m][:, None] + np.arange(m)
        matrix, own = covariances(held, quantity, sharing, places)
        lined = days[places].min(axis=1) < days[places].max(axis=1)
        lines = fit_lines(days[places][lined], y[places][lined], matrix[lined])
        yield _Segment(places=places, matrix=matrix, own=own, lined=lined, lines=lines)


def _order(table: Rows, quantity: str) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The rows by body, case, meter and aim, oldest first, and where each history starts."""
    import numpy as np

    if not len(table):
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    aim = np.zeros(len(table))
    if quantity == "offset_ev":
        aim = table.number("aim_stops")
    names = [
        table.text(name).ranks if name in TEXTS else table.number(name) for name in (*CASE, *METER)
    ]
    keys = [table.bodies.ranks, *names, aim]
    order = np.lexsort([np.arange(len(table)), *reversed([*keys, *moments(table)])])
    whole = combined([np.unique(key, return_inverse=True)[1] for key in keys])[order]
    return order, np.flatnonzero(np.r_[True, whole[1:] != whole[:-1]])


def _days(held: Rows) -> NDArray[np.int64]:
    import numpy as np

    text = held.text("date")
    days = np.zeros(len(text.values), dtype=np.int64)
    for code in np.unique(text.codes).tolist():
        try:
            days[code] = date.fromisoformat(text.values[code]).toordinal()
        except ValueError as error:
            raise ProfileError(
                f"{text.values[code]!r} isn't a date",
                f"series {next(iter(held.take(text.codes == code))).series}",
                "Write it as 2026-03-01",
            ) from error
    out: NDArray[np.int64] = days[text.codes]
    return out


def _changes(
    held: Rows, quantity: str, sharing: Correlation, starts: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Each calibration less the one before it, the u of that, and its degrees of freedom."""
    import numpy as np

    n = len(held)
    change, u, dof = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.inf)
    later = np.setdiff1d(np.arange(n), starts)
    if later.size:
        pair = np.column_stack([later, later - 1])
        values = held.values(quantity)
        matrix, _ = covariances(held, quantity, sharing, pair)
        variance = matrix[:, 0, 0] + matrix[:, 1, 1] - 2.0 * matrix[:, 0, 1]
        change[later] = values.value[later] - values.value[later - 1]
        u[later] = np.sqrt(np.maximum(variance, 0.0))
        fourth = (values.u[pair] ** 4 / values.dof[pair]).sum(axis=1)
        with np.errstate(divide="ignore"):
            dof[later] = np.where(fourth > 0.0, u[later] ** 4 / fourth, np.inf)
    return change, u, dof


def _adjusted(held: Rows) -> NDArray[np.bool_]:
    """Which rows are as-left ones right after an as-found one."""
    import numpy as np

    state = held.text("state")
    found = state.are("as-found")
    mask: NDArray[np.bool_] = state.are("as-left") & np.concatenate([[False], found[:-1]])
    return mask if len(held) else state.are("as-left")


def _benches(
    held: Rows,
    history: NDArray[np.int64],
    begins: NDArray[np.int64],
    ends: NDArray[np.int64],
    days: NDArray[np.int64],
    segments: Sequence[_Segment],
) -> list[Bench | None]:
    """The bench of each history: that of its meter, else that of all meters, else none."""
    import numpy as np

    n, many = len(held), ends.size
    left, own, dof = np.full(n, np.nan), np.zeros(n), np.zeros(many)
    for segment in segments:
        places = segment.places[segment.lined]
        if places.shape[1] > 2:
            last = ends[history[places[:, 0]]] == places[:, -1] + 1
            places = places[last]
            own[places] = segment.own[segment.lined][last]
            left[places] = segment.lines.left[last] / np.sqrt(own[places])
            dof[history[places[:, 0]]] = places.shape[1] - 2
    known = ~np.isnan(left)
    if not known.any():
        return [None] * many
    number = np.cumsum(dof > 0.0) - 1
    scatter = Scatter(
        history=number[history[known]],
        body=held.bodies.codes[known].astype(np.int64),
        day=days[known],
        left=left[known],
        own_ev2=own[known],
        dof=dof[dof > 0.0],
    )
    meter = held.key(*METER)[ends - 1]
    every = bench_of(scatter)
    of_meter = {
        code: bench_of(scatter.only(meter[dof > 0.0] == code)) for code in set(meter.tolist())
    }
    return [of_meter[code] or every for code in meter.tolist()]


def _trends(
    history: NDArray[np.int64],
    segments: Sequence[_Segment],
    ends: NDArray[np.int64],
    benches: Sequence[Bench | None],
) -> list[Trend | None]:
    """The trend of each history since its last adjustment, None where that is of one day."""
    out: list[Trend | None] = [None] * ends.size
    for segment in segments:
        places = segment.places[segment.lined]
        for k, of in enumerate(history[places[:, 0]].tolist()):
            if places[k, -1] == ends[of] - 1:
                out[of] = trend_of(segment.lines, k, benches[of])
    return out
