"""Picture of a series for a sheet to print: what was measured, without what was made of it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from profiler.show.plots import style
from profiler.show.plots.levels import draw_order, draw_residuals, draw_response

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from profiler.results import Result

_SIZE_IN: Final = (7.05, 2.7)
"""As wide as an A4 page within its margins."""


def untold(result: Result) -> Figure:
    """Return levels with the residuals by placement and by order; every frame is drawn alike.

    Which frames the fit left out, or has a doubt about, would be half the answer of a task.
    """
    from matplotlib.figure import Figure

    alike = replace(
        result, frames=tuple(replace(each, used=True, flags=()) for each in result.frames)
    )
    figure = Figure(figsize=_SIZE_IN, dpi=style.DPI)
    levels = figure.add_axes((0.11, 0.165, 0.375, 0.80))
    placed = figure.add_axes((0.605, 0.645, 0.385, 0.32))
    ordered = figure.add_axes((0.605, 0.165, 0.385, 0.32))
    for axes in (levels, placed, ordered):
        style.plain(axes)
    draw_response(levels, alike)
    draw_residuals(placed, alike)
    draw_order(ordered, alike)
    for axes in (levels, placed):
        style.label(axes, x="placement: EV above the meter")
    return figure
