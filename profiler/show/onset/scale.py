"""A placed scene drawn on one vertical scale of stops."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from profiler.onset.place import Placed
from profiler.onset.placement import Landing
from profiler.show.channels import colour_name
from profiler.show.onset.scale_layout import lanes, spread
from profiler.show.onset.text import number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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


@dataclass(frozen=True, kw_only=True)
class Tag:
    """A label that stands at a height in stops over clip."""

    at: float
    text: str
    bold: bool = False


def scale(placed: Placed, title: str = "") -> Figure:
    """Return a figure: clip of each channel, aim, metered grey, floor at the left; spots right."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE_IN, dpi=110)
    axes = figure.add_axes((0.11, 0.09, 0.86, 0.81))
    low, high = reach(placed)
    axes.set_ylim(low, high)
    axes.set_xlim(0.0, 1.0)
    _body(axes, placed, low, high)
    gap = (high - low) * _LINE_HEIGHT_PT / (0.81 * _SIZE_IN[1] * 72.0)
    _left(axes, placed, gap, low, high)
    _right(axes, placed, gap, low, high)
    _frame(axes, low, high)
    figure.text(0.03, 0.955, title or f"ISO {placed.iso}, {placed.light}", fontsize=13, color=INK)
    figure.text(0.03, 0.925, _subtitle(placed), fontsize=9, color=PALE)
    _legend(axes, placed)
    return figure


def reach(placed: Placed) -> tuple[float, float]:
    """Return the lowest and highest stop over clip that the scale shows."""
    spots = _landings(placed)
    heights = [-spot.below_clip_ev.low for spot in spots]
    depths = [-spot.below_clip_ev.high for spot in spots]
    floors = [-value for value in placed.floor_below_clip_ev.values()] or [-8.0]
    top = max([*heights, *placed.channel_clip_ev.values(), 0.0]) + 0.8
    bottom = min([*depths, min(floors), -placed.aim_stops]) - 0.8
    return bottom, top


def save_scale(placed: Placed, path: Path, title: str = "", *, replace: bool = True) -> None:
    """Write the picture as PNG, PDF or SVG, by the ending of `path`; whole or not at all."""
    from profiler.errors import GreytareError
    from profiler.files.whole import write_whole

    kind = path.suffix.lower().lstrip(".")
    if kind not in ("png", "pdf", "svg"):
        raise GreytareError(
            f"a picture can't be written as {path.suffix or 'a file without an ending'}",
            str(path),
            "End its name in .png, .pdf or .svg",
        )
    buffer = io.BytesIO()
    scale(placed, title).savefig(buffer, format=kind)
    write_whole(path, buffer.getvalue(), replace=replace)


def alt_text(placed: Placed) -> str:
    """Return what the picture shows, for those who can't see it."""
    from profiler.show.onset.place import headline

    return f"Scale of stops at ISO {placed.iso}. {headline(placed)}"


def _landings(placed: Placed) -> list[Landing]:
    return [*placed.spots, *([] if placed.key is None else [placed.key])]


def _body(axes: Axes, placed: Placed, low: float, high: float) -> None:
    """What the body holds as a column, hatched where it is lost."""
    left, right = _COLUMN
    floor10 = -placed.floor_below_clip_ev.get("10", -low)
    floor1 = -placed.floor_below_clip_ev.get("1", -low)
    axes.fill_between([left, right], floor10, 0.0, color=BODY, linewidth=0)
    axes.fill_between(
        [left, right], 0.0, high, facecolor="white", edgecolor=PALE, hatch="xxx", linewidth=0.0
    )
    if placed.floor_below_clip_ev:
        axes.fill_between(
            [left, right],
            max(floor1, low),
            floor10,
            facecolor="white",
            edgecolor=PALE,
            hatch="...",
            linewidth=0.0,
        )
    if placed.linear_below_clip_ev is not None:
        axes.fill_between(
            [left, right],
            -placed.linear_below_clip_ev,
            0.0,
            facecolor=BODY,
            edgecolor=PALE,
            hatch="///",
            linewidth=0.0,
        )
    for x in _COLUMN:
        axes.plot([x, x], [low, high], color=PALE, linewidth=0.8)
    axes.plot(_COLUMN, [0.0, 0.0], color=INK, linewidth=2.4)


