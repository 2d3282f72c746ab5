"""Bodies followed over time, calibration by calibration."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from statistics import median
from typing import TYPE_CHECKING, Any, Final, overload

from profiler.errors import ProfileError
from profiler.fleet import p_values
from profiler.fleet.bench import Bench
from profiler.fleet.columns import body_of
from profiler.fleet.compare import SIGNIFICANT
from profiler.fleet.correlation import Correlation
from profiler.fleet.decide import judge
from profiler.fleet.due import next_checks
from profiler.fleet.rows import Row
from profiler.fleet.rules import WORST, Verdict
from profiler.fleet.tolerances import Tolerances
from profiler.fleet.tracks import Tracks, make_tracks
from profiler.fleet.trendline import Trend

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

CONTROL: Final = 3.0
"""Control limits in standard uncertainties (Shewhart; common practice)."""
ALIKE_BODIES: Final = 5
"""Fewer bodies than this can't show that all of them move alike."""


@dataclass(frozen=True, kw_only=True)
class Point:
    """One calibration. low_ev, high_ev: control limits around the mean of those before it, back to
    the last adjustment; None where there are none.

    change_ev: from the one before, with standard uncertainty and half of the 95 % interval; None
    for the first.
    """

    row: Row
    value_ev: float
    u_ev: float
    centre_ev: float | None
    low_ev: float | None
    high_ev: float | None
    outside: bool
    change_ev: float | None
    change_u_ev: float | None
    change_half_ev: float | None
    change_significant: bool


class Points(Sequence[Point]):
    """The calibrations of one history; a Point is made when one is asked for."""

    def __init__(self, tracks: Tracks, first: int, end: int) -> None:
        self._tracks, self._places = tracks, range(first, end)

    def __len__(self) -> int:
        return len(self._places)

    @overload
    def __getitem__(self, index: int) -> Point: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Point]: ...
    def __getitem__(self, index: int | slice) -> Point | Sequence[Point]:
        places = self._places[index]
        if isinstance(places, int):
            return next(self._made(range(places, places + 1)))
        return tuple(self._made(places))

    def __iter__(self) -> Iterator[Point]:
        return self._made(self._places)

    def _made(self, places: range) -> Iterator[Point]:
        held = self._tracks
        chosen = slice(places.start, places.stop, places.step)
        for k, row in zip(places, held.rows.take(chosen), strict=True):
            yield Point(
                row=row,
                value_ev=float(held.value_ev[k]),
                u_ev=float(held.u_ev[k]),
                centre_ev=_known(held.centre_ev[k]),
                low_ev=_known(held.low_ev[k]),
                high_ev=_known(held.high_ev[k]),
                outside=bool(held.outside[k]),
                change_ev=_known(held.change_ev[k]),
                change_u_ev=_known(held.change_u_ev[k]),
                change_half_ev=_known(held.change_half_ev[k]),
                change_significant=bool(held.changed[k]),
            )


@dataclass(frozen=True, kw_only=True)
class History:
    """All calibrations of one body, meter, lens, mode, light and ISO label, oldest first.

    adjusted: points before the last adjustment that changed something; the trend leaves them out.
    trend: None for one date. bench: what the limits rest on, None where they rest on the budget.
    next_check: ISO date; why: the reason for it; early: sooner than the usual interval; verdict: on
    the newest calibration as everywhere else, None without a tolerance for it or where another
    meter's result counts. outside: whether the newest lies outside of its control limits; changed:
    whether it differs from the one before.
    """

    body: tuple[str, str, str]
    asset_tag: str
    meter: tuple[str, str, str]
    case: tuple[str, ...]
    quantity: str
    points: Sequence[Point]
    adjusted: int
    trend: Trend | None
    bench: Bench | None
    outside: bool
    changed: bool
    next_check: str
    why: str
    early: bool
    verdict: Verdict | None = None

    @property
    def latest(self) -> Point:
        """Return the newest calibration."""
        return self.points[-1]


@dataclass(frozen=True, kw_only=True)
class CommonDrift:
    """Bodies of one meter that all move alike: rather the meter, or the light, than the bodies."""

    meter: tuple[str, str, str]
    bodies: int
    slope_ev_per_year: float
    u_ev_per_year: float


