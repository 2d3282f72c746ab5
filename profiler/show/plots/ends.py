"""Picture of the clip: each channel's last stops before it saturates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from profiler.show.channels import counted
from profiler.show.plots import style
from profiler.show.plots.levels import case_name

if TYPE_CHECKING:
    from matplotlib.figure import Figure, FigureBase

    from profiler.results import ProfileData, Result

_HEIGHT_IN = 3.2
_STOPS_BELOW, _STOPS_ABOVE = 2.0, 1.0


def clip(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return level in per cent of clip over placement, near clip, per channel."""
    return style.stacked([result] if result else profile.results, _HEIGHT_IN, _draw)


def _draw(place: FigureBase, result: Result) -> None:
    (axes,) = style.panels(place, (1.0,), _HEIGHT_IN)
    seen = all(channel.clip_seen for channel in result.channels.values())
    headroom = [channel.headroom_ev for channel in result.channels.values()]
    low, high = min(headroom) - _STOPS_BELOW, max(headroom) + _STOPS_ABOVE
    frames = [f for f in result.frames if low <= f.placement_ev <= high]
    x = np.array([f.placement_ev for f in frames])
    for name, channel in result.channels.items():
        colour, marker, line = style.look(name)
        bound = "" if channel.clip_seen else "over "
        span = channel.clip_dn - channel.black_dn
        end = high if channel.clip_seen else channel.headroom_ev
        grid = np.linspace(low, end, 121)
        percent = 100.0 * channel.metered_dn * np.exp2(grid) / span
        axes.plot(
            grid,
            np.minimum(percent, 100.0),
            line,
            color=colour,
            linewidth=1.3,
            marker=marker,
            markevery=[],
            markersize=4.5,
            label=f"{counted(name)}: {bound}{channel.headroom_ev:.2f}",
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
