"""The questions that a carried page answers; written as JavaScript with all that they use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from profiler.onset.conversion import convert_light
from profiler.onset.lookup import meter_of
from profiler.onset.plan import planned
from profiler.records import MODES
from profiler.show.answer import Answer, asking
from profiler.show.onset.convert import convert_answer
from profiler.show.onset.plan import plan_answer
from profiler.show.words import count
from profiler.web import fields
from profiler.web.carry.field_sheet import Planned, Shot, field_sheet, planned_frames
from profiler.web.fields import Field
from profiler.web.onset.shared import READING_HINT
from profiler.web.onset.tools import mix, place, ratio, settings
from profiler.web.plan import shooting

if TYPE_CHECKING:
    from profiler.onset.plan import Plan
    from profiler.onset.profile import Profile
    from profiler.results import BudgetRow
    from profiler.web.fields import Params

_ON_SET: Final = {
    "settings": settings.TOOL,
    "place": place.TOOL,
    "mix": mix.TOOL,
    "ratio": ratio.TOOL,
}
"""The tabs that are taken along as they are."""
CONVERT: Final = ("Convert", "A reading as all the others that stand for the same light.")
SHEET: Final = ("Sheet", "The frames of a calibration to tick off, and their sheet.")
THEN: Final = ("Copy the raw files into one folder, and the sheet with them as sheet.csv.",)
_BRIEF: Final = ("reading", "mode", "iso", "light", "aperture", "max_time", "copies", "darks")


def tools_offered() -> dict[str, tuple[str, str]]:
    """Return the tools by name: what each is called and what it is for."""
    known = {name: (tool.title, tool.purpose) for name, tool in _ON_SET.items()}
    return known | {"convert": CONVERT, "sheet": SHEET}


def form_of(tool: str, profile: Profile, params: Params) -> list[Field]:
    """Return the fields of a tool with what came in for them."""
    if tool == "convert":
        return fields.filled(_conversion_fields(), params)
    if tool == "sheet":
        return fields.filled(_sheet_fields(profile), params)
    form = _ON_SET[tool].form
    return fields.filled(form(profile, params), params)


def answer_to(tool: str, profile: Profile, params: Params) -> Answer:
    """Return the answer to the fields as they stand, or what to type first."""
    if tool == "convert":
        return _conversion(profile, params)
    if tool == "sheet":
        if not fields.text(params, "reading"):
            return asking("Type what the meter shows at the card: the times follow from it.")
        return _list(_plan(profile, params))
    answer = _ON_SET[tool].answer
    return answer(profile, params)


def frames_of(profile: Profile, params: Params) -> tuple[Planned, ...]:
    """Return the planned frames, for a button each."""
    return planned_frames(_plan(profile, params))


def sheet_of(profile: Profile, params: Params, shots: list[tuple[int, str]]) -> str:
    """Return the text of the sheet; shots: planned frame and its own reading, as they were shot."""
    return field_sheet(
        _plan(profile, params),
        [Shot(planned=int(planned), reading=reading) for planned, reading in shots],
        before=fields.text(params, "reading"),
        after=fields.text(params, "after"),
        first_file=fields.text(params, "first_file"),
    )


def expiry(day: str, age_days: int, interval_days: int) -> str:
    """Return the warning that a profile is older than it may be; empty while it isn't."""
    if age_days <= interval_days:
        return ""
    return (
        f"This profile was shot on {day}, {age_days} days ago, and was to be checked again after "
        f"{interval_days}: check one frame against it before you rely on it."
    )


def _plan(profile: Profile, params: Params) -> Plan:
    """The plan for a new calibration of the profile's body; what it is worth isn't asked here."""
    return planned(shooting.plan_ask(params), profile.data, half=_unasked)


def _unasked(_: Sequence[BudgetRow]) -> float:
    return 0.0


def _list(plan: Plan) -> Answer:
    """The frames to shoot, without a promise of what they are worth."""
    made = plan_answer(plan, THEN)
    minutes = max(1, round(plan.minutes))
    return replace(
        made,
        headline=f"{count(plan.frame_count, 'frame')}, about {minutes} min: tick each as it is "
        "shot.",
        figures=tuple(fact for fact in made.figures if fact.name != "uncertainty"),
    )


def _conversion(profile: Profile, params: Params) -> Answer:
    from profiler.exposure.reading_tokens import tokens

    reading = fields.text(params, "reading")
    if not reading:
        return asking("Type what a meter shows.")
    iso = fields.number(params, "iso", low=0.1, high=5e6)
    found = convert_light(
        reading,
        tokens(reading, f"'{reading}'"),
        meter_of(profile.data),
        fields.optional(params, "mode"),
        iso or 100.0,
    )
    return convert_answer(found)


def _conversion_fields() -> list[Field]:
    return [
        Field(name="reading", label="Reading", hint=READING_HINT, big=True),
        Field(name="iso", label="ISO of settings", value="100", numeric=True),
        Field(name="mode", label="Meter mode", choices=fields.plain(MODES, "flat, if it matters")),
    ]


def _sheet_fields(profile: Profile) -> list[Field]:
    """The plan's fields that change beside the camera, as the profile's body was measured."""
    results = profile.data.results
    known: dict[str, Any] = {
        "mode": results[0].mode,
        "light": results[0].light,
        "iso": ", ".join(str(iso) for iso in sorted({result.iso for result in results})),
    }
    kept = [
        replace(f, value=known.get(f.name, f.value), more=f.name not in ("reading", "iso"))
        for f in shooting.plan_fields()
        if f.name in _BRIEF
    ]
    return [
        *kept,
        Field(name="after", label="Reading after the last frame", hint="as before the first"),
        Field(
            name="first_file", label="File of the first frame", hint="IMG_0001.dng; may be empty"
        ),
    ]
