"""The named spots of a scene."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

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


def scene_of(spots: Iterable[Spot | str], average: Average = "stops") -> tuple[Spot, ...]:
    """Return the spots, texts among them read; ExposureError where two share a name."""
    found = tuple(each if isinstance(each, Spot) else parse_spot(each, average) for each in spots)
    names = [spot.name for spot in found]
    for name in names:
        if names.count(name) > 1:
            raise ExposureError(
                f"two spots are called {name!r}",
                "the scene",
                "Give each a name, or write several readings of one as EV 10.1; EV 10.9",
            )
    return found
