"""What a picture shows, as plain numbers and words, whoever draws it."""

from __future__ import annotations

from dataclasses import dataclass
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
