"""Pictures drawn as bars: what each ISO label holds, what each source of uncertainty adds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from profiler.calibration.fit.budget import combine
from profiler.show.calibration.bars import bars_of
from profiler.show.plots import style
from profiler.show.plots.levels import case_name
from profiler.show.sources import source_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure, FigureBase

    from profiler.results import ProfileData, Result

_ROW_IN: Final = 0.62
_HALF: Final = 0.22


def bars(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return a bar per result: floor to clip, metered grey, aim, the interval of clip hatched.

    result: taken for the sake of the other plots, whole profiles only are drawn.
    """
    from matplotlib.figure import Figure

    shown = bars_of(profile)
    count = len(shown.bars)
    height_in = 1.1 + _ROW_IN * count
    figure = Figure(figsize=(style.WIDTH_IN, height_in), dpi=style.DPI)
    axes = figure.add_axes((0.03, 0.62 / height_in, 0.94, 1.0 - 0.72 / height_in))
    style.plain(axes)
    axes.set_xlim(shown.low, shown.high)
    axes.set_ylim(count - 0.4, -0.8)
    axes.set_yticks([])
    for row, bar in enumerate(shown.bars):
        low = shown.low if bar.floor is None else bar.floor
        axes.barh(row, bar.clip_low - low, 2 * _HALF, left=low, color=style.BAND, edgecolor="none")
        axes.barh(
            row,
            bar.clip_high - bar.clip_low,
            2 * _HALF,
            left=bar.clip_low,
            color=style.PAPER,
            edgecolor=style.PALE,
            hatch="////",
            linewidth=0.0,
        )
        ends = [row - _HALF, row + _HALF]
        dash = style.DASH["clip"] if bar.at_least else "-"
        axes.plot([bar.clip, bar.clip], ends, color=style.INK, linewidth=2.2, linestyle=dash)
        axes.plot([0.0, 0.0], ends, color=style.INK, linewidth=1.0)
        if bar.aim is not None:
            axes.plot([bar.aim], [row - _HALF - 0.06], "v", color=style.INK, markersize=5)
        words = style.literal(f"{bar.name}: {bar.text}")
        axes.text(shown.low, row - _HALF - 0.12, words, fontsize=style.LABEL_PT, color=style.INK)
    style.label(axes, x="over the metered grey (triangle: where it should land), in EV")
    return figure


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
        words = f"{value:.3f}" if value >= 0.0005 else "under 0.001"
        style.note(
            axes,
            words,
            value,
            at,
            xytext=(3, 0),
            textcoords="offset points",
            ha="left",
            va="center",
        )
    axes.set_yticks(range(len(names)), names)
    axes.grid(False, axis="y")
    axes.set_xlim(0.0, 1.18 * max([*values, 1e-6]))
    style.label(axes, x="contribution, standard uncertainty in EV", y="source")
    style.title(axes, f"Budget, {case_name(result)}")
