"""One result as an answer: what to act on, and what that rests on."""

from __future__ import annotations

from typing import Final

from profiler import flags, standards
from profiler.exposure.aims import AIMS
from profiler.exposure.wording import format_f_number
from profiler.onset.dial import dial
from profiler.records import Flag
from profiler.results import Result
from profiler.show import words
from profiler.show.answer import Answer, Note, facts
from profiler.show.calibration import tables
from profiler.show.channels import colour_name
from profiler.show.doubts import size_words
from profiler.show.meter import disagreement, ei_words, offset_cell
from profiler.show.words import plus_minus

LACKING: Final = ("clip-not-seen", "noise-not-measured")
"""Flags that say what a result lacks, and what would give it."""


def result_answer(result: Result, *, budget: bool = False, details: bool = True) -> Answer:
    """Return what to act on, every doubt, and on demand the budgets and what it rests on."""
    found = dial(result, result.aim_stops)
    shown = [tables.channel_table(result)] if details else []
    if details and tables.has_noise(result):
        shown.append(tables.noise_table(result))
    if budget:
        shown += tables.budget_tables(result)
    return Answer(
        topic=topic(result),
        headline=headline(result),
        figures=facts(
            [
                ("offset", ": ".join(offset_cell(found))),
                ("or set the meter to", ei_words(found)),
                ("headroom", headroom_words(result)),
                ("footroom", footroom_words(result)),
                ("apertures", apertures(result)),
            ]
        ),
        tables=tuple(shown),
        rows=facts(
            []
            if not details
            else [
                (f"offset {at_words(result)}", here_words(result)),
                ("exact EI", words.speed(result.exposure_index)),
                ("saturation speed", speed_words(result)),
                ("straight line", linear_words(result)),
                ("aim", aim_words(result.aim_stops)),
                ("black from", result.black_source),
                ("shutter times", time_words(result)),
                ("frames", frame_words(result)),
            ]
        ),
        notes=tuple(
            Note(text=flag_words(flag), warns=True)
            for flag in result.flags
            if flag.name not in LACKING
        ),
        missing=tuple(flag_words(flag) for flag in result.flags if flag.name in LACKING),
    )


def topic(result: Result) -> str:
    """Return which of a profile's results it is."""
    return f"ISO {result.iso}, {result.mode}, {result.light}"


def headline(result: Result) -> str:
    """Return the sentences that a photographer acts on."""
    headroom = plus_minus(result.clip_headroom_ev, "stops")
    first = colour_name(result.first_to_clip)
    return (
        f"{disagreement(dial(result, result.aim_stops), result.iso)} "
        f"{headroom[0].upper()}{headroom[1:]} from the metered grey to clipping, {first} first."
    )


def at_words(result: Result) -> str:
    """Return where the sharper interval holds: at the one aperture of the calibration."""
    here = result.at_measured_aperture
    return "" if here is None else f"at {format_f_number(here.aperture)} alone"


def here_words(result: Result) -> str:
    """Return the offset there with two figures of its interval, and why; empty without one."""
    here = result.at_measured_aperture
    if here is None or here.offset_ev.lower_bound:
        return ""
    value = words.with_sign(here.offset_ev.value, 2)
    return (
        f"{value} ± {words.half_width(here.offset_ev):.2f} EV, for the iris's own error cancels "
        f"(at any aperture ± {words.half_width(result.offset_ev):.2f})"
    )


def headroom_words(result: Result) -> str:
    """Return stops up to clip, and which channel clips first."""
    first = colour_name(result.first_to_clip)
    return f"{plus_minus(result.clip_headroom_ev, 'stops')}, {first} first"


def speed_words(result: Result) -> str:
    """Return the saturation speed, what kind of number it is, and what its interval holds."""
    holds = (
        "with the meter's constant and the lens assumed"
        if result.saturation_budget
        else "whose interval leaves out the meter's constant and the lens (fit again)"
    )
    speed = words.speed(result.saturation_speed)
    return f"{speed}, ISO 12232 S_sat: an absolute figure, {holds}"


def aim_words(stops: float) -> str:
    """Return the aim in words."""
    names = {round(value, 6): name for name, value in AIMS.items()}
    name = names.get(round(stops, 6))
    explained = {
        "iso12232": "where ISO 12232 puts a mean grey (10/S against 78/S)",
        "white-at-clip": "an 18 % grey where a perfect white just clips",
    }
    return f"grey {stops:.2f} stops below clip" + (f": {explained[name]}" if name else "")


def linear_words(result: Result) -> str:
    """Return where the straight line ends."""
    linear = result.linear_headroom_ev
    if linear.lower_bound:
        return f"holds {plus_minus(linear, 'stops')} up from the grey"
    percent = 100.0 * standards.BEND_FRACTION
    return f"leaves it by {percent:g} % at {plus_minus(linear, 'stops')} above the grey"


def footroom_words(result: Result) -> str:
    """Return stops down to the floor."""
    footroom = result.footroom_ev
    if footroom is None:
        return "not measured"
    return (
        f"{plus_minus(footroom.snr10, 'stops')} down to SNR 10, {plus_minus(footroom.snr1)} "
        f"to SNR 1 ({colour_name(footroom.channel)}, one pixel)"
    )


def time_words(result: Result) -> str:
    """Return which time rule was used, with both residuals."""
    rule = result.time_rule
    if abs(rule.rms_exact_ev - rule.rms_as_marked_ev) < 1e-9:
        return f"exact and marked times agree, residual {rule.rms_exact_ev:.3f} EV rms"
    return (
        f"{rule.used} (residual {rule.rms_exact_ev:.3f} EV rms with exact times, "
        f"{rule.rms_as_marked_ev:.3f} with marked ones)"
    )


def frame_words(result: Result) -> str:
    """Return how many frames counted."""
    used = sum(frame.used for frame in result.frames)
    return (
        f"{used} of {len(result.frames)} lie on the line, scatter {result.frame_scatter_ev:.2f} EV"
    )


def apertures(result: Result) -> str:
    """Return the apertures that the result holds for."""
    low, high = result.aperture_band
    if low <= 0.0:
        return "not known"
    if low == high:
        return format_f_number(low)
    return f"{format_f_number(low)} to {format_f_number(high)}"


def flag_words(flag: Flag) -> str:
    """Return a flag as one line: what, how much, what to do."""
    where = f"{flag.where}: " if flag.where else ""
    detail = f" {flag.detail}" if flag.detail else ""
    size = size_words(flag)
    return f"{where}{flag.name}, {size}{detail}: {flags.meaning(flag)}. {flags.advice(flag)}."