def histories(
    rows: Sequence[Row],
    quantity: str,
    *,
    tolerances: Tolerances | None = None,
    sharing: Correlation | None = None,
) -> list[History]:
    """Return the history of each body, meter, lens, mode, light and ISO label.

    A trend counts where so many as small a probability of chance come with at most 5 % false ones
    (false discovery rate). Lower bounds, undated results and series that repeat another have no
    place in it; ProfileError where nothing is left. Give the whole fleet also where one body
    matters: the others tell how well the bench repeats.
    """
    import numpy as np

    tracks = make_tracks(rows, quantity, sharing or Correlation(), CONTROL)
    if not len(tracks.rows):
        raise ProfileError(
            f"no result has an exact {quantity} of a known day",
            "the table",
            "Measure with frames beyond clip, and date the series in its asset.toml",
        )
    tested = np.flatnonzero([trend is not None for trend in tracks.trends])
    corrected = p_values.false_discovery(
        np.array([_trend(tracks.trends[int(k)]).probability for k in tested], dtype=np.float64)
    )
    trends = list(tracks.trends)
    for k, probability in zip(map(int, tested), corrected.tolist(), strict=True):
        trends[k] = replace(
            _trend(trends[k]), probability=probability, significant=probability < SIGNIFICANT
        )
    last = tracks.ends - 1
    newest = tracks.rows.take(last)
    verdicts = _verdicts(tracks, last, quantity, tolerances)
    due = next_checks(newest, trends, verdicts, quantity, tolerances)
    bodies = newest.bodies
    names = zip(*(newest.text(name).array for name in _TEXTS), strict=True)
    return [
        History(
            body=body_of(bodies.values[bodies.codes[k]]),
            asset_tag=tag,
            meter=(make, model, serial),
            case=(lens, mode, light, f"{iso:07d}"),
            quantity=quantity,
            points=Points(tracks, int(first), int(end)),
            adjusted=int(tracks.adjusted[k]),
            trend=trends[k],
            bench=tracks.benches[k],
            outside=bool(tracks.outside[end - 1]),
            changed=bool(tracks.changed[end - 1]),
            next_check=due[k].day.isoformat(),
            why=due[k].why,
            early=due[k].early,
            verdict=verdicts[k],
        )
        for k, (first, end, iso, (tag, make, model, serial, lens, mode, light)) in enumerate(
            zip(tracks.starts, tracks.ends, newest.number("iso"), names, strict=True)
        )
    ]


_TEXTS: Final = (
    *("asset_tag", "meter_make", "meter_model", "meter_serial"),
    *("lens_model", "mode", "light"),
)


def common_drift(found: Sequence[History]) -> list[CommonDrift]:
    """Return the meters whose bodies all move alike: their median slope stands out of its scatter.

    u = 1.2533 sd / sqrt(n), sd from the median absolute deviation, but no less than the median of
    the slopes' own uncertainties; counted from 3 u on.
    """
    own: dict[tuple[str, str, str], list[float]] = defaultdict(list)
    slopes: dict[tuple[str, str, str], dict[tuple[str, str, str], list[float]]] = {}
    for history in found:
        if history.trend is not None:
            bodies = slopes.setdefault(history.meter, {})
            bodies.setdefault(history.body, []).append(history.trend.slope_ev_per_year)
            own[history.meter].append(history.trend.u_ev_per_year)
    out = []
    for meter, bodies in sorted(slopes.items()):
        values = [median(of_body) for of_body in bodies.values()]
        if len(values) < ALIKE_BODIES:
            continue
        middle = median(values)
        sd = p_values.MAD_TO_SD * median(abs(value - middle) for value in values)
        sd = max(sd, median(own[meter]))
        u = math.sqrt(math.pi / 2.0) * sd / math.sqrt(len(values))
        if abs(middle) > CONTROL * u > 0.0:
            out.append(
                CommonDrift(
                    meter=meter, bodies=len(values), slope_ev_per_year=middle, u_ev_per_year=u
                )
            )
    return out


def _verdicts(
    tracks: Tracks, last: NDArray[np.int64], quantity: str, tolerances: Tolerances | None
) -> list[Verdict | None]:
    """The verdict on the newest calibration of each history, as `judge` gives it."""
    import numpy as np

    if tolerances is None:
        return [None] * last.size
    judged = judge(tracks.table, tolerances, date.max, none_holds=True)
    which = [k for k, each in enumerate(tolerances.tolerances) if each.quantity == quantity]
    cells = judged.cells
    cells = cells.take(cells.current & np.isin(cells.tolerance, which))
    place = tracks.place[judged.places[cells.row]]
    worst = np.full(len(tracks.rows), len(WORST))
    np.minimum.at(worst, place[place >= 0], cells.verdict[place >= 0])
    return [WORST[k] if k < len(WORST) else None for k in worst[last].tolist()]


def _trend(trend: Trend | None) -> Trend:
    if trend is None:
        raise ValueError("a history of one date has no trend")
    return trend


def _known(value: Any) -> float | None:
    return None if math.isnan(value) else float(value)
