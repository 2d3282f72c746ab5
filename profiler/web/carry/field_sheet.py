"""The sheet that is filled in beside the camera, frame by frame as the plan lists them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from profiler.errors import GreytareError
from profiler.exposure.modes import is_flash
from profiler.exposure.readings import parse_reading
from profiler.files.sheet import EVERY_FILE, new_sheet
from profiler.records import Meter
from profiler.show.words import count

if TYPE_CHECKING:
    from profiler.onset.plan import Plan
    from profiler.onset.plan_labels import PlanFrame


@dataclass(frozen=True, kw_only=True)
class Planned:
    """A planned frame as its button shows it; copies: how often it is shot; dark: lens cap on."""

    label: str
    detail: str
    copies: int
    dark: bool
    meter_shows: str


@dataclass(frozen=True, kw_only=True)
class Shot:
    """A frame that was shot: which of the planned ones, and what the meter showed for it alone."""

    planned: int
    reading: str = ""


def planned_frames(plan: Plan) -> tuple[Planned, ...]:
    """Return the planned frames in the order of the plan."""
    return tuple(_button(frame) for label in plan.labels for frame in label.frames)


def field_sheet(
    plan: Plan, shots: Sequence[Shot], *, before: str, after: str = "", first_file: str = ""
) -> str:
    """Return the text of the sheet for frames in the order in which they were shot.

    before, after: readings for all of them. first_file: name of the first one's file, from which
    the others are counted up; without it no row can name a file, so lens-cap frames get a note.
    Flash is read for each frame, so its rows need the names. GreytareError says what is missing.
    """
    frames = planned_frames(plan)
    flash = is_flash(plan.mode)
    if not all(0 <= shot.planned < len(frames) for shot in shots):
        raise GreytareError(
            "a frame was ticked that isn't in the plan", "sheet", "Start the sheet anew"
        )
    shown = [frames[shot.planned] for shot in shots]
    names = _names(first_file, len(shots)) if first_file else ()
    missing = _missing(frames, shots)
    rows = []
    if flash:
        if not names:
            raise GreytareError(
                "flash is read for each frame, so each needs the name of its file",
                "",
                "Give the name of the first one, such as IMG_0001.dng",
                "first_file",
            )
        readings = [
            shot.reading or frame.meter_shows for shot, frame in zip(shots, shown, strict=True)
        ]
    else:
        readings = ["" for _ in shots]
        _check(before, plan.mode, "before")
        note = "reading before the first frame"
        rows.append({"file": EVERY_FILE, "reading": before, "mode": plan.mode, "note": note})
        if after:
            _check(after, plan.mode, "after")
            note = "reading after the last frame"
            rows.append({"file": EVERY_FILE, "reading": after, "mode": plan.mode, "note": note})
    for name, reading, frame in zip(names, readings, shown, strict=False):
        if frame.dark:
            rows.append({"file": name, "reading": "dark", "note": frame.label})
        elif flash:
            _check(reading, plan.mode, "reading")
            rows.append({"file": name, "reading": reading, "mode": plan.mode, "note": frame.label})
    dark = len([frame for frame in shown if frame.dark])
    if dark and not names:
        rows[-1] = {
            **rows[-1],
            "note": f"{rows[-1]['note']}; {count(dark, 'lens-cap frame')}: give each a row that "
            "says dark",
        }
    if missing and rows:
        rows[-1] = {**rows[-1], "note": f"{rows[-1].get('note', '')}; not shot: {missing}"}
    return new_sheet(rows)


def _button(frame: PlanFrame) -> Planned:
    shutter = frame.setting.shutter
    time = "" if shutter is None else shutter.label
    label = frame.meter_shows or time
    rest = f"{frame.setting.aperture.label}, ISO {frame.iso}"
    if frame.dark:
        return Planned(
            label="lens cap on",
            detail=rest,
            copies=frame.copies,
            dark=True,
            meter_shows="",
        )
    if frame.meter_shows:
        rest = f"{time}, {rest}"
    return Planned(
        label=label, detail=rest, copies=frame.copies, dark=False, meter_shows=frame.meter_shows
    )


def _missing(frames: Sequence[Planned], shots: Sequence[Shot]) -> str:
    """The planned frames that were shot less often than planned."""
    parts = []
    for i, frame in enumerate(frames):
        short = frame.copies - len([shot for shot in shots if shot.planned == i])
        if short > 0:
            parts.append(f"{short} of {frame.label} ({frame.detail})")
    return ", ".join(parts)


def _names(first: str, many: int) -> tuple[str, ...]:
    """Names counted up from the first one, leading zeros kept."""
    match = re.fullmatch(r"(.*?)(\d+)(\D*)", first)
    if match is None or "/" in first or "\\" in first:
        raise GreytareError(
            f"‘{first}’ isn't a file name with a number to count up",
            "",
            "Write it as the camera shows it, such as IMG_0001.dng",
            "first_file",
        )
    start, digits, end = match[1], match[2], match[3]
    number = int(digits)
    return tuple(f"{start}{_padded(number + k, len(digits))}{end}" for k in range(many))


def _padded(number: int, width: int) -> str:
    text = str(number)
    return "0" * max(0, width - len(text)) + text


def _check(reading: str, mode: str, field: str) -> None:
    """Raise the reading's own error where it can't be one of that mode."""
    if not reading:
        raise GreytareError("the reading is missing", "", "Type what the meter shows", field)
    parse_reading(reading, f"'{reading}'").metered_ev100(mode, Meter(), where=f"'{reading}'")
