"""What to set on the meter so that a result's offset is in it."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.exposure.stops import nearest_iso_mark
from profiler.onset import margins
from profiler.records import Estimate, moved
from profiler.results import Result, Span


@dataclass(frozen=True, kw_only=True)
class MeterDial:
    """What to set on the meter: either the EI or the compensation, never both.

    ei: exact, with its mark; ei_left_ev: exposure still to give on top of the mark (negative: to
    take away). compensation_ev: in 0.1 steps, positive asks for more exposure than the meter says
    at the label; compensation_left_ev: what that leaves over.
    """

    offset_ev: Estimate
    ei: Span
    ei_mark: float
    ei_left_ev: float
    compensation_ev: float
    compensation_left_ev: float


def dial(result: Result, aim_stops: float, *, iris: bool = True) -> MeterDial:
    """Return what to set on the meter; offset = headroom - aim, EI = label/2^offset.

    iris: its error counts, as at any aperture (see margins.clip_headroom). Headroom 3.5 over an
    aim of 2.963 is +0.537: give more, so EI 400 becomes 276 (computed).
    """
    headroom = margins.clip_headroom(result, iris=iris)
    offset = moved(headroom, -aim_stops)
    value, low, high = (result.iso / 2.0**ev for ev in (offset.value, offset.high, offset.low))
    mark = nearest_iso_mark(value)
    steps = round(offset.value, 1) + 0.0
    return MeterDial(
        offset_ev=offset,
        ei=Span(value=value, low=low, high=high, lower_bound=offset.lower_bound),
        ei_mark=mark.marked,
        ei_left_ev=mark.leftover_ev,
        compensation_ev=steps,
        compensation_left_ev=offset.value - steps,
    )
