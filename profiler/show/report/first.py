"""What a photographer dials in first, as cells of a table."""

from __future__ import annotations

from profiler.onset.dial import dial
from profiler.results import ProfileData, Result
from profiler.show import words
from profiler.show.channels import colour_name
from profiler.show.report.table import Cell, Table
from profiler.show.words import plus_minus, signed, speed


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
            tuple(plus_minus(e) for e in (footroom.snr1, footroom.snr10, footroom.snr40))
            if footroom
            else ("not measured",) * 3
        )
        rows.append(
            (
                name_cell(result),
                signed(result.offset_ev),
                speed(result.exposure_index),
                speed(result.saturation_speed),
                plus_minus(result.clip_headroom_ev),
                plus_minus(result.linear_headroom_ev),
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
    """Return the EI as a mark of the meter, with what it leaves over; a bound isn't to be set."""
    found = dial(result, result.aim_stops)
    if found.offset_ev.lower_bound:
        return f"at most {found.ei_mark:g}", "not to be set: clip was not seen"
    if not words.is_spoken(found.ei_left_ev, found.offset_ev):
        return f"{found.ei_mark:g}"
    return f"{found.ei_mark:g}", f"and give {words.amount(found.ei_left_ev)}"


def compensation_cell(result: Result) -> Cell:
    """Return the offset as a compensation, its sign in words."""
    offset = result.offset_ev
    if words.agrees(offset):
        return signed(offset), "agree: none needed"
    if offset.lower_bound:
        return signed(offset), f"{words.stops(offset, 'more', 'less')}: shoot brighter frames"
    size, _, _ = words.margin(offset).partition(" ")
    way = "more" if offset.value > 0.0 else "less"
    return signed(offset), f"give {size} {words.unit_of(size)} {way}"


def headroom_cell(result: Result) -> Cell:
    """Return stops up to clip with the channel that clips first."""
    first = colour_name(result.first_to_clip)
    return plus_minus(result.clip_headroom_ev), f"{first} clips first"


def footroom_cell(result: Result) -> Cell:
    """Return stops down to SNR 10, with those to SNR 1 below."""
    footroom = result.footroom_ev
    if footroom is None:
        return "not measured"
    return plus_minus(footroom.snr10), f"to SNR 10; {plus_minus(footroom.snr1)} to SNR 1"
