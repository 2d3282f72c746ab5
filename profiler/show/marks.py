"""What a picture shows, as plain numbers and words, whoever draws it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["safe", "in doubt", "clipped", "below"]


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A line with its name at a height in stops."""

    at: float
    text: str
    strong: bool = False


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A point with its 95 % interval low..high; its height and verdict in words, none for safe."""

    name: str
    at: float
    low: float
    high: float
    kind: Kind
    height: str
    verdict: str


@dataclass(frozen=True, kw_only=True)
class Scale:
    """A vertical scale of stops over the first channel's clip, from low to high.

    floor10, floor1: heights of SNR 10 and 1; linear: where the straight line ends; None where they
    aren't known. title: what it shows, for those who can't see it; heading and subtitle stand over
    it.
    """

    title: str
    heading: str
    subtitle: str
    low: float
    high: float
    floor10: float | None
    floor1: float | None
    linear: float | None
    marks: tuple[Mark, ...]
    spots: tuple[Spot, ...]


@dataclass(frozen=True, kw_only=True)
class Bar:
    """What a body holds at one ISO label, in stops over the metered grey, which is at 0.

    floor: of SNR 10, None where it isn't known. clip: of the first channel, with its 95 %
    interval; at_least: clip was not seen, it lies there or above. aim: where the grey should land.
    ticks: frames that are planned.
    """

    name: str
    text: str
    floor: float | None
    clip: float
    clip_low: float
    clip_high: float
    at_least: bool
    aim: float | None
    ticks: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Bars:
    """A bar per ISO label on one scale of stops from low to high; title: all of it in words."""

    title: str
    low: float
    high: float
    bars: tuple[Bar, ...]


@dataclass(frozen=True, kw_only=True)
class Step:
    """A mark of a dial at a place in stops of exposure, more to the right."""

    at: float
    text: str
    chosen: bool = False


@dataclass(frozen=True, kw_only=True)
class Strip:
    """Marks of a dial around the chosen one; wanted: where the exact setting lies between them.

    rest: what the chosen mark leaves over, in words.
    """

    title: str
    low: float
    high: float
    steps: tuple[Step, ...]
    wanted: float
    rest: str


@dataclass(frozen=True, kw_only=True)
class Stack:
    """One sum of light: its parts with their names, amounts in one unit."""

    name: str
    parts: tuple[tuple[str, float], ...]


@dataclass(frozen=True, kw_only=True)
class Stacks:
    """Sums of light one below the other, drawn to one scale."""

    title: str
    stacks: tuple[Stack, ...] = field(default_factory=tuple)


Picture = Bars | Strip | Stacks
