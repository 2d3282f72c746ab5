"""A placed scene drawn on one vertical scale of stops."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from profiler.show.marks import Scale, Spot

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def spread(values: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return positions at least `gap` apart, each as near to its value as its neighbours allow.

    Values that crowd share a block centred on their mean; blocks are merged until none overlap
    (pool adjacent violators), then kept inside low..high.

    >>> [round(x, 2) for x in spread([1.0, 1.1, 5.0], 0.5, 0.0, 10.0)]
    [0.8, 1.3, 5.0]
    """
    order = sorted(range(len(values)), key=lambda i: values[i])
    # of a block: members, and the start that puts it nearest to all of them
    blocks: list[tuple[list[int], float]] = []
    for index in order:
        members, start = [index], values[index]
        while blocks and blocks[-1][1] + gap * len(blocks[-1][0]) > start:
            members = blocks.pop()[0] + members
            ideal = [values[i] - gap * k for k, i in enumerate(members)]
            start = sum(ideal) / len(ideal)
        blocks.append((members, start))
    positions = [0.0] * len(values)
    below = low
    for members, start in blocks:
        start = max(start, below)
        for k, i in enumerate(members):
            positions[i] = start + gap * k
        below = start + gap * len(members)
    above = high
    for index in reversed(order):
        positions[index] = min(positions[index], above)
        above = positions[index] - gap
    return positions


def lanes(values: Sequence[float], gap: float, count: int) -> list[int]:
    """Return side-by-side lanes, 0 to count - 1, for falling values: neighbours within gap differ.

    >>> lanes([3.0, 2.9, 2.8, 0.0], 0.5, 4)
    [0, 1, 2, 0]
    """
    taken: list[int] = []
    for i, value in enumerate(values):
        used = {taken[k] for k in range(i) if abs(values[k] - value) < gap}
        free = [lane for lane in range(count) if lane not in used]
        taken.append(free[0] if free else (taken[-1] + 1) % count)
    return taken


# colour-blind-safe (Okabe, Ito 2008); the marker's shape tells the same in grey
VERDICTS: Final = {
    "safe": ("o", "#0072B2", "#0072B2", "safe"),
    "in doubt": ("D", "#E69F00", "white", "in doubt"),
    "clipped": ("^", "#D55E00", "#D55E00", "clipped"),
    "below": ("v", "#CC79A7", "white", "below SNR 10"),
}
INK, PALE, BODY = "#222222", "#666666", "#d9d9d9"
_COLUMN = (0.385, 0.445)
_SPOT_X, _SPOT_STEP, _LABEL_X, _NAME_X = 0.485, 0.032, 0.63, 0.33
_LANES = 4
_LINE_HEIGHT_PT = 13.0
_SIZE_IN = (7.2, 7.6)


