"""The tab Settings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from profiler.errors import ExposureError
from profiler.onset.settings import SettingsAsk, settings
from profiler.show.answer import Answer, asking
from profiler.show.onset.settings import settings_answer
from profiler.web.fields import Field, Params, number, optional, text
from profiler.web.onset.shared import (
    READING_HINT,
    Tool,
    body_fields,
    iso_field,
    iso_of,
    narrowing,
    needed,
    on_body,
)

if TYPE_CHECKING:
    from profiler.onset.profile import Profile


def form(profile: Profile | None, _: Params) -> list[Field]:
    """Return the fields."""
    if profile is None:
        return []
    return [
        Field(name="reading", label="Meter reading", hint=READING_HINT, big=True),
        iso_field(profile, "best one for aperture and time"),
        Field(name="aperture", label="Aperture", hint="f/8 or T2.8; empty: as measured"),
        Field(name="time", label="Time", hint="1/60 or 180deg 24fps; empty: it is found"),
        *narrowing(profile),
        Field(name="fps", label="Frame rate", hint="the angle is then found", more=True),
        *body_fields(),
    ]


def answer(profile: Profile | None, params: Params) -> Answer:
    """Return what to set, or what to type first."""
    body = needed(profile)
    if not text(params, "reading"):
        return asking("Type what the meter shows.")
    ask = SettingsAsk(
        reading=text(params, "reading"),
        iso=iso_of(params),
        aperture=optional(params, "aperture"),
        time=optional(params, "time"),
        fps=number(params, "fps", low=1.0, high=10_000.0),
        **on_body(params),
    )
    try:
        return settings_answer(settings(body.data, ask))
    except ExposureError as error:
        if error.field == "iso" and ask.iso is None:
            return asking("Choose the ISO label; or type aperture and time, for the best label.")
        raise


TOOL: Final = Tool(
    title="Settings",
    purpose="What to set on the meter or on the camera.",
    form=form,
    answer=answer,
    shared=("profile", "iso", "reading", "mode", "light"),
)
