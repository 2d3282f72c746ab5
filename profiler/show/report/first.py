"""What a photographer dials in first, as cells of a table."""

from __future__ import annotations

from profiler.exposure.stops import nearest_iso_mark
from profiler.fitting.budget import decimals
from profiler.records import Estimate
from profiler.results import ProfileData, Result
from profiler.show.channels import colour_name
from profiler.show.report.table import Cell, Table
from profiler.show.rounding import plus_minus, signed, speed


def first_table(profile: ProfileData) -> Table:
    """Return what to dial in per ISO label: EI, compensation, headroom, footroom."""
    return Table(
        id="gt-first-table",
        caption="Set the EI on the meter, or leave the ISO label and give the compensation. "
        "One of the two, not both.",
        head=("ISO label", "EI to set", "or give, stops", "headroom, stops", "footroom, stops"),
        rows=tuple(
            (
                name_cell(result),
                ei_cell(result),
                compensation_cell(result),
                headroom_cell(result),
                footroom_cell(result),
            )
            for result in profile.results
        ),
    )


def numbers_table(profile: ProfileData) -> Table:
    """Return the same results in full: value with 95 % interval."""
    rows = []
    for result in profile.results:
        footroom = result.footroom_ev
        floors = (
            tuple(bounded(e) for e in (footroom.snr1, footroom.snr10, footroom.snr40))
            if footroom
            else ("not measured",) * 3
        )
        at_most = "at most " if result.exposure_index.lower_bound else ""
        rows.append(
            (
                name_cell(result),
                ("at least " if result.offset_ev.lower_bound else "") + signed(result.offset_ev),
                at_most + speed(result.exposure_index),
                at_most + speed(result.saturation_speed),
                bounded(result.clip_headroom_ev),
                bounded(result.linear_headroom_ev),
                *floors,
            )
        )
    return Table(
        id="gt-numbers-table",
        caption="The same in numbers, with 95 % intervals. The offset is added to the reading.",
        head=(
            "ISO label",
            "offset, EV",
            "exposure index",
            "saturation speed S_sat",
            "clip headroom, EV",
            "linear headroom, EV",
            "footroom to SNR 1, EV",
            "to SNR 10, EV",
            "to SNR 40, EV",
        ),
        rows=tuple(rows),
    )


def name_cell(result: Result) -> Cell:
    """Return the ISO label with mode and light below it."""
    return f"{result.iso}", f"{result.mode}, {result.light}"


def ei_cell(result: Result) -> Cell:
    """Return the EI as a mark of the meter with what the mark leaves over."""
    mark = nearest_iso_mark(result.exposure_index.value)
    bound = "at most " if result.exposure_index.lower_bound else ""
    size = f"{abs(mark.leftover_ev):.1f}"
    if size == "0.0":
        return f"{bound}{mark.marked:g}", "nothing left over"
    return (
        f"{bound}{mark.marked:g}",
        f"and give {size} stop {'more' if mark.leftover_ev > 0.0 else 'less'}",
    )


def compensation_cell(result: Result) -> Cell:
    """Return the offset as a compensation, its sign in words."""
    offset = result.offset_ev
    if agrees(offset):
        return signed(offset), "agree: none needed"
    places = decimals(0.5 * (offset.high - offset.low))
    size = f"{abs(offset.value):.{places}f}"
    unit = "stop" if float(size) <= 1.0 else "stops"
    if offset.value < 0.0:
        rest = ", perhaps not even that" if offset.lower_bound else ""
        return signed(offset), f"give {size} {unit} less{rest}"
    bound = "at least " if offset.lower_bound else ""
    return bound + signed(offset), f"give {bound}{size} {unit} more"


def agrees(offset: Estimate) -> bool:
    """Return whether meter and body agree within the uncertainty."""
    return offset.low <= 0.0 <= offset.high and not offset.lower_bound


def headroom_cell(result: Result) -> Cell:
    """Return stops up to clip with the channel that clips first."""
    first = colour_name(result.first_to_clip)
    return bounded(result.clip_headroom_ev), f"{first} clips first"


def footroom_cell(result: Result) -> Cell:
    """Return stops down to SNR 10, with those to SNR 1 below."""
    footroom = result.footroom_ev
    if footroom is None:
        return "not measured"
    return f"{bounded(footroom.snr10)}", f"to SNR 10; {bounded(footroom.snr1)} to SNR 1"


def bounded(estimate: Estimate) -> str:
    """Return value with half its 95 % interval; a lower bound says so."""
    return ("at least " if estimate.lower_bound else "") + plus_minus(estimate)
