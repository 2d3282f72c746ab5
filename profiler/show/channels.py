"""Colour channels in words."""

from __future__ import annotations

from typing import Final

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
