"""How far the exposure may move, whether one frame holds the scene, else the bracket that does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from profiler.calibration.fit import budget
from profiler.errors import ExposureError
from profiler.exposure.bracket import bracket_placements_ev
from profiler.onset import margins
from profiler.onset.placement import Landing
from profiler.records import Estimate
from profiler.results import Result

_STEPS = (3.0, 2.0, 1.0, 2.0 / 3.0, 1.0 / 3.0)


@dataclass(frozen=True, kw_only=True)
class Latitude:
    """Changes of exposure in stops, positive is more, from the setting in use.

    most_ev: at which the highlight just clips; its low end is 95 % safe. least_ev: at which the
    shadow falls to SNR 10; its high end is 95 % safe. None where there is no spot to keep, or no
    floor. contrast_ev: brightest over darkest spot; range_ev: floor to clip of the body.
    one_frame: whether some exposure keeps both with their margins; shift_ev: the smallest change
    that does; bracket_ev: changes of the frames that hold the scene together where one can't,
    empty where one can or where nothing is known of the floor.
    """

    highlight: str
    shadow: str
    most_ev: Estimate | None
    least_ev: Estimate | None
    contrast_ev: Estimate | None
    range_ev: Estimate | None
    one_frame: bool | None
    shift_ev: float
    bracket_ev: tuple[float, ...]


def weigh(
    landings: Sequence[Landing], result: Result, keep: Sequence[str], shadows: Sequence[str]
) -> Latitude:
    """Return what the exposure may do; keep and shadows name spots, all of them where empty."""
    bright = _chosen(landings, keep, "keep")
    dark = _chosen(landings, shadows, "shadow")
    top = min(bright, key=lambda spot: _nearest_clip(spot).value)
    most = _nearest_clip(top)
    floors = [(spot, spot.above_floor_ev) for spot in dark if spot.above_floor_ev is not None]
    bottom, least = None, None
    if floors:
        bottom, distance = min(floors, key=lambda pair: pair[1].value)
        least = Estimate(
            value=0.0 - distance.value,
            u=distance.u,
            low=0.0 - distance.high,
            high=0.0 - distance.low,
        )
    one_frame: bool | None = None
    shift = 0.0
    bracket: tuple[float, ...] = ()
    if least is not None:
        one_frame = least.high <= most.low
        if one_frame:
            shift = min(max(0.0, least.high), most.low)
        else:
            bracket = _bracket(result, most.low, least.high)
    return Latitude(
        highlight=top.name,
        shadow="" if bottom is None else bottom.name,
        most_ev=most,
        least_ev=least,
        contrast_ev=_contrast(landings),
        range_ev=body_range(result),
        one_frame=one_frame,
        shift_ev=shift + 0.0,
        bracket_ev=bracket,
    )


def body_range(result: Result) -> Estimate | None:
    """Return stops from SNR 10 up to clip of the first channel; the meter's errors cancel.

    headroom + footroom = log2(clip span/floor): of the budget only clip and noise are left.
    """
    footroom = result.footroom_ev
    if footroom is None:
        return None
    clip = [row for row in result.budget if row.source == "clip"]
    line = tuple(row for row in result.budget if row.source != "clip")
    own = footroom.snr10.u**2 - math.fsum(row.contribution_ev**2 for row in line)
    noise = budget.stated("floor", math.sqrt(max(own, 0.0)), "photon transfer")
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


def _bracket(result: Result, highest: float, lowest: float) -> tuple[float, ...]:
    """Exposures from the one that keeps the highlight up to the one that keeps the shadow.

    The step is the longest of 3, 2, 1 stops (then thirds) by which neighbours still overlap by a
    stop in what each holds between floor and clip.
    """
    span = body_range(result)
    if span is None or not span.value > 0.0:
        return ()
    step = next((s for s in _STEPS if s <= span.low - 1.0), _STEPS[-1])
    frames = math.ceil((lowest - highest) / step - 1e-9)
    return bracket_placements_ev(highest, highest + frames * step, step)


def _chosen(landings: Sequence[Landing], names: Sequence[str], field: str) -> list[Landing]:
    known = {spot.name: spot for spot in landings}
    for name in names:
        if name not in known:
            raise ExposureError(
                f"there is no spot {name!r}", "", f"Name one of: {', '.join(known)}", field
            )
    return [known[name] for name in names] or list(landings)
