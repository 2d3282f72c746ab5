"""What each ISO label holds as bars: floor, metered grey, aim, clip with its interval."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from profiler.records import Estimate, opposite
from profiler.results import ProfileData, Result
from profiler.show import words
from profiler.show.marks import Bar, Bars

_LOWEST: Final = -8.0
_ROOM: Final = 0.6
READ: Final = (
    "Filled: from the floor (SNR 10) up to clip. Thin line: the metered grey. Triangle: where it "
    "should land. Thick line: clip, darker its 95 % interval."
)


def bars_of(profile: ProfileData) -> Bars:
    """Return a bar per result, all on one scale of stops over the metered grey."""
    several = len({result.mode for result in profile.results}) > 1
    bars = tuple(_bar(result, by_mode=several) for result in profile.results)
    said = "; ".join(f"{bar.name}: {bar.text}" for bar in bars)
    return Bars(
        title=f"What each ISO label holds. {said}", low=low(bars), high=high(bars), bars=bars
    )


def low(bars: tuple[Bar, ...]) -> float:
    """Return the lowest stop that a scale of these bars shows."""
    ends = [bar.floor for bar in bars if bar.floor is not None] or [_LOWEST]
    return min([*ends, *(tick for bar in bars for tick in bar.ticks), -1.0]) - _ROOM


def high(bars: tuple[Bar, ...]) -> float:
    """Return the highest stop that a scale of these bars shows."""
    ends = [end for bar in bars for end in (bar.clip_high, bar.clip, *bar.ticks)]
    return max([*ends, 1.0]) + _ROOM


def _bar(result: Result, *, by_mode: bool) -> Bar:
    clip, foot = result.clip_headroom_ev, result.footroom_ev
    floor = None if foot is None else 0.0 - foot.snr10.value
    below = "floor not measured" if foot is None else f"floor {_floor_words(foot.snr10)}"
    return Bar(
        name=f"ISO {result.iso}{f', {result.mode}' if by_mode else ''}",
        text=f"clip {words.signed(clip)}, {below}",
        floor=floor,
        clip=clip.value,
        clip_low=clip.low,
        clip_high=clip.high,
        at_least=clip.lower_bound,
        aim=None if clip.lower_bound else clip.value - result.aim_stops,
    )


def _floor_words(footroom: Estimate) -> str:
    """The floor beside the grey; where footroom is a bound the floor lies there or below."""
    beside = replace(opposite(footroom), lower_bound=False)
    return f"{words.signed(beside)}{' or below' if footroom.lower_bound else ''}"
