"""What a photographer dials in first, label beside label."""

from __future__ import annotations

from profiler.onset.dial import dial
from profiler.results import ProfileData, Result
from profiler.show.answer import Cell, Table
from profiler.show.channels import colour_name
from profiler.show.meter import ei_cell, offset_cell
from profiler.show.words import plus_minus, signed, speed


def first_table(profile: ProfileData) -> Table:
    """Return what to dial in per ISO label: EI, compensation, headroom, footroom."""
    return Table(
        caption="Set the EI on the meter, or leave the ISO label and give the compensation. "
        "One of the two, not both.",
        head=("ISO label", "EI to set", "or give", "headroom, stops", "footroom, stops"),
        rows=tuple(_first_cells(result) for result in profile.results),
        numbers=(1, 2, 3, 4),
    )


def numbers_table(profile: ProfileData) -> Table:
    """Return the same results in full: value with 95 % interval."""
    return Table(
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
        rows=tuple(_number_cells(result) for result in profile.results),
        numbers=tuple(range(1, 9)),
    )


def _name(result: Result) -> Cell:
    return f"{result.iso}", f"{result.mode}, {result.light}"


def _first_cells(result: Result) -> tuple[Cell, ...]:
    found = dial(result, result.aim_stops)
    footroom = result.footroom_ev
    return (
        _name(result),
        ei_cell(found),
        offset_cell(found),
        (plus_minus(result.clip_headroom_ev), f"{colour_name(result.first_to_clip)} clips first"),
        (plus_minus(footroom.snr10), f"to SNR 10; {plus_minus(footroom.snr1)} to SNR 1")
        if footroom
        else "not measured",
    )


def _number_cells(result: Result) -> tuple[Cell, ...]:
    footroom = result.footroom_ev
    floors = (
        tuple(plus_minus(e) for e in (footroom.snr1, footroom.snr10, footroom.snr40))
        if footroom
        else ("not measured",) * 3
    )
    return (
        _name(result),
        signed(result.offset_ev),
        speed(result.exposure_index),
        speed(result.saturation_speed),
        plus_minus(result.clip_headroom_ev),
        plus_minus(result.linear_headroom_ev),
        *floors,
    )
