"""One frame of a result in words: where it lies, how far off the line, whether it counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from profiler.calibration.fit.budget import decimals
from profiler.exposure.stops import nearest_time_mark
from profiler.results import Result, ResultFrame

_NEAR_CLIP_EV: Final = 0.3


@dataclass(frozen=True, kw_only=True)
class FrameCells:
    """A frame's texts, empty where nothing is known."""

    time: str
    aperture: str
    placement: str
    residual: str
    state: str


def frame_cells(result: Result, frame: ResultFrame) -> FrameCells:
    """Return the frame of a result in words; the residual to as many digits as the scatter asks."""
    places = max(decimals(max(2.0 * result.frame_scatter_ev, 0.01)), 2)
    residual = frame.residual_ev
    return FrameCells(
        time="" if frame.time_s is None else nearest_time_mark(frame.time_s).label,
        aperture="" if frame.aperture is None else f"{frame.aperture:g}",
        placement=f"{frame.placement_ev:+.2f}",
        residual="" if residual is None else f"{residual:+.{places}f}",
        state=", ".join([_state(result, frame), *frame.flags]),
    )


def _state(result: Result, frame: ResultFrame) -> str:
    if frame.residual_ev is not None:
        return "on the line" if frame.used else "left out"
    near = result.clip_headroom_ev.value - _NEAR_CLIP_EV
    return "over clip" if frame.placement_ev > near else "not on the line"
