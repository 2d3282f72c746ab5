"""Points of a response as numbers, for the script that draws them."""

from __future__ import annotations

from typing import Any, Final

from profiler.follow.records import Growing
from profiler.results import Result


def plot_of(found: Result, true_headroom_ev: float | None = None) -> dict[str, Any]:
    """Return points, lines and residuals of a result.

    Levels in DN above black, placements in EV. true_headroom_ev: what a simulation knows.
    """
    channels = {
        name: {
            "points": [
                [frame.placement_ev, frame.level_dn[name] - channel.black_dn, frame.used]
                for frame in found.frames
            ],
            "metered": channel.metered_dn,
            "span": channel.clip_dn - channel.black_dn,
        }
        for name, channel in found.channels.items()
    }
    shown = {
        "iso": found.iso,
        "channels": channels,
        "residuals": [
            [frame.placement_ev, frame.residual_ev, frame.used]
            for frame in found.frames
            if frame.residual_ev is not None
        ],
        "order": [
            [i, frame.residual_ev, frame.used]
            for i, frame in enumerate(found.frames, start=1)
            if frame.residual_ev is not None
        ],
        "scatter": found.frame_scatter_ev,
        "headroom": found.clip_headroom_ev.value,
        "aim": found.aim_stops,
        "seen": not found.clip_headroom_ev.lower_bound,
    }
    return shown if true_headroom_ev is None else shown | {"true_headroom": true_headroom_ev}


_ROOM: Final = 1.25
"""The drawing's range over the brightest level, until clip was seen."""


def plot_data(growing: Growing) -> dict[str, Any] | None:
    """Return the label that the newest frame belongs to, levels in DN above black, or None."""
    drawn = [label for label in growing.labels if label.metered_dn]
    if not drawn:
        return None
    label = next((each for each in drawn if each.holds(growing.latest)), drawn[-1])
    return {
        "title": f"ISO {label.iso}",
        "channels": {
            name: {
                "points": [
                    [
                        point.placement_ev,
                        point.level_dn[name],
                        not point.clipped,
                        point.file == growing.latest,
                    ]
                    for point in label.points
                ],
                "metered": metered,
                "span": label.clip_dn.get(name)
                or _ROOM * max(point.level_dn[name] for point in label.points),
            }
            for name, metered in label.metered_dn.items()
        },
        "headroom": label.headroom_ev,
        "seen": label.headroom_ev is not None,
    }
