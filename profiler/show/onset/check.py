"""A check against the profile as an answer: what was predicted, what came, what to do."""

from __future__ import annotations

from typing import Final

from profiler.onset.check import Check, CheckedFrame
from profiler.show import words
from profiler.show.answer import Answer, Table, facts
from profiler.show.channels import colour_name
from profiler.show.doubts import coarse_notes, doubt_notes, with_doubt

_NONE_EV: Final = 0.05


def check_answer(found: Check) -> Answer:
    """Return the verdict, what to do about it, and the levels per channel."""
    taken = f"{', '.join(found.metered.texts)} by {found.mode}, {found.light}"
    return Answer(
        headline=with_doubt(headline(found), found.flags),
        lead=(advice(found),),
        figures=facts([("difference", difference(found))]),
        tables=tuple(_table(frame) for frame in found.frames),
        rows=facts([("reading", taken), ("profile", f"ISO {found.iso}, shot {since(found)}")]),
        notes=(*doubt_notes(found.flags), *coarse_notes([found.metered.coarse])),
        closing=(words.INTERVALS,),
    )


def headline(found: Check) -> str:
    """Return within or outside, by how much, since when."""
    if found.deviation_ev is None:
        return "This can't be told: no channel lies between black and clip on the straight part."
    when = f"The profile was shot {since(found)}"
    if found.verdict == "within":
        if abs(found.deviation_ev.value) < _NONE_EV:
            return f"As the profile says: {difference(found)}. {when}."
        size = f"{difference(found)} than predicted"
        return f"As the profile says: {size}, within the uncertainty. {when}."
    size = f"{difference(found)} than predicted"
    return f"Not as the profile says: {size}, outside the uncertainty. {when}."


def difference(found: Check) -> str:
    """Return how much more or less light came."""
    deviation = found.deviation_ev
    if deviation is None:
        return words.UNKNOWN
    if abs(deviation.value) < _NONE_EV:
        return f"as much light as predicted (± {words.half_tenths(deviation)} stop)"
    return f"{words.stops(deviation, 'more', 'less')} light"


def advice(found: Check) -> str:
    """Return what to do with the verdict."""
    if found.verdict == "within":
        return "Nothing to do. A check can't find a change smaller than its margin."
    if found.verdict == "outside":
        return (
            "First look for a slip: the reading and its mode, ISO and compensation on the meter, "
            "filters, the patch on the card. Then shoot once more with a fresh reading. If it "
            "stays outside, calibrate again."
        )
    return "Shoot the card so that it lies 1 to 5 stops below clip, and check again."


def since(found: Check) -> str:
    """Return the day on which the profile's frames were shot, with its age."""
    day = found.profile_taken[:10] or "an unknown day"
    age = found.profile_age_days
    return day if age is None else f"{day} ({words.count(age, 'day')} ago)"


def _table(frame: CheckedFrame) -> Table:
    """One frame: setting, then expected and found level per channel."""
    placement = words.amount(frame.placement_ev, "above", "below")
    where = "on" if placement == "nothing" else placement
    return Table(
        caption=f"{frame.file}, {frame.setting}, {where} the metered grey",
        head=("channel", "expected DN", "found DN", "difference EV"),
        rows=tuple(
            (
                colour_name(name) if len(name) == 1 else name,
                f"{channel.expected_dn:.0f}",
                f"{channel.found_dn:.0f}",
                "clipped or too dark to tell"
                if channel.deviation_ev is None
                else words.with_sign(channel.deviation_ev, 2),
            )
            for name, channel in frame.channels.items()
        ),
        numbers=(1, 2, 3),
    )
