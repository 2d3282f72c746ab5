"""How far the exposure may move, whether one frame holds the scene, else the bracket that does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from profiler.calibration.fit import budget
from profiler.errors import ExposureError
from profiler.exposure.stops import StopStep
from profiler.onset import margins
from profiler.onset.camera import Shutter
from profiler.onset.placement import Landing
from profiler.onset.times import bracket_shutters, bracket_steps, no_longer, no_shorter
from profiler.records import Estimate, opposite
from profiler.results import Result, Source

_OVERLAP_EV = 1.0
"""Stops in which neighbours of a bracket both hold a spot (common practice, no source)."""
_LEAST_STEP_EV = 1.0 / 3.0


@dataclass(frozen=True, kw_only=True)
class Latitude:
    """Changes of exposure in stops, positive is more, from the setting in use.

    most_ev: at which the highlight just clips; its low end is 95 % safe. least_ev: at which the
    shadow falls to SNR 10; its high end is 95 % safe. None where there is no spot to keep, or no
    floor. contrast_ev: brightest over darkest spot; range_ev: floor to clip of the body.
    margin: why one frame holds both, or doesn't. one_frame: whether some exposure keeps both with
    their margins; shift_ev: the smallest change that does; shutter: the mark for it that still
    keeps both, None where the exposure isn't a camera's or no mark does. bracket_ev: changes of
    the fewest frames that hold the scene together where one can't, empty where one can or where
    nothing is known of the floor, on the steps of the dial and with the exposure in use among them
    where that costs no frame; bracket_shutters: their times, where the camera's is known.
    """

    highlight: str
    shadow: str
    most_ev: Estimate | None
    least_ev: Estimate | None
    contrast_ev: Estimate | None
    range_ev: Estimate | None
    margin: Margin | None
    one_frame: bool | None
    shift_ev: float
    shutter: Shutter | None
    bracket_ev: tuple[float, ...]
    bracket_shutters: tuple[Shutter, ...]


@dataclass(frozen=True, kw_only=True)
class Margin:
    """What one frame must hold, in stops: holds_ev against needs_ev with doubt_ev.

    holds_ev: from SNR 10 up to clip, for these two spots' channels; needs_ev: from shadow up to
    highlight; doubt_ev: half the 95 % intervals of both ends together.
    """

    holds_ev: float
    needs_ev: float
    doubt_ev: float


@dataclass(frozen=True, kw_only=True)
class Dial:
    """The camera's time in use, how the body counts marks, and the steps of its dial.

    time_s: what changes of exposure count from, the shutter's own time or the exact one that it
    stands nearest to.
    """

    shutter: Shutter
    time_s: float
    rule: str
    marks: StopStep

    def change_ev(self, shutter: Shutter) -> float:
        """Return the change of exposure in stops that another time makes."""
        return math.log2(shutter.seconds(self.rule, self.marks) / self.time_s)


def weigh(
    landings: Sequence[Landing],
    result: Result,
    keep: Sequence[str],
    shadows: Sequence[str],
    dial: Dial | None = None,
    marks: StopStep = "third",
) -> Latitude:
    """Return what the exposure may do; keep and shadows name spots, all of them where empty.

    dial: the camera's time, where it is known, so that changes are told as marks of it; else a
    bracket goes in steps of marks.
    """
    bright = _chosen(landings, keep, "keep")
    dark = _chosen(landings, shadows, "shadow")
    top = min(bright, key=lambda spot: _nearest_clip(spot).value)
    most = _nearest_clip(top)
    floors = [(spot, spot.above_floor_ev) for spot in dark if spot.above_floor_ev is not None]
    bottom, least = None, None
    if floors:
        bottom, distance = min(floors, key=lambda pair: pair[1].value)
        least = replace(opposite(distance), lower_bound=False)
    one_frame: bool | None = None
    shift = 0.0
    margin, shutter = None, None
    bracket: tuple[float, ...] = ()
    times: tuple[Shutter, ...] = ()
    if least is not None and bottom is not None:
        needs = top.placement_ev - bottom.placement_ev
        margin = Margin(
            holds_ev=most.value - least.value + needs,
            needs_ev=needs,
            doubt_ev=(most.value - most.low) + (least.high - least.value),
        )
        one_frame = least.high <= most.low
        if one_frame:
            shift = min(max(0.0, least.high), most.low)
            shutter = None if dial is None else _mark_between(dial, least.high, most.low)
        else:
            bracket, times = _bracket(result, most.low, least.high, dial, marks)
    return Latitude(
        highlight=top.name,
        shadow="" if bottom is None else bottom.name,
        most_ev=most,
        least_ev=least,
        contrast_ev=_contrast(landings),
        range_ev=body_range(result),
        margin=margin,
        one_frame=one_frame,
        shift_ev=shift + 0.0,
        shutter=shutter,
        bracket_ev=bracket,
        bracket_shutters=times,
    )


def _mark_between(dial: Dial, lowest: float, highest: float) -> Shutter | None:
    """The time nearest to the one in use whose change lies between the two; None where none does.

    Rounding goes inwards: never beyond what is safe for the highlight or the shadow.
    """
    now = dial.change_ev(dial.shutter)
    if lowest <= now <= highest:
        return dial.shutter
    if highest < now:
        found = no_longer(dial.time_s * 2.0**highest, dial.rule, dial.marks)
    else:
        found = no_shorter(dial.time_s * 2.0**lowest, dial.rule, dial.marks)
    return found if lowest <= dial.change_ev(found) <= highest else None


def body_range(result: Result) -> Estimate | None:
    """Return stops from SNR 10 up to clip of the first channel; the meter's errors cancel.

    headroom + footroom = log2(clip span/floor): of the budget only clip and noise are left.
    """
    footroom = result.footroom_ev
    if footroom is None:
        return None
    clip = [row for row in result.budget if row.source == Source.CLIP]
    line = tuple(row for row in result.budget if row.source != Source.CLIP)
    own = footroom.snr10.u**2 - math.fsum(row.contribution_ev**2 for row in line)
    noise = budget.stated(Source.NOISE, math.sqrt(max(own, 0.0)), "photon transfer")
    value = result.clip_headroom_ev.value + footroom.snr10.value
    return margins.estimate(value, (*clip, noise), lower_bound=result.clip_headroom_ev.lower_bound)


def _nearest_clip(spot: Landing) -> Estimate:
    """The least of the channels' distances to clip."""
    return min(spot.channels.values(), key=lambda distance: distance.value)


