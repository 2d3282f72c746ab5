"""Picture of the shutter: what each marked time gives beyond what it says."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from profiler.calibration.fit.budget import coverage_factor
from profiler.errors import GreytareError
from profiler.exposure.stops import nearest_time_mark
from profiler.show.plots import style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from profiler.results import ProfileData, Result

_HEIGHT_IN = 2.9
_TICK_GAP = 0.14


def shutter(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return the mean error of each marked time in EV with its 95 % interval.

    result: taken for the sake of the other plots, whole profiles only are drawn.
    """
    from matplotlib.figure import Figure

    rows = profile.shutter
    if not rows:
        raise GreytareError(
            "the profile holds no shutter table",
            "shutter",
            "Fit a series that was bracketed by time",
        )
    figure = Figure(figsize=(style.WIDTH_IN, _HEIGHT_IN), dpi=style.DPI)
    (axes,) = style.panels(figure, (1.0,), _HEIGHT_IN)
    k = coverage_factor(float("inf"))
    axes.axhline(0.0, color=style.PALE, linewidth=1.0)
    axes.errorbar(
        [row.time_s for row in rows],
        [row.deviation_ev for row in rows],
        yerr=[k * row.u_ev for row in rows],
        fmt="o",
        color=style.INK,
        markersize=4.5,
        capsize=3,
        linewidth=1.0,
    )
    axes.set_xscale("log", base=2)
    ticks = _apart([row.time_s for row in rows])
    axes.set_xticks(ticks, [time_name(time_s).removesuffix(" s") for time_s in ticks])
    axes.minorticks_off()
    reach = max(0.1, 1.2 * max(abs(row.deviation_ev) + k * row.u_ev for row in rows))
    style.even(axes, reach, 7)
    style.label(axes, x="marked time, s", y="more light than stated, EV")
    style.title(axes, "Shutter times")
    return figure


def _apart(times_s: list[float]) -> list[float]:
    """Times whose names don't touch: each a part of the axis away from the one before."""
    stops = math.log2(times_s[-1] / times_s[0])
    kept: list[float] = []
    for time_s in times_s:
        if not kept or math.log2(time_s / kept[-1]) >= _TICK_GAP * stops:
            kept.append(time_s)
    return kept


def time_name(time_s: float) -> str:
    """Return a time by the mark on the dial, with unit."""
    return nearest_time_mark(time_s).label
