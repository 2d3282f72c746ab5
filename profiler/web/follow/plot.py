"""The points of a growing series as numbers, for the script that draws them."""

from __future__ import annotations

from typing import Any, Final

from profiler.follow.records import Growing, GrowingLabel

_ROOM: Final = 1.25
"""The drawing's range over the brightest level, until clip was seen."""


def plot_data(growing: Growing) -> dict[str, Any] | None:
    """Return the label that the newest frame belongs to, levels in DN above black, or None."""
    drawn = [label for label in growing.labels if label.metered_dn]
    if not drawn:
        return None
    label = next((each for each in drawn if _holds(each, growing.latest)), drawn[-1])
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


def _holds(label: GrowingLabel, file: str) -> bool:
    return any(point.file == file for point in label.points)
