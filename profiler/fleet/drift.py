"""Bodies followed over time, calibration by calibration."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import TYPE_CHECKING, Final

from profiler.errors import ProfileError
from profiler.fleet import p_values
from profiler.fleet.compare import SIGNIFICANT, difference, half_width
from profiler.fleet.correlation import Correlation, covariance
from profiler.fleet.decide import moment
from profiler.fleet.due import next_check
from profiler.fleet.rows import Row, sorted_rows
from profiler.fleet.rules import Verdict
from profiler.fleet.tolerances import Tolerances
from profiler.fleet.trendline import Trend, fit_trend

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


@dataclass(frozen=True, kw_only=True)
class History:
    """All calibrations of one body, meter, lens, mode, light and ISO label, oldest first.

    adjusted: points before the last adjustment that changed something; the trend leaves them out.
    trend: None for one date. next_check: ISO date; why: the reason for it; early: sooner than the
    usual interval; verdict: on the newest calibration, None without a tolerance for it.
    """

    body: tuple[str, str, str]
    asset_tag: str
    meter: tuple[str, str, str]
    case: tuple[str, ...]
    quantity: str
    points: tuple[Point, ...]
    adjusted: int
    trend: Trend | None
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

    Lower bounds have no place in a trend and are left out; ProfileError where nothing is left.
    """
    sharing = sharing or Correlation()
    groups: dict[tuple[object, ...], list[Row]] = defaultdict(list)
    for row in sorted_rows(rows):
        value = row.value(quantity)
        if value is not None and not value.lower_bound:
            aim = row.aim_stops if quantity == "offset_ev" else 0.0
            meter = (row.meter_make, row.meter_model, row.meter_serial)
            groups[(row.body, row.case, meter, aim)].append(row)
    if not groups:
        raise ProfileError(
            f"no result has an exact {quantity}", "the table", "Measure with frames beyond clip"
        )
    made = [
        _history(sorted(group, key=moment), quantity, sharing)
        for _, group in sorted(groups.items())
    ]
    tested = [k for k, history in enumerate(made) if history.trend is not None]
    corrected = p_values.holm([_trend(made[k]).probability for k in tested])
    for k, probability in zip(tested, corrected, strict=True):
        trend = replace(
            _trend(made[k]), probability=probability, significant=probability < SIGNIFICANT
        )
        made[k] = replace(made[k], trend=trend)
    out = []
    for history in made:
        due = next_check(history.latest.row, history.trend, quantity, tolerances)
        out.append(
            replace(
                history,
                next_check=due.day.isoformat(),
                why=due.why,
                early=due.early,
                verdict=due.verdict,
            )
        )
    return out


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


def _history(rows: list[Row], quantity: str, sharing: Correlation) -> History:
    begins = _beginnings(rows, quantity, sharing)
    start = begins[-1]
    matrix = covariance(rows, quantity, sharing)
    y = [_number(row, quantity) for row in rows]
    points = tuple(_point(rows, y, matrix, k, begins[k], quantity) for k in range(len(rows)))
    first = rows[0]
    return History(
        body=first.body,
        asset_tag=rows[-1].asset_tag,
        meter=(first.meter_make, first.meter_model, first.meter_serial),
        case=first.case,
        quantity=quantity,
        points=points,
        adjusted=start,
        trend=fit_trend(rows[start:], y[start:], matrix[start:, start:]),
        next_check="",
        why="",
        early=False,
    )


def _point(
    rows: list[Row],
    y: list[float],
    matrix: NDArray[np.float64],
    k: int,
    start: int,
    quantity: str,
) -> Point:
    import numpy as np

    centre = low = high = None
    if start < k:
        i = np.arange(start, k)
        inverse = np.linalg.inv(matrix[np.ix_(i, i)])
        weights = inverse.sum(axis=0) / inverse.sum()
        centre = float(weights @ np.array(y)[i])
        spread = float(weights @ matrix[np.ix_(i, i)] @ weights)
        spread += float(matrix[k, k] - 2.0 * weights @ matrix[i, k])
        reach = CONTROL * math.sqrt(max(spread, 0.0))
        low, high = centre - reach, centre + reach
    change = change_u = half = None
    if k:
        change = y[k] - y[k - 1]
        change_u = math.sqrt(
            max(0.0, float(matrix[k, k] + matrix[k - 1, k - 1] - 2.0 * matrix[k, k - 1]))
        )
        half = half_width(change_u, (rows[k], rows[k - 1]), quantity)
    return Point(
        row=rows[k],
        value_ev=y[k],
        u_ev=math.sqrt(float(matrix[k, k])),
        centre_ev=centre,
        low_ev=low,
        high_ev=high,
        outside=low is not None and high is not None and not low <= y[k] <= high,
        change_ev=change,
        change_u_ev=change_u,
        change_half_ev=half,
        change_significant=change is not None and half is not None and abs(change) > half,
    )


def _beginnings(rows: list[Row], quantity: str, sharing: Correlation) -> list[int]:
    """For each result, the index of the first one since the last adjustment that changed something.

    0 without one.
    """
    begins = [0]
    for k in range(1, len(rows)):
        adjusted = rows[k].state == "as-left" and rows[k - 1].state == "as-found"
        changed = adjusted and difference(rows[k], rows[k - 1], quantity, sharing).significant
        begins.append(k if changed else begins[-1])
    return begins


def _trend(history: History) -> Trend:
    if history.trend is None:
        raise ValueError("a history of one date has no trend")
    return history.trend


def _number(row: Row, quantity: str) -> float:
    value = row.value(quantity)
    if value is None:
        raise ValueError(f"{row.series} has no {quantity}")
    return value.value
