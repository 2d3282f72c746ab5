"""Words that all answers on set share: stops with their margin, channels, tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from profiler.show.channels import colour_name

if TYPE_CHECKING:
    from profiler.onset.guards import Guard
    from profiler.records import Estimate

INTERVALS = "± is half a 95 % interval. Stops and EV are the same thing; more means more exposure."


def number(value: float, places: int) -> str:
    """Return a number without a minus before zero."""
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def margin(estimate: Estimate) -> str:
    """Return `0.6 ± 0.2`: size with half the interval, rounded alike; a bound says so."""
    from profiler.fitting.budget import decimals

    half = 0.5 * (estimate.high - estimate.low)
    places = decimals(half)
    bound = "at least " if estimate.lower_bound else ""
    return f"{bound}{number(abs(estimate.value), places)} ± {max(half, 10.0**-places):.{places}f}"


def stops(estimate: Estimate, over: str, under: str) -> str:
    """Return `0.6 ± 0.2 stop below clip`, the sign in words."""
    size = abs(estimate.value)
    unit = "stop" if size < 1.05 else "stops"
    return f"{margin(estimate)} {unit} {over if estimate.value >= 0.0 else under}"


def amount(ev: float, more: str = "more", less: str = "less") -> str:
    """Return `0.3 stop more`: an exact rest in tenths, its sign in words."""
    size = f"{abs(ev):.1f}"
    if size == "0.0":
        return "nothing"
    return f"{size} {'stop' if float(size) <= 1.0 else 'stops'} {more if ev > 0.0 else less}"


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


def colours(channels: Sequence[str]) -> str:
    """Return channels in words, each colour once: `green, red`."""
    return ", ".join(dict.fromkeys(colour_name(name) for name in channels))


def facts(rows: Sequence[tuple[str, str]]) -> list[str]:
    """Return pairs of name and text as indented, aligned lines; empty texts are left out."""
    shown = [(name, text) for name, text in rows if text]
    width = max((len(name) for name, _ in shown), default=0)
    return [f"  {name:<{width}}  {text}" for name, text in shown]


def table(rows: Sequence[Sequence[str]], left: int = 1) -> list[str]:
    """Return rows as aligned columns, the first `left` of them and the last to the left."""
    last = len(rows[0]) - 1
    widths = [max(len(row[i]) for row in rows) for i in range(last + 1)]
    lines = []
    for row in rows:
        cells = [
            cell.ljust(width) if i < left or i == last else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append(("  " + "  ".join(cells)).rstrip())
    return lines


def guard_lines(guards: Sequence[Guard]) -> list[str]:
    """Return what to look out for, `!` before what should be changed."""
    return [f"  {'!' if guard.warns else '-'} {guard.text}" for guard in guards]