def _contrast(landings: Sequence[Landing]) -> Estimate | None:
    """Brightest over darkest; two readings' errors are left."""
    if len(landings) < 2:
        return None
    top = min(landings, key=lambda spot: spot.below_clip_ev.value)
    bottom = max(landings, key=lambda spot: spot.below_clip_ev.value)
    value = bottom.below_clip_ev.value - top.below_clip_ev.value
    rows = () if top is bottom else top.metered.rows() + bottom.metered.rows()
    return margins.estimate(value, rows)


def _bracket(
    result: Result, highest: float, lowest: float, dial: Dial | None, marks: StopStep
) -> tuple[tuple[float, ...], tuple[Shutter, ...]]:
    """The fewest exposures from one that keeps the highlight to one that keeps the shadow.

    Neighbours overlap by a stop at least in what each holds between floor and clip. Steps are those
    of the dial, rounded outwards at both ends, so that neither spot is lost by rounding.
    """
    span = body_range(result)
    if span is None or not span.value > 0.0:
        return (), ()
    most = max(span.low - _OVERLAP_EV, _LEAST_STEP_EV)
    if dial is not None:
        now = dial.change_ev(dial.shutter)
        tries = [
            bracket_shutters(dial.time_s, ends, most, dial.rule, dial.marks)
            for ends in _ends(highest, lowest, now)
        ]
        times = min(filter(len, tries), key=len, default=())
        if times and _reaches(dial, times, highest, lowest):
            return tuple(dial.change_ev(each) for each in times), times
    steps = [bracket_steps(ends, most, marks) for ends in _ends(highest, lowest, 0.0)]
    return min(filter(len, steps), key=len, default=()), ()


def _ends(highest: float, lowest: float, now: float) -> list[tuple[float, float]]:
    """Changes of the darkest and the brightest frame: with the exposure in use as one of them
    where it keeps highlight or shadow, then as tight as they may be."""
    kept = [(now, lowest)] if now <= highest else [(highest, now)] if now >= lowest else []
    return [*kept, (highest, lowest)]


def _reaches(dial: Dial, times: Sequence[Shutter], highest: float, lowest: float) -> bool:
    """Whether the dial goes far enough at both ends."""
    first, last = dial.change_ev(times[0]), dial.change_ev(times[-1])
    return first <= highest + 1e-9 and last >= lowest - 1e-9


def _chosen(landings: Sequence[Landing], names: Sequence[str], field: str) -> list[Landing]:
    known = {spot.name: spot for spot in landings}
    for name in names:
        if name not in known:
            raise ExposureError(
                f"there is no spot {name!r}", "", f"Name one of: {', '.join(known)}", field
            )
    return [known[name] for name in names] or list(landings)
