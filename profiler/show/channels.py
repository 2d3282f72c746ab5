"""Colour channels in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from profiler.records import Estimate

_COLOURS: Final = {
    "R": "red",
    "G": "green",
    "G1": "green",
    "G2": "green",
    "B": "blue",
    "Y": "the sensor",
}
_ROWS: Final = {"G1": " (rows of red)", "G2": " (rows of blue)"}


def colour_name(channel: str) -> str:
    """Return a channel's colour; a name that isn't known stands as it is."""
    return _COLOURS.get(channel, channel)


def counted(channel: str) -> str:
    """Return a channel's colour, capitalised; two greens are counted."""
    name = colour_name(channel).capitalize()
    return f"{name} {channel[-1]}" if channel in _ROWS else name


def with_rows(channel: str) -> str:
    """Return the same, with the rows that a green shares."""
    return counted(channel) + _ROWS.get(channel, "")


def colours(channels: Sequence[str]) -> str:
    """Return channels in words, each colour once: `green, red`."""
    return ", ".join(dict.fromkeys(colour_name(name) for name in channels))


def pooled(channels: Mapping[str, Estimate]) -> dict[str, Estimate]:
    """Return the channels with two greens that agree to 0.05 EV shown as one."""
    if not {"G1", "G2"} <= channels.keys():
        return dict(channels)
    one, two = channels["G1"], channels["G2"]
    if abs(one.value - two.value) >= 0.05:
        return dict(channels)
    least = min(one, two, key=lambda each: each.value)
    return {
        ("G" if name == "G1" else name): (least if name == "G1" else each)
        for name, each in channels.items()
        if name != "G2"
    }
