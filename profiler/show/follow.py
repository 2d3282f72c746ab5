"""A series that grows as an answer: what is still missing or wrong first, then the frames."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from profiler.exposure.wording import format_time
from profiler.follow.records import Growing, GrowingLabel, Missing, Point, Wrong
from profiler.show import words
from profiler.show.answer import Answer, Fact, Note, Table, asking

_COUNTS: Final = (
    *("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve"),
)
_NAMES_SHOWN: Final = 3
_SHOTS_SHOWN: Final = 3
_CHANGED: Final = {
    "glare": "a reflection lies on the card: turn the card or the lamp until it is gone, then "
    "shoot the frame again",
    "moved": "the card or the camera has moved: put it back, or begin the series again",
    "shadow": "the light falls on the card otherwise than before: look for a shadow or a lamp "
    "that has turned, then shoot the frame again",
}


def follow_answer(growing: Growing) -> Answer:
    """Return what is wrong with the newest frame, else what is missing; the rest under it."""
    if not growing.frames:
        return _nothing_yet(growing)
    line = missing_line(growing)
    urgent = [wrong for wrong in growing.wrong if growing.latest in wrong.files]
    others = [wrong for wrong in growing.wrong if wrong not in urgent[:1]]
    return Answer(
        headline=wrong_words(urgent[0]) if urgent else line,
        lead=(line,) if urgent else (),
        figures=_figures(growing),
        tables=tuple(_table(label) for label in growing.labels if label.missing),
        notes=(
            *(Note(text=wrong_words(wrong), warns=True) for wrong in others),
            *_notes(growing),
        ),
        missing=_lacks(growing),
    )


def missing_line(growing: Growing) -> str:
    """Return what to shoot next for the plan, in one line.

    "ISO 400: next 1/20 s x2, 1/40 s x2; then done."; without known times "ISO 400: one frame above
    clip, two near the grey; then done."
    """
    open_labels = [label for label in growing.labels if not label.complete]
    if not growing.labels:
        return "No frame can be placed yet: " + "; ".join(_lacks(growing)) + "."
    if not open_labels:
        done = words.listed([str(label.iso) for label in growing.labels])
        verb = "is" if len(growing.labels) == 1 else "are"
        if growing.complete and growing.planned:
            return f"Nothing is missing: ISO {done} {verb} done."
        if growing.complete:
            return f"ISO {done} {verb} done: go on with another ISO label, or end here."
        return f"ISO {done} {verb} done but for: {'; '.join(_lacks(growing))}."
    now = next((each for each in open_labels if each.holds(growing.latest)), open_labels[0])
    rest = [str(label.iso) for label in open_labels if label is not now]
    then = f"then ISO {words.listed(rest)}" if rest else "then done"
    return f"ISO {now.iso}: {_lacking(now)}; {then}."


def wrong_words(wrong: Wrong) -> str:
    """Return what is wrong in one sentence, with what to do."""
    who = _some(wrong.files)
    size = words.amount(wrong.size_ev, "more light", "less light")
    if wrong.kind == "aperture":
        other, usual = wrong.detail.split()
        verb = "was" if len(wrong.files) == 1 else "were"
        return (
            f"{who} {verb} taken at f/{other}, the others at f/{usual}: set the aperture back "
            "and shoot again"
        )
    if wrong.kind == "light":
        return (
            f"{who} got {size} than the setting says: has the light changed, or the aperture? "
            "Read the meter again, then shoot again"
        )
    if wrong.kind == "reading":
        high = words.amount(-wrong.size_ev, "too high", "too low")
        return f"The reading of {who} looks {high}: compare it with the meter"
    if wrong.kind == "unplanned-iso":
        verb = "is" if len(wrong.files) == 1 else "are"
        return f"{who} {verb} at ISO {wrong.detail}, which isn't in the plan"
    if wrong.kind == "broken":
        return f"This file won't be used: {wrong.detail.rstrip('.')}"
    if wrong.kind == "sheet":
        return wrong.detail.rstrip(".")
    return f"{who}: {_CHANGED[wrong.kind]}"


def point_words(growing: Growing, file: str) -> str:
    """Return one line of a frame: label, time, placement, level, how far off the line."""
    for label in growing.labels:
        for point in label.points:
            if point.file == file:
                return f"ISO {label.iso}, {_point(point)}"
    if file in growing.caps:
        return "as dark as under a lens cap: taken for a lens-cap frame"
    if file in growing.unread:
        return "measured; it has no reading yet"
    return "measured; it isn't on a line"


def _nothing_yet(growing: Growing) -> Answer:
    notes = tuple(Note(text=wrong_words(wrong), warns=True) for wrong in growing.wrong)
    if growing.held:
        return Answer(
            headline=f"{_some(growing.held)}: too dark to show where the card lies. A brighter "
            "frame will tell.",
            notes=notes,
        )
    if growing.waiting:
        return Answer(headline=f"Waiting until {_some(growing.waiting)} is whole.", notes=notes)
    asked = asking("Waiting for the first frame.")
    return Answer(headline=asked.headline, missing=asked.missing, notes=notes)


def _figures(growing: Growing) -> tuple[Fact, ...]:
    found = [Fact(name=growing.latest, text=point_words(growing, growing.latest))]
    for label in growing.labels:
        count = words.count(len(label.points), "frame")
        text = f"{count}; clip not seen yet"
        if label.headroom_ev is not None:
            text = f"{count}; {label.headroom_ev:.1f} stops from the metered grey to clip so far"
        found.append(Fact(name=f"ISO {label.iso}", text=text))
    return tuple(found)


def _table(label: GrowingLabel) -> Table:
    return Table(
        caption=f"Still missing at ISO {label.iso}",
        head=("where", "frames", "at"),
        rows=tuple(
            (each.zone, str(each.frames), ", ".join(_shots([each])) or "–")
            for each in label.missing
        ),
        numbers=(1,),
    )


def _notes(growing: Growing) -> tuple[Note, ...]:
    found = []
    if growing.caps:
        found.append(f"Taken for lens-cap frames, as they are so dark: {_some(growing.caps)}.")
    if growing.waiting:
        found.append(f"Still being copied: {_some(growing.waiting)}.")
    if growing.held:
        found.append(f"Waiting for a brighter frame that shows the card: {_some(growing.held)}.")
    return tuple(Note(text=text) for text in found)


def _lacks(growing: Growing) -> tuple[str, ...]:
    """What neither files nor sheet say."""
    found = []
    if growing.unread:
        found.append(
            f"the reading of {_some(growing.unread)}: write what the meter showed into the sheet"
        )
    if growing.lacking:
        found.append(f"{growing.lacking}: write it into the sheet")
    return tuple(found)


def _lacking(label: GrowingLabel) -> str:
    """The next times with how often each, else the zones; then the lens-cap frames."""
    shots = _shots(label.missing)
    found: list[str] = []
    if shots and all(sum(each.copies) == each.frames for each in label.missing):
        found.append(f"next {', '.join(shots[:_SHOTS_SHOWN])}")
        copies = [many for each in label.missing for many in each.copies]
        more = sum(copies[_SHOTS_SHOWN:])
        if more:
            found.append(f"then {words.count(more, 'frame')} more")
    else:
        for each in label.missing:
            found.append(f"{_frames(each, first=not found)} {each.zone}")
    if label.darks_missing:
        word = "frame" if label.darks_missing == 1 else "frames"
        found.append(f"{_counted(label.darks_missing)} lens-cap {word}")
    return ", ".join(found)


def _shots(missing: Sequence[Missing]) -> list[str]:
    """Each known time with how often: `1/20 s x2`."""
    return [
        f"{format_time(time_s)} x{many}"
        for each in missing
        for time_s, many in zip(each.times_s, each.copies, strict=True)
    ]


def _frames(missing: Missing, *, first: bool) -> str:
    count = _counted(missing.frames)
    if not first:
        return count
    return f"{count} {'frame' if missing.frames == 1 else 'frames'}"


def _counted(many: int) -> str:
    return _COUNTS[many] if many < len(_COUNTS) else str(many)


def _point(point: Point) -> str:
    parts = [] if point.time_s is None else [format_time(point.time_s)]
    parts.append(f"{words.with_sign(point.placement_ev)} EV from the metered grey")
    if point.clipped:
        parts.append("clipped")
    else:
        parts.append(f"{100.0 * point.part:.0f} % of the range")
    if point.deviation_ev is not None:
        parts.append(f"{words.with_sign(point.deviation_ev, 2)} EV off the line")
    return ", ".join(parts)


def _some(files: Sequence[str]) -> str:
    """Names of files, the first few where they are many."""
    if len(files) > _NAMES_SHOWN + 1:
        return f"{', '.join(files[:_NAMES_SHOWN])} and {len(files) - _NAMES_SHOWN} more"
    return words.listed(list(files))
