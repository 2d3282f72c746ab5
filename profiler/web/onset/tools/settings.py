"""The tab Settings."""

from __future__ import annotations

from typing import Final

from profiler.errors import ExposureError
from profiler.onset.profile import Profile
from profiler.onset.settings import SettingsAsk, settings
from profiler.show.answer import Answer, asking
from profiler.show.onset.settings import settings_answer
from profiler.web import fields
from profiler.web.fields import Field, Params
from profiler.web.onset import shared


def form(profile: Profile | None, _: Params) -> list[Field]:
    """Return the fields."""
    if profile is None:
        return []
    return [
        Field(name="reading", label="Meter reading", hint=shared.reading_hint(profile), big=True),
        shared.iso_field(profile, "best one for aperture and time"),
        Field(name="aperture", label="Aperture", hint="f/8 or T2.8; empty: as measured"),
        Field(name="time", label="Time", hint="1/60 or 180deg 24fps; empty: it is found"),
        *shared.narrowing(profile),
        Field(name="fps", label="Frame rate", hint="the angle is then found", more=True),
        *shared.body_fields(),
    ]


def answer(profile: Profile | None, params: Params) -> Answer:
    """Return what to set, or what to type first."""
    body = shared.needed(profile)
    if not fields.text(params, "reading"):
        return asking("Type what the meter shows.")
    ask = SettingsAsk(
        reading=fields.text(params, "reading"),
        iso=shared.iso_of(params),
        aperture=fields.optional(params, "aperture"),
        time=fields.optional(params, "time"),
        fps=fields.number(params, "fps", low=1.0, high=10_000.0),
        **shared.on_body(params),
    )
    try:
        return settings_answer(settings(body.data, ask))
    except ExposureError as error:
        if error.field == "iso" and ask.iso is None:
            return asking("Choose the ISO label; or type aperture and time, for the best label.")
        raise


TOOL: Final = shared.Tool(
    title="Settings",
    purpose="What to set on the meter or on the camera.",
    form=form,
    answer=answer,
    shared=("profile", "iso", "reading", "mode", "light"),
)
