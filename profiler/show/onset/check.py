"""A check against the profile in words: what was predicted, what came, what to do."""

from __future__ import annotations

from profiler.onset.check import Check, CheckedFrame
from profiler.show.channels import colour_name
from profiler.show.onset.text import INTERVALS, facts, stops, table

_NONE_EV = 0.05


def check_words(check: Check) -> str:
    """Return the verdict in one line, levels per channel, then what to do."""
    lines = [headline(check), ""]
    for frame in check.frames:
        lines += [*frame_lines(frame), ""]
    lines += facts(
        [
            ("reading", f"{', '.join(check.metered.texts)} by {check.mode}, {check.light}"),
            ("profile", f"ISO {check.iso}, made {since(check)}"),
        ]
    )
    return "\n".join([*lines, "", advice(check), INTERVALS])


def headline(check: Check) -> str:
    """Return within or outside, by how much, since when."""
    if check.deviation_ev is None:
        return "This can't be told: no channel lies between black and clip on the straight part."
    half = max(0.5 * (check.deviation_ev.high - check.deviation_ev.low), 0.1)
    size = f"{stops(check.deviation_ev, 'more', 'less')} light than predicted"
    if abs(check.deviation_ev.value) < _NONE_EV:
        size = f"no more nor less light than predicted (± {half:.1f} stop)"
    if check.verdict == "within":
        return (
            f"As the profile says: {size}, within the uncertainty; it holds since {since(check)}."
        )
    return (
        f"Not as the profile says: {size}, outside the uncertainty; "
        f"the profile was made {since(check)}."
    )


def frame_lines(frame: CheckedFrame) -> list[str]:
    """Return one frame: setting, then expected and found level per channel."""
    rows = [("channel", "expected DN", "found DN", "difference EV", "")]
    for name, channel in frame.channels.items():
        told = channel.deviation_ev
        text = "-" if told is None else f"{told:+.2f}"
        note = "clipped or too dark to tell" if told is None else ""
        rows.append(
            (
                colour_name(name) if len(name) == 1 else name,
                f"{channel.expected_dn:.0f}",
                f"{channel.found_dn:.0f}",
                text,
                note,
            )
        )
    head = f"  {frame.file}, {frame.setting}, {frame.placement_ev:+.1f} EV over the metered grey"
    return [head, *table(rows)]


def advice(check: Check) -> str:
    """Return what to do with the verdict."""
    if check.verdict == "within":
        return "Nothing to do. A check can't find a change smaller than its margin."
    if check.verdict == "outside":
        return (
            "First look for a slip: the reading and its mode, ISO and compensation on the meter, "
            "filters (--nd), the patch on the card. Then shoot once more with a fresh reading. If "
            "it stays outside, calibrate again: greytare plan."
        )
    return "Shoot the card so that it lies 1 to 5 stops below clip, and check again."


def since(check: Check) -> str:
    """Return the profile's date with its age."""
    day = check.profile_created[:10] or "an unknown day"
    age = check.profile_age_days
    return day if age is None else f"{day} ({age} day{'' if age == 1 else 's'} ago)"
