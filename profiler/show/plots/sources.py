"""Picture of the budget: what each source adds to the uncertainty."""

from __future__ import annotations

from typing import TYPE_CHECKING

from profiler.calibration.fit.budget import combine
from profiler.show.plots import style
from profiler.show.plots.levels import case_name
from profiler.show.sources import source_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure, FigureBase

    from profiler.results import ProfileData, Result

_HEIGHT_IN = 3.2


def budget(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return the contributions to the uncertainty of offset and headroom in EV as bars."""
    return style.stacked([result] if result else profile.results, _HEIGHT_IN, _draw)


def _draw(place: FigureBase, result: Result) -> None:
    (axes,) = style.panels(place, (1.0,), _HEIGHT_IN, left_in=1.55)
    rows = sorted(result.budget, key=lambda row: row.contribution_ev)
    u, _ = combine(result.budget)
    names = ["combined", *(style.literal(source_words(row.source)) for row in rows)]
    values = [u, *(row.contribution_ev for row in rows)]
    axes.barh(
        range(len(names)),
        values,
        height=0.62,
        color=[style.PALE] + [style.STYLE["B"][0]] * len(rows),
        hatch=["///"] + [""] * len(rows),
        edgecolor=style.INK,
        linewidth=0.6,
    )
    for at, value in enumerate(values):
        axes.annotate(
            f"{value:.3f}" if value >= 0.0005 else "under 0.001",
            (value, at),
            xytext=(3, 0),
            textcoords="offset points",
            fontsize=style.TICK_PT,
            color=style.INK,
            va="center",
        )
    axes.set_yticks(range(len(names)), names)
    axes.grid(False, axis="y")
    axes.set_xlim(0.0, 1.18 * max([*values, 1e-6]))
    style.label(axes, x="contribution, standard uncertainty in EV", y="source")
    style.title(axes, f"Budget, {case_name(result)}")
