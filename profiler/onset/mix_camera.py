"""The f-number for mixed light on a measured body."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.exposure.quantities import exp2
from profiler.exposure.stops import Mark, StopStep, nearest_f_mark
from profiler.fitting import budget
from profiler.onset import margins
from profiler.onset.aperture import check_aperture, iris_cancels
from profiler.onset.mix import Mix
from profiler.records import Estimate
from profiler.results import Result


@dataclass(frozen=True, kw_only=True)
class MixCamera:
    """The f-number that puts the metered grey on the aim, as a mark, with what that leaves.

    offset_ev: of the flash mode's result. left_ev: exposure still to give (negative: take away).
    """

    iso: int
    mode: str
    light: str
    offset_ev: float
    f_number: float
    mark: Mark
    left_ev: float
    below_clip_ev: Estimate


def camera_for(
    mixed: Mix, result: Result, *, aim_stops: float | None = None, marks: StopStep = "third"
) -> MixCamera:
    """Return the f-number for a mix: 2 log2 N = stops of the whole light - offset.

    The mark must lie where the profile holds; the margin adds the profile's and today's camera's
    to the readings'.
    """
    aim = result.aim_stops if aim_stops is None else aim_stops
    offset = result.clip_headroom_ev.value - aim
    exact = exp2((mixed.total.stops.value - offset) / 2.0)
    mark = nearest_f_mark(exact, marks)
    check_aperture(result, mark.marked, f"mix, {mark.label}")
    iris = not iris_cancels(result, mark.marked)
    rows = (
        *margins.profile_rows(result, iris=iris),
        *margins.frame_rows(result, iris=iris),
        budget.stated("today's readings", mixed.total.stops.u, "flash and ambient, added as light"),
    )
    return MixCamera(
        iso=result.iso,
        mode=result.mode,
        light=result.light,
        offset_ev=offset,
        f_number=exact,
        mark=mark,
        left_ev=mark.leftover_ev,
        below_clip_ev=margins.estimate(
            aim + mark.leftover_ev, rows, lower_bound=result.clip_headroom_ev.lower_bound
        ),
    )