def draw_scale(shown: Scale) -> Figure:
    """Return a figure: clip of each channel, aim, metered grey, floor at the left; spots right."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE_IN, dpi=110)
    axes = figure.add_axes((0.11, 0.09, 0.86, 0.81))
    low, high = shown.low, shown.high
    axes.set_ylim(low, high)
    axes.set_xlim(0.0, 1.0)
    _body(axes, shown)
    gap = (high - low) * _LINE_HEIGHT_PT / (0.81 * _SIZE_IN[1] * 72.0)
    _left(axes, shown, gap)
    _right(axes, shown, gap)
    _frame(axes, low, high)
    figure.text(0.03, 0.955, shown.heading, fontsize=13, color=INK)
    figure.text(0.03, 0.925, shown.subtitle, fontsize=9, color=PALE)
    _legend(axes, shown)
    return figure


def save_scale(shown: Scale, path: Path, *, replace: bool = True) -> None:
    """Write the picture as PNG, PDF or SVG, by the ending of `path`; whole or not at all."""
    from profiler.errors import GreytareError
    from profiler.files.atomic import write_whole

    kind = path.suffix.lower().lstrip(".")
    if kind not in ("png", "pdf", "svg"):
        raise GreytareError(
            f"a picture can't be written as {path.suffix or 'a file without an ending'}",
            str(path),
            "End its name in .png, .pdf or .svg",
        )
    buffer = io.BytesIO()
    draw_scale(shown).savefig(buffer, format=kind)
    write_whole(path, buffer.getvalue(), replace=replace)


def _body(axes: Axes, shown: Scale) -> None:
    """What the body holds as a column, hatched where it is lost."""
    left, right = _COLUMN
    low, high = shown.low, shown.high
    floor10 = low if shown.floor10 is None else shown.floor10
    floor1 = low if shown.floor1 is None else shown.floor1
    axes.fill_between([left, right], floor10, 0.0, color=BODY, linewidth=0)
    axes.fill_between(
        [left, right], 0.0, high, facecolor="white", edgecolor=PALE, hatch="xxx", linewidth=0.0
    )
    if shown.floor10 is not None:
        axes.fill_between(
            [left, right],
            max(floor1, low),
            floor10,
            facecolor="white",
            edgecolor=PALE,
            hatch="...",
            linewidth=0.0,
        )
    if shown.linear is not None:
        axes.fill_between(
            [left, right],
            shown.linear,
            0.0,
            facecolor=BODY,
            edgecolor=PALE,
            hatch="///",
            linewidth=0.0,
        )
    for x in _COLUMN:
        axes.plot([x, x], [low, high], color=PALE, linewidth=0.8)
    axes.plot(_COLUMN, [0.0, 0.0], color=INK, linewidth=2.4)


def _left(axes: Axes, shown: Scale, gap: float) -> None:
    """Clip per channel, aim, metered grey, floor, with their names."""
    marks = shown.marks
    heights = spread(
        [mark.at for mark in marks], gap, shown.low + 0.5 * gap, shown.high - 0.5 * gap
    )
    for mark, height in zip(marks, heights, strict=True):
        axes.plot(
            [_NAME_X + 0.01, _COLUMN[0] - 0.02, _COLUMN[0]],
            [height, mark.at, mark.at],
            color=PALE,
            linewidth=0.8,
        )
        axes.plot(_COLUMN, [mark.at, mark.at], color=INK, linewidth=0.9)
        axes.text(
            _NAME_X,
            height,
            mark.text,
            ha="right",
            va="center",
            fontsize=9,
            color=INK,
            fontweight="bold" if mark.strong else "normal",
        )


def _right(axes: Axes, shown: Scale, gap: float) -> None:
    """The spots with their 95 % intervals, those that crowd side by side."""
    spots = sorted(shown.spots, key=lambda spot: -spot.at)
    at = [spot.at for spot in spots]
    heights = spread(at, gap, shown.low + 0.5 * gap, shown.high - 0.5 * gap)
    for spot, y, height, lane in zip(spots, at, heights, lanes(at, 1.6 * gap, _LANES), strict=True):
        marker, colour, face, _ = VERDICTS[spot.kind]
        x = _SPOT_X + _SPOT_STEP * lane
        axes.plot(
            [x, _SPOT_X + _LANES * _SPOT_STEP, _LABEL_X - 0.012],
            [y, y, height],
            color=PALE,
            linewidth=0.7,
            zorder=1.0,
        )
        axes.errorbar(
            [x],
            [y],
            yerr=[[y - spot.low], [spot.high - y]],
            marker=marker,
            color=colour,
            markerfacecolor=face,
            markeredgewidth=1.3,
            markersize=5.5,
            elinewidth=1.6,
            capsize=4.0,
            capthick=1.6,
            zorder=3.0,
        )
        axes.text(_LABEL_X, height, _words(spot), ha="left", va="center", fontsize=9, color=INK)


def _words(spot: Spot) -> str:
    """Name, distance to clip, verdict where it isn't safe; long names are cut."""
    name = spot.name if len(spot.name) <= 20 else f"{spot.name[:19]}…"
    return "  ".join(part for part in (name, spot.height, spot.verdict) if part)


def _frame(axes: Axes, low: float, high: float) -> None:
    axes.set_xticks([])
    step = 1 if high - low < 18 else 2
    ticks = [t for t in range(int(low) - 1, int(high) + 2) if t % step == 0 and low <= t <= high]
    axes.set_yticks(ticks, [f"{t:+d}" if t else "0" for t in ticks], fontsize=9, color=INK)
    axes.set_ylabel("stops (EV) from the first channel's clip", fontsize=10, color=INK)
    for side in ("top", "right", "bottom"):
        axes.spines[side].set_visible(False)
    axes.spines["left"].set_color(PALE)
    for tick in ticks:
        axes.plot(_COLUMN, [tick, tick], color="white", linewidth=0.8, zorder=1.5)


def _legend(axes: Axes, shown: Scale) -> None:
    from matplotlib.lines import Line2D

    kinds = [kind for kind in VERDICTS if any(s.kind == kind for s in shown.spots)]
    handles = [
        Line2D(
            [],
            [],
            marker=VERDICTS[kind][0],
            color=VERDICTS[kind][1],
            markerfacecolor=VERDICTS[kind][2],
            linestyle="none",
            markersize=7,
            markeredgewidth=1.6,
            label=VERDICTS[kind][3],
        )
        for kind in kinds
    ]
    axes.legend(
        handles=handles,
        loc="upper center",
        bbox_to_anchor=(0.5, -0.01),
        ncols=len(handles),
        frameon=False,
        fontsize=9,
    )
