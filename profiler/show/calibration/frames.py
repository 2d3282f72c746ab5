"""The frames of a result in words: where each lies, how far off the line, whether it counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from profiler.calibration.fit.budget import decimals
from profiler.exposure.stops import nearest_time_mark
from profiler.results import Result, ResultFrame
from profiler.show.answer import Cell, Table
from profiler.show.words import listed

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


def frame_table(result: Result) -> Table:
    """Return each frame with its placement, level and distance from the line."""
    names = tuple(result.channels)
    rows: list[tuple[Cell, ...]] = []
    for frame in result.frames:
        cells = frame_cells(result, frame)
        rows.append(
            (
                frame.file,
                cells.placement,
                cells.residual,
                cells.time,
                cells.aperture,
                *(level(frame.level_dn[name]) for name in names),
                cells.state,
            )
        )
    n = len(names)
    return Table(
        caption=f"Frames at ISO {result.iso}, {result.mode}: raw means with black in them",
        head=(
            "frame",
            "placement, EV",
            "off the line, EV",
            "time",
            "aperture, f or T",
            *(f"{name}, DN" for name in names),
            "state",
        ),
        rows=tuple(rows),
        numbers=tuple(range(1, 5 + n)),
        dim=frozenset(i for i, frame in enumerate(result.frames) if not frame.used),
        long=True,
    )


def level(level_dn: float) -> str:
    """Return a mean level in DN, to a tenth below 1000."""
    return f"{level_dn:.0f}" if level_dn >= 1000.0 else f"{level_dn:.1f}"


def pictures_words(names: Sequence[str]) -> str:
    """Return which pictures were left out of a folder of raw files; empty for none."""
    if not names:
        return ""
    each = "it is a picture" if len(names) == 1 else "they are pictures"
    return f"{listed(names)} left out: {each} beside raw files, not one plane of 16 bits"
