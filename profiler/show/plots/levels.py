"""Pictures of the response: levels against placement, near clip too, and off the line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from profiler.show.calibration.identity import full_name
from profiler.show.calibration.result import headline
from profiler.show.plots import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure, FigureBase
    from numpy.typing import NDArray

    from profiler.results import ProfileData, Result

_HIGH_IN, _LOW_IN = 4.7, 2.5


def response(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return levels against placement with the residuals below, of one result or of all."""
    return style.stacked([result] if result else profile.results, _HIGH_IN, _draw_both)


def residuals(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return how far each frame lies off the line in the order of shooting."""
    return style.stacked([result] if result else profile.results, _LOW_IN, _draw_order)


def _draw_both(place: FigureBase, result: Result) -> None:
    above, below = style.panels(place, (3.0, 1.1), _HIGH_IN)
    draw_response(above, result)
    draw_residuals(below, result)
    above.set_xlabel("")
    style.title(above, f"Response, {case_name(result)}")


def draw_response(axes: Axes, result: Result) -> None:
    """Draw levels against placement, the fitted line, clip per channel, grey and aim."""
    x = np.array([frame.placement_ev for frame in result.frames])
    used = np.array([frame.used for frame in result.frames], dtype=bool)
    low, high = float(x.min()) - 0.5, float(x.max()) + 0.5
    for name, channel in result.channels.items():
        colour, marker, _ = style.look(name)
        level = np.array([frame.level_dn[name] for frame in result.frames]) - channel.black_dn
        on = level > 0.0
        span = channel.clip_dn - channel.black_dn
        # a straight line up to clip, then flat; nobody knows how it goes on where none was seen
        end = max(high, channel.headroom_ev) if channel.clip_seen else channel.headroom_ev
        grid = np.array([low, channel.headroom_ev, end])
        style.line(axes, name, grid, np.minimum(channel.metered_dn * np.exp2(grid), span), "")
        for mask, face in ((used & on, colour), (~used & on, style.PAPER)):
            axes.plot(
                x[mask], level[mask], marker, color=colour, markerfacecolor=face, markersize=4.5
            )
    draw_landmarks(axes, result)
    axes.set_yscale("log", base=2)
    axes.yaxis.set_major_formatter(style.whole_number)
    axes.minorticks_off()
    style.label(
        axes,
        x="placement: stops above what the meter asked for (EV)",
        y="level above black, DN",
    )
    axes.set_xlim(low, high)
    # room for the legend
    axes.set_ylim(top=4.0 * max(c.clip_dn - c.black_dn for c in result.channels.values()))
    style.legend(axes, heading=None if used.all() else "filled: on the line")


def draw_landmarks(axes: Axes, result: Result) -> None:
    """Draw metered grey, aim and clip of the first channel as named upright lines."""
    first = first_channel(result)
    clip = result.channels[first].headroom_ev
    aim = clip - result.aim_stops
    axes.axvline(0.0, color=style.PALE, linewidth=1.0)
    axes.axvline(clip, color=style.INK, linewidth=1.2, linestyle=style.DASH["clip"])
    axes.axvline(aim, color=style.PALE, linewidth=1.2, linestyle=style.DASH["aim"])
    words = f"{result.first_to_clip} clips" if result.channels[first].clip_seen else "no clip seen"
    style.upright(axes, clip, words, "left")
    style.upright(axes, 0.0, "metered grey", "right" if aim <= 0.0 else "left")
    style.upright(axes, aim, "aim", "left" if aim <= 0.0 else "right")


def draw_residuals(axes: Axes, result: Result) -> None:
    """Draw how far each frame lies off the line, in EV, against its placement."""
    shown = [frame for frame in result.frames if frame.residual_ev is not None]
    x = np.array([frame.placement_ev for frame in shown])
    _draw_off(axes, result, x)
    style.label(
        axes, x="placement: stops above what the meter asked for (EV)", y="off the line, EV"
    )


def _draw_order(place: FigureBase, result: Result) -> None:
    (axes,) = style.panels(place, (1.0,), _LOW_IN)
    draw_order(axes, result)
    style.title(axes, f"Residuals, {case_name(result)}")


def draw_order(axes: Axes, result: Result) -> None:
    """Draw how far each frame lies off the line, in EV, in the order of shooting."""
    numbers = [i + 1 for i, f in enumerate(result.frames) if f.residual_ev is not None]
    _draw_off(axes, result, np.array(numbers, dtype=np.float64))
    axes.locator_params(axis="x", integer=True)
    style.label(axes, x="frame, counted in the order of the files", y="off the line, EV")


def _draw_off(axes: Axes, result: Result, x: NDArray[np.float64]) -> None:
    """Residuals over x: kept frames as dots, frames left out as crosses, slips by name."""
    shown = [frame for frame in result.frames if frame.residual_ev is not None]
    y = np.array([frame.residual_ev or 0.0 for frame in shown])
    used = np.array([frame.used for frame in shown], dtype=bool)
    scatter = result.frame_scatter_ev
    axes.axhspan(-scatter, scatter, color=style.BAND, linewidth=0)
    axes.axhline(0.0, color=style.PALE, linewidth=1.0)
    axes.plot(x[used], y[used], "o", color=style.INK, markersize=4)
    axes.plot(x[~used], y[~used], "x", color=style.ALARM, markersize=6, markeredgewidth=1.8)
    reach = max(0.1, 1.3 * float(np.max(np.abs(y), initial=0.0)), 2.5 * scatter)
    style.even(axes, reach)
    if x.size == 0:
        return
    middle = 0.5 * (float(x.min()) + float(x.max()))
    for at, height, frame in zip(x, y, shown, strict=True):
        if "slip" in frame.flags:
            style.note(
                axes,
                short(frame.file),
                at,
                height,
                xytext=(-6 if at > middle else 6, 0),
                textcoords="offset points",
                ha="right" if at > middle else "left",
                va="center",
            )


def case_name(result: Result) -> str:
    """Return ISO label, mode and light."""
    return f"ISO {result.iso}, {result.mode}, {result.light}"


def first_channel(result: Result) -> str:
    """Return the channel that clips first by its own name, also where two greens are pooled."""
    if result.first_to_clip in result.channels:
        return result.first_to_clip
    greens = [name for name in result.channels if name.startswith(result.first_to_clip)]
    return min(greens or result.channels, key=lambda name: result.channels[name].headroom_ev)


def short(file: str) -> str:
    """Return a file's name as it fits into a picture."""
    name = file.rpartition("/")[2].rpartition(".")[0] or file
    return name if len(name) <= 16 else f"…{name[-15:]}"


def alt_text(result: Result) -> str:
    """Return what the picture of a result shows, for those who can't see it."""
    return f"Raw level against exposure at ISO {result.iso}. {headline(result)}"


def overview(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return one figure: a column per result with response above residuals, clip marked."""
    from matplotlib.figure import Figure

    results = [result] if result else profile.results
    figure = Figure(figsize=(max(7.0, 4.9 * len(results)), 7.4), layout="constrained", dpi=110)
    axes = figure.subplots(
        2, len(results), squeeze=False, height_ratios=(3.0, 1.0), sharex="col", sharey="row"
    )
    for k, each in enumerate(results):
        for part in axes[:, k]:
            style.plain(part)
        draw_response(axes[0, k], each)
        draw_residuals(axes[1, k], each)
        axes[0, k].set_xlabel("")
        style.title(axes[0, k], case_name(each))
        if k:
            axes[0, k].set_ylabel("")
            axes[1, k].set_ylabel("")
    camera = full_name(profile.camera.make, profile.camera.model) or "Camera"
    figure.suptitle(
        style.literal(f"{camera}: raw level against exposure"), fontsize=13, color=style.INK
    )
    return figure


_CLIP_IN = 3.2
_STOPS_BELOW, _STOPS_ABOVE = 2.0, 1.0


def clip(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return level in per cent of clip over placement, near clip, per channel."""
    return style.stacked([result] if result else profile.results, _CLIP_IN, _draw_clip)


def _draw_clip(place: FigureBase, result: Result) -> None:
    (axes,) = style.panels(place, (1.0,), _CLIP_IN)
    seen = all(channel.clip_seen for channel in result.channels.values())
    headroom = [channel.headroom_ev for channel in result.channels.values()]
    low, high = min(headroom) - _STOPS_BELOW, max(headroom) + _STOPS_ABOVE
    frames = [f for f in result.frames if low <= f.placement_ev <= high]
    x = np.array([f.placement_ev for f in frames])
    for name, channel in result.channels.items():
        colour, marker, _ = style.look(name)
        bound = "" if channel.clip_seen else "over "
        span = channel.clip_dn - channel.black_dn
        end = high if channel.clip_seen else channel.headroom_ev
        grid = np.linspace(low, end, 121)
        percent = 100.0 * channel.metered_dn * np.exp2(grid) / span
        style.line(
            axes, name, grid, np.minimum(percent, 100.0), f": {bound}{channel.headroom_ev:.2f}"
        )
        level = np.array([f.level_dn[name] for f in frames]) - channel.black_dn
        axes.plot(x, 100.0 * level / span, marker, color=colour, markersize=4.0)
    linear = result.linear_headroom_ev
    if not linear.lower_bound:
        axes.axvline(linear.value, color=style.PALE, linewidth=1.2, linestyle=style.DASH["aim"])
        style.upright(axes, linear.value, "straight line ends", "left")
    axes.axhline(100.0, color=style.INK, linewidth=1.0, linestyle=style.DASH["clip"])
    axes.set_xlim(low, high)
    axes.set_ylim(0.0, 112.0)
    style.label(
        axes,
        x="placement: stops above what the meter asked for (EV)",
        y=f"level above black, % of {'clip' if seen else 'the highest'}",
    )
    style.title(axes, f"Clip, {case_name(result)}")
    style.legend(axes, "lower right", "clips at, EV above the grey")
