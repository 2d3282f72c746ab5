"""Pictures of a fleet: bodies against their model's median, one body over time."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final

from profiler.fleet.compare import exact_value
from profiler.fleet.drift import History
from profiler.fleet.models import ModelGroup
from profiler.fleet.trendline import YEAR_DAYS
from profiler.show.calibration.identity import full_name
from profiler.show.fleet.words import QUANTITY_NAMES, body_name, body_words, case_words
from profiler.show.plots import style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from profiler.fleet.tolerances import Tolerances

_MOST_NAMED: Final = 40
"""More bodies than this are drawn without their names."""
_FAR_EV: Final = 100.0
_ROW_IN: Final = 0.2
_DRIFT_IN: Final = 3.2
_WIDE_IN: Final = 6.4
_STEPS: Final = (1, 2, 3, 6, 12, 24, 60, 120, 600)
"""Months between the ticks of a time axis."""


def model_figure(group: ModelGroup) -> Figure:
    """Return the differences of a model's bodies from the median of the others, smallest first.

    Bars: 95 % by measurement alone. Outliers are squares in another colour.
    """
    from matplotlib.figure import Figure

    ordered = sorted(group.deviations, key=lambda one: one.difference_ev)
    named = len(ordered) <= _MOST_NAMED
    height = 1.1 + (_ROW_IN * max(3, len(ordered)) if named else 6.0)
    figure = Figure(figsize=(_WIDE_IN, height), dpi=style.DPI, layout="constrained")
    axes = figure.subplots()
    style.plain(axes)
    axes.axvspan(-2.0 * group.spread_ev, 2.0 * group.spread_ev, color=style.BAND, linewidth=0)
    axes.axvline(0.0, color=style.PALE, linewidth=1.0)
    for outlier, colour, marker in ((False, style.INK, "o"), (True, style.ALARM, "s")):
        places = [i for i, one in enumerate(ordered) if one.outlier is outlier]
        if places:
            axes.errorbar(
                [ordered[i].difference_ev for i in places],
                places,
                xerr=[ordered[i].half_ev for i in places],
                fmt=marker,
                color=colour,
                markersize=4 if named else 2.5,
                linewidth=0.8,
                label="outlier" if outlier else "body, with 95 % of the measurement",
            )
    if named:
        axes.set_yticks(range(len(ordered)), [body_name(one.row) for one in ordered])
    else:
        axes.set_yticks([])
        for i, one in enumerate(ordered):
            if one.outlier:
                style.note(
                    axes,
                    one.row.asset_tag or one.row.camera_serial,
                    one.difference_ev,
                    i,
                    xytext=(0, 5),
                    textcoords="offset points",
                    fontsize=style.TICK_PT - 1.5,
                    color=style.ALARM,
                )
    axes.set_ylim(-1.0, len(ordered) + (1.5 if named else 0.12 * len(ordered)))
    style.label(axes, x=f"{QUANTITY_NAMES[group.quantity]} less the median of the others, EV")
    style.title(axes, f"{full_name(group.make, group.model)}, {case_words(group.case)}")
    style.legend(axes, heading="band: two spreads of the model")
    return figure


def history_figure(history: History, tolerances: Tolerances | None = None) -> Figure:
    """Return one body's calibrations over time: control limits, trend, tolerances, next check."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDE_IN, _DRIFT_IN), dpi=style.DPI, layout="constrained")
    axes = figure.subplots()
    style.plain(axes)
    points = history.points
    days, due = days_of(history)
    held = [exact_value(p.row, history.quantity) for p in points]
    limits = [p for p in points if p.low_ev is not None]
    where = [day for day, p in zip(days, points, strict=True) if p.low_ev is not None]
    for side, words in (("low_ev", "control limits"), ("high_ev", "")):
        axes.plot(
            where,
            [getattr(p, side) for p in limits],
            linestyle="none",
            marker="_",
            markersize=12,
            color=style.PALE,
            label=words or None,
        )
    for outside, colour, marker in ((False, style.INK, "o"), (True, style.ALARM, "s")):
        shown = [i for i, p in enumerate(points) if p.outside is outside]
        if shown:
            style.points(
                axes,
                [days[i] for i in shown],
                [held[i].value for i in shown],
                (
                    [held[i].value - held[i].low for i in shown],
                    [held[i].high - held[i].value for i in shown],
                ),
                fmt=marker,
                color=colour,
                capsize=2.5,
                linewidth=0.9,
                label="outside of its limits" if outside else "calibration, with 95 %",
            )
    trend = history.trend
    if trend is not None:
        words = "significant trend" if trend.significant else "trend, not significant"
        axes.plot(
            *zip(*trend_line(history), strict=True),
            "-" if trend.significant else ":",
            color=style.INK,
            linewidth=1.2,
            label=words,
        )
    for k, limit in enumerate(limits_of(history, tolerances)):
        axes.axhline(
            limit,
            color=style.ALARM,
            linewidth=1.0,
            linestyle=(0, (4, 2)),
            label="" if k else "tolerance",
        )
    axes.axvline(due, color=style.PALE, linewidth=1.0, linestyle=(0, (1, 2)))
    style.upright(axes, due, f"check by {history.next_check}", "left", 0.02)
    ticks = month_ticks(min(days), max(*days, due))
    axes.set_xticks([day for day, _ in ticks], [words for _, words in ticks])
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.35 * (high - low))
    style.label(axes, y=f"{QUANTITY_NAMES[history.quantity]}, EV")
    style.title(axes, f"{body_words(history.body, history.asset_tag)}, {case_words(history.case)}")
    axes.legend(loc="upper left", fontsize=style.TICK_PT, frameon=False, ncols=2)
    return figure


def days_of(history: History) -> tuple[list[int], int]:
    """Return the days of the calibrations and of the next check, counted from the year 1."""
    dates = [*(point.row.date for point in history.points), history.next_check]
    *days, due = (date.fromisoformat(text).toordinal() for text in dates)
    return days, due


def trend_line(history: History) -> list[tuple[int, float]]:
    """Return both ends of the trend, day and EV; a significant one is drawn to the next check."""
    trend, (days, due) = history.trend, days_of(history)
    if trend is None:
        return []
    return [
        (day, trend.level_ev + trend.slope_ev_per_year * (day - days[-1]) / YEAR_DAYS)
        for day in (days[history.adjusted], due if trend.significant else days[-1])
    ]


def limits_of(history: History, tolerances: Tolerances | None) -> list[float]:
    """Return the limits in EV that hold for the newest calibration."""
    last = history.latest.row
    return [
        limit
        for tolerance in (() if tolerances is None else tolerances.tolerances)
        if tolerance.quantity == history.quantity and tolerance.holds_for(last)
        for limit in (tolerance.limits.low, tolerance.limits.high)
        if abs(limit) < _FAR_EV
    ]


def month_ticks(first: int, last: int) -> list[tuple[int, str]]:
    """Return (day, words) of the first of months or years between two days, seven at most.

    Days count as in date.toordinal; where no month begins between them, the first day is the tick.
    """
    start, end = date.fromordinal(first), date.fromordinal(last)
    months = range(12 * start.year + start.month - 1, 12 * end.year + end.month)
    step = next(n for n in _STEPS if len(months) <= 7 * n or n == _STEPS[-1])
    firsts = [date(n // 12, n % 12 + 1, 1) for n in months if n % step == 0]
    shown = [day for day in firsts if first <= day.toordinal() <= last] or [start]
    return [
        (
            day.toordinal(),
            f"{day:%Y}" if step >= 12 else f"{day:%Y-%m}" if day.day == 1 else f"{day}",
        )
        for day in shown
    ]
