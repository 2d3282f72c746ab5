"""Picture of a meter: how far its readings stray over its range, or from another meter's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from profiler.show.instruments import meter_name
from profiler.show.plots import style
from profiler.show.plots.export import save_figure

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure

    from profiler.calibration.instruments.meter import MeterCheck, MetersCompared
    from profiler.records import Estimate

_HEIGHT_IN = 3.0


def save_meter(found: MeterCheck | MetersCompared, path: Path) -> None:
    """Write the picture of a meter, or of two, as PNG, PDF or SVG; whole or not at all."""
    from profiler.calibration.instruments.meter import MeterCheck

    save_figure(linearity(found) if isinstance(found, MeterCheck) else meters_apart(found), path)


def linearity(found: MeterCheck) -> Figure:
    """Return the deviation of a meter's readings against level, with 95 % intervals, in EV."""
    return _drawn(
        [level.shown_ev100 for level in found.levels],
        [level.deviation_ev for level in found.levels],
        "more than its mean, EV",
        f"{meter_name(found.meter)} over its range",
    )


def meters_apart(found: MetersCompared) -> Figure:
    """Return one meter's readings less another's against level, with 95 % intervals, in EV."""
    return _drawn(
        [level.shown_ev100 for level in found.levels],
        [level.difference_ev for level in found.levels],
        "first less second, EV",
        "Two meters over level",
    )


def _drawn(levels: list[float], values: list[Estimate], y: str, title: str) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(style.WIDTH_IN, _HEIGHT_IN), dpi=style.DPI)
    (axes,) = style.panels(figure, (1.0,), _HEIGHT_IN)
    axes.axhline(0.0, color=style.PALE, linewidth=1.0)
    middle = [each.value for each in values]
    style.points(
        axes,
        levels,
        middle,
        (
            [each.value - each.low for each in values],
            [each.high - each.value for each in values],
        ),
        fmt="o-",
    )
    reach = max(0.1, 1.15 * max(max(abs(each.low), abs(each.high)) for each in values))
    style.even(axes, reach, 7)
    style.label(axes, x="shown by the meter, EV at ISO 100", y=y)
    style.title(axes, title)
    return figure
