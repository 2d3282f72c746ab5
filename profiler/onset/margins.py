"""How far a prediction from a profile can be off: which errors are old, which come anew.

Let h be a channel's true headroom over the level that an error-free meter's exposure gives, and h'
the measured one. In the calibration the reading was off by d (repeatability, display step; for an
incident reading also the card's reflectance), the iris let in a stops beside its mark, the fit is
off by e (scatter of the frames, black, clip, time rule, drift, uneven patch). A level M at
placement 0 was measured as M' = M 2^(a - d - e), so

    h' = h - a + d + e.

Today a spot reads v' = v + d_v, the camera gives g' by its marks, while its iris lets in a_t stops
and its shutter s_t stops more than they say. The spot really lands at x = v - g' + a_t + s_t above
the metered level, and was predicted at x' = v' - g'. So the distance below clip D = h - x is off by

    D - D' = (a - d - e) - (a_t + s_t) + d_v.

* Common to all spots, from the profile: a, d, e, the rows of its budget.
* Common to all spots of one frame: s_t, with the scatter of the fitted frames; a_t.
* A spot's own: d_v, its reading's repeatability with display step.
* a and a_t are one number where the iris stands as it stood for every measured frame: both cancel.
* The key reading counts only for where its own subject lands (there it is d_v). The camera's
  settings are what they are, however they were found; a slip in the key moves every spot, but the
  prediction of a spot is made from its own reading with the settings in use.
* Between two spots in one frame everything common cancels: two readings' d_v remain.
* A floor (a level in DN) is found from M' alike, with the row for clip replaced by the noise's.

All sources are independent, so variances add (JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

import math
from dataclasses import replace

from profiler import standards
from profiler.calibration.fit import budget
from profiler.records import Estimate
from profiler.results import METER_SOURCES, BudgetRow, Footroom, Result, Source

Rows = tuple[BudgetRow, ...]
_OF_THE_FIT = (Source.FIT_SCATTER, Source.BLACK, Source.CLIP)
_OF_THE_READING = (*METER_SOURCES, Source.LIGHT_DRIFT, Source.CARD_REFLECTANCE)


def first_channel(result: Result) -> str:
    """Return the channel that clips first, G resolved to the green with less headroom."""
    if result.first_to_clip in result.channels:
        return result.first_to_clip
    greens = [name for name in result.channels if name in ("G1", "G2")]
    return min(greens or result.channels, key=lambda name: result.channels[name].headroom_ev)


def profile_rows(result: Result, channel: str | None = None, *, iris: bool) -> Rows:
    """Return the profile's rows for a channel's headroom; iris: its mark counts, it didn't cancel.

    The saved budget is the first channel's; another one has its own fit, black and clip.
    """
    rows = tuple(row for row in result.budget if iris or row.source != Source.APERTURE_MARK)
    if channel is None or channel == first_channel(result):
        return rows
    own = budget.stated(
        Source.CHANNEL_FIT,
        result.channels[channel].headroom_u_ev,
        f"scatter, black, clip: {channel}",
    )
    scatter = next((row for row in rows if row.source == Source.FIT_SCATTER), None)
    if scatter is not None and scatter.dof is not None:
        own = replace(own, type="A", distribution="t", dof=scatter.dof)
    return (own, *(row for row in rows if row.source not in _OF_THE_FIT))


def clip_headroom(result: Result, *, iris: bool) -> Estimate:
    """Return the headroom with the interval that applies: at any aperture, or as measured.

    iris: as iris_cancels tells. A profile without the second interval gets it from its budget.
    """
    headroom = result.clip_headroom_ev
    if iris or result.measured_by_t_stop:
        return headroom
    own = result.at_measured_aperture
    if own is not None:
        return replace(own.clip_headroom_ev, lower_bound=headroom.lower_bound)
    rows = profile_rows(result, iris=False)
    return estimate(headroom.value, rows, lower_bound=headroom.lower_bound)


def frame_rows(result: Result, *, iris: bool, frames: int = 1) -> Rows:
    """Return what today's camera adds: the scatter of its frames and, if it counts, the iris."""
    scatter = next((row for row in result.budget if row.source == Source.FIT_SCATTER), None)
    rows = [
        budget.stated(
            Source.SHUTTER,
            result.frame_scatter_ev / math.sqrt(frames),
            f"scatter of the measured frames, {frames} frame{'s' if frames > 1 else ''}",
            dof=None if scatter is None else scatter.dof,
        )
    ]
    if iris and not result.measured_by_t_stop:
        rows.append(
            budget.bounded(Source.IRIS, standards.APERTURE_MARK_EV, "iris against its mark")
        )
    return tuple(row for row in rows if row.contribution_ev > 0.0)


def floor_rows(result: Result, footroom: Footroom, limit: Estimate, *, iris: bool) -> Rows:
    """Return the rows of a distance to the floor: the line's without clip, with the noise's own.

    The profile states the floor with the line's uncertainty inside: what is left is the noise's.
    """
    line = tuple(row for row in result.budget if row.source != Source.CLIP)
    own = limit.u**2 - math.fsum(row.contribution_ev**2 for row in line)
    kept = tuple(row for row in line if iris or row.source != Source.APERTURE_MARK)
    noise = budget.stated(
        Source.NOISE, math.sqrt(max(own, 0.0)), f"photon transfer: {footroom.channel}"
    )
    return (*kept, noise) if noise.contribution_ev > 0.0 else kept


def reading_rows(result: Result) -> Rows:
    """Return the profile's rows that come from its mode's reading, not from the camera."""
    return tuple(row for row in result.budget if row.source in _OF_THE_READING)


def estimate(value: float, rows: Rows, *, lower_bound: bool = False) -> Estimate:
    """Return a value with the combined uncertainty of the rows and its 95 % interval."""
    u, dof = budget.combine(rows)
    return budget.expand(value, u, dof, lower_bound=lower_bound)