def _left(axes: Axes, placed: Placed, gap: float, low: float, high: float) -> None:
    """Clip per channel, aim, metered grey, floor, with their names."""
    tags = [*_clip_tags(placed), *_grey_tags(placed)]
    floors = placed.floor_below_clip_ev
    if "10" in floors:
        tags.append(Tag(at=-floors["10"], text="floor, SNR 10"))
        tags.append(Tag(at=-floors["1"], text="SNR 1"))
    if placed.linear_below_clip_ev is not None:
        tags.append(Tag(at=-placed.linear_below_clip_ev, text="straight line ends"))
    heights = spread([tag.at for tag in tags], gap, low + 0.5 * gap, high - 0.5 * gap)
    for tag, height in zip(tags, heights, strict=True):
        axes.plot(
            [_NAME_X + 0.01, _COLUMN[0] - 0.02, _COLUMN[0]],
            [height, tag.at, tag.at],
            color=PALE,
            linewidth=0.8,
        )
        axes.plot(_COLUMN, [tag.at, tag.at], color=INK, linewidth=0.9)
        axes.text(
            _NAME_X,
            height,
            tag.text,
            ha="right",
            va="center",
            fontsize=9,
            color=INK,
            fontweight="bold" if tag.bold else "normal",
        )


def _clip_tags(placed: Placed) -> list[Tag]:
    """Clips of the channels; greens that agree and channels that clip together share a label."""
    least = "" if placed.clip_seen else " at least"
    found: dict[float, list[str]] = {}
    for name, over in sorted(placed.channel_clip_ev.items(), key=lambda item: item[1]):
        at = next((known for known in found if abs(known - over) < 0.05), over)
        found.setdefault(at, []).append(colour_name(name))
    tags = []
    for at, names in found.items():
        words = " and ".join(dict.fromkeys(names))
        verb = "clip" if len(set(names)) > 1 else "clips"
        tags.append(Tag(at=at, text=f"{words} {verb}{least}", bold=at == 0.0))
    return tags


def _grey_tags(placed: Placed) -> list[Tag]:
    """The aim, and where the meter alone would put the grey."""
    tags = [Tag(at=-placed.aim_stops, text="aim")]
    landing = placed.key or (placed.spots[0] if placed.spots else None)
    if landing is None:
        return tags
    metered = -(landing.below_clip_ev.value + landing.placement_ev)
    if abs(metered + placed.aim_stops) < 0.05:
        return [Tag(at=-placed.aim_stops, text="aim, metered grey")]
    return [*tags, Tag(at=metered, text="metered grey")]


def _right(axes: Axes, placed: Placed, gap: float, low: float, high: float) -> None:
    """The spots with their 95 % intervals, those that crowd side by side."""
    spots = sorted(_landings(placed), key=lambda spot: spot.below_clip_ev.value)
    at = [-spot.below_clip_ev.value for spot in spots]
    heights = spread(at, gap, low + 0.5 * gap, high - 0.5 * gap)
    for spot, y, height, lane in zip(spots, at, heights, lanes(at, 1.6 * gap, _LANES), strict=True):
        marker, colour, face, _ = VERDICTS[_kind(spot)]
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
            yerr=[[y + spot.below_clip_ev.high], [-spot.below_clip_ev.low - y]],
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


def _kind(spot: Landing) -> str:
    if spot.highlight != "safe":
        return spot.highlight
    return {"below": "below", "in doubt": "in doubt"}.get(spot.shadow, "safe")


def _words(spot: Landing) -> str:
    """Name, distance to clip, verdict where it isn't safe; long names are cut."""
    name = spot.name if len(spot.name) <= 20 else f"{spot.name[:19]}…"
    distance = number(0.0 - spot.below_clip_ev.value, 1)
    signed = distance if distance.startswith("-") or float(distance) == 0.0 else f"+{distance}"
    kind = _kind(spot)
    return f"{name}  {signed}" + ("" if kind == "safe" else f"  {VERDICTS[kind][3]}")


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


def _subtitle(placed: Placed) -> str:
    setting = placed.given.setting
    exposure = {"aim": "key put on the aim", "meter": "as the meter asks for the key"}
    words = setting.label if setting is not None else exposure[placed.given.rule]
    return f"{words}; bars are 95 % intervals, for spots as neutral as the grey card"


def _legend(axes: Axes, placed: Placed) -> None:
    from matplotlib.lines import Line2D

    kinds = [kind for kind in VERDICTS if any(_kind(s) == kind for s in _landings(placed))]
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
