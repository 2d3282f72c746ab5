"""Named spots of a scene, with where each lands: from grey, from each clip, from the floor."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from profiler.errors import ExposureError
from profiler.onset import margins
from profiler.onset.metered import AVERAGES, Average, Metered, read_meter_texts
from profiler.records import Estimate, Meter
from profiler.results import Result


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A named part of the scene with what the meter showed there, once or more often."""

    name: str
    texts: tuple[str, ...]
    average: Average = "stops"

    def metered(self, mode: str, meter: Meter, held: Sequence[str] = ()) -> Metered:
        """Return what its readings asked for; held as in read_meter_texts."""
        where = f"spot {self.name!r}:"
        return read_meter_texts(
            self.texts, mode, meter, average=self.average, where=where, held=held
        )


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


Highlight = Literal["safe", "in doubt", "clipped"]
Shadow = Literal["clear", "in doubt", "below", "not measured"]
Verdict = Literal["safe", "in doubt", "clipped", "below"]


@dataclass(frozen=True, kw_only=True)
class Landing:
    """One spot in the frame; distances in stops with their 95 % intervals.

    placement_ev: above what its own mode's metered level is (0: an exposure as metered for this
    spot). below_clip_ev: to the first channel's clip, negative beyond it; channels: to each one's,
    for a spot as neutral as the calibration's card. above_grey_ev: above the key's subject.
    above_floor_ev: above the level of SNR 10 in the channel that reaches it first. highlight and
    shadow: held against clip and floor; verdict: against both. clipped, doubtful: channels that
    are, or may be, lost.
    """

    name: str
    metered: Metered
    placement_ev: float
    below_clip_ev: Estimate
    channels: Mapping[str, Estimate]
    above_grey_ev: Estimate | None
    above_floor_ev: Estimate | None
    highlight: Highlight
    shadow: Shadow
    verdict: Verdict
    clipped: tuple[str, ...]
    doubtful: tuple[str, ...]


def land_spot(
    name: str, metered: Metered, result: Result, given_ev: float, *, iris: bool
) -> Landing:
    """Return where a reading lands when the camera gives given_ev = log2(N^2/t) + losses.

    x = EV100 + log2(S/100) - given; below clip: headroom - x; above the floor: footroom + x.
    """
    x = metered.ev100 + math.log2(result.iso / 100.0) - given_ev
    new = margins.frame_rows(result, iris=iris) + metered.rows()
    channels = {
        channel: margins.estimate(
            measured.headroom_ev - x,
            margins.profile_rows(result, channel, iris=iris) + new,
            lower_bound=not measured.clip_seen,
        )
        for channel, measured in result.channels.items()
    }
    below_clip = channels[margins.first_channel(result)]
    if result.clip_headroom_ev.lower_bound and not below_clip.lower_bound:
        below_clip = margins.estimate(
            below_clip.value, margins.profile_rows(result, iris=iris) + new, lower_bound=True
        )
    floor = None
    if result.footroom_ev is not None:
        limit = result.footroom_ev.snr10
        rows = margins.floor_rows(result, result.footroom_ev, limit, iris=iris) + new
        floor = margins.estimate(limit.value + x, rows)
    clipped = tuple(c for c, d in channels.items() if verdict(d) == "clipped")
    doubtful = tuple(c for c, d in channels.items() if verdict(d) == "in doubt")
    highlight: Highlight = "clipped" if clipped else "in doubt" if doubtful else "safe"
    return Landing(
        name=name,
        metered=metered,
        placement_ev=x,
        below_clip_ev=below_clip,
        channels=channels,
        above_grey_ev=None,
        above_floor_ev=floor,
        highlight=highlight,
        shadow=shadow(floor),
        verdict=both(highlight, shadow(floor)),
        clipped=clipped,
        doubtful=doubtful,
    )


def verdict(below_clip_ev: Estimate) -> Highlight:
    """Return whether a distance to clip is safe, in doubt (95 % interval over zero) or lost.

    Where clip was not seen the distance is a lower bound: nothing is then called clipped.
    """
    if below_clip_ev.low > 0.0:
        return "safe"
    if below_clip_ev.high < 0.0 and not below_clip_ev.lower_bound:
        return "clipped"
    return "in doubt"


def shadow(above_floor_ev: Estimate | None) -> Shadow:
    """Return whether a distance to the floor is clear of it, in doubt or below."""
    if above_floor_ev is None:
        return "not measured"
    if above_floor_ev.low > 0.0:
        return "clear"
    return "below" if above_floor_ev.high < 0.0 else "in doubt"


def both(highlight: Highlight, dark: Shadow) -> Verdict:
    """Return the verdict at both ends: what is lost goes before what is in doubt.

    >>> both("safe", "below"), both("in doubt", "clear"), both("safe", "not measured")
    ('below', 'in doubt', 'safe')
    """
    if highlight == "clipped":
        return "clipped"
    if dark == "below":
        return "below"
    return "in doubt" if "in doubt" in (highlight, dark) else "safe"


def between(spot: Landing, grey: Landing, spot_result: Result, grey_result: Result) -> Estimate:
    """Return stops that a spot lies above the grey; what both have in common cancels.

    In one mode two readings' errors are left. From an incident key to a spot each mode's metered
    level counts, with the rows of the budget that come from its reading.
    """
    value = grey.below_clip_ev.value - spot.below_clip_ev.value
    rows = spot.metered.rows() + grey.metered.rows()
    if spot_result.mode != grey_result.mode:
        rows += margins.reading_rows(spot_result) + margins.reading_rows(grey_result)
    return margins.estimate(value, rows)
