"""The named spots of a scene, an unchanging list that edits give anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Self

from profiler.errors import ExposureError
from profiler.onset.metered import AVERAGES, Average, Metered, read_meter_texts
from profiler.records import Meter


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A named part of the scene with what the meter showed there, once or more often."""

    name: str
    texts: tuple[str, ...]
    average: Average = "stops"

    def metered(self, mode: str, meter: Meter) -> Metered:
        """Return what its readings asked for."""
        where = f"spot {self.name!r}:"
        return read_meter_texts(self.texts, mode, meter, average=self.average, where=where)


def parse_spot(text: str, average: Average = "stops") -> Spot:
    """Return the spot in `white shirt=EV 14.3`, several readings separated by semicolons.

    >>> parse_spot("wall=EV 10.1; EV 10.9").texts
    ('EV 10.1', 'EV 10.9')
    """
    if average not in AVERAGES:
        raise ValueError(f"average must be one of {', '.join(AVERAGES)}, not {average!r}")
    name, _, readings = text.partition("=")
    name = " ".join(name.split())
    texts = tuple(part.strip() for part in readings.split(";") if part.strip())
    example = 'Write a name, "=" and what the meter showed, such as "hair=EV 8.1"'
    if not name:
        raise ExposureError("the spot has no name", f"spot {text!r}", example)
    if not texts:
        raise ExposureError("it has no reading", f"spot {name!r}", example)
    return Spot(name=name, texts=texts, average=average)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """Spots in the order in which they are shown.

    >>> [spot.name for spot in Scene().add("wall=EV 10.1").add("hair=EV 8.1")]
    ['wall', 'hair']
    """

    spots: tuple[Spot, ...] = ()

    def __post_init__(self) -> None:
        names = [spot.name for spot in self.spots]
        for name in names:
            if names.count(name) > 1:
                raise ExposureError(
                    f"two spots are called {name!r}",
                    "the scene",
                    "Give each a name, or write several readings of one as EV 10.1; EV 10.9",
                )

    def __iter__(self) -> Iterator[Spot]:
        return iter(self.spots)

    def __len__(self) -> int:
        return len(self.spots)

    def add(self, text: str, average: Average = "stops") -> Self:
        """Return the scene with one more spot, written as `name=reading`."""
        return replace(self, spots=(*self.spots, parse_spot(text, average)))

    def named(self, name: str) -> Spot:
        """Return the spot of a name; ExposureError where there is none."""
        for spot in self.spots:
            if spot.name == name:
                return spot
        known = ", ".join(spot.name for spot in self.spots) or "none"
        raise ExposureError(
            f"there is no spot {name!r}", "the scene", f"Name one of the spots: {known}"
        )
