"""The tab Mix."""

from __future__ import annotations

from typing import Any, Final

from profiler.onset.mix import HOLDS
from profiler.onset.mix_camera import MixAsk, mixed_light
from profiler.onset.profile import Profile
from profiler.show.answer import Answer, asking
from profiler.show.inputs import LOSS, MARKS, TRANSMISSION
from profiler.show.onset.mix import mix_answer
from profiler.web import fields
from profiler.web.fields import Field, Params
from profiler.web.onset import shared


def form(profile: Profile | None, _: Params) -> list[Field]:
    """Return the fields."""
    iso = Field(name="iso", label="ISO label", hint="empty: 100", numeric=True)
    if profile is not None:
        iso = shared.iso_field(profile, "100, or the only one")
    return [
        Field(name="flash", label="Flash reading", hint="f/8+3 ISO 100", big=True),
        Field(name="flash2", label="Second flash", hint="read alone; empty: none"),
        Field(name="ambient", label="Ambient reading", hint="EV 8.0; empty: none"),
        Field(name="time", label="Time", hint="1/60; it sets the ambient light"),
        Field(
            name="flash_reading",
            label="Flash was read",
            choices=(
                ("", "choose"),
                ("alone", "alone"),
                ("with-ambient", "with the ambient light in it"),
            ),
        ),
        iso,
        Field(name="aperture", label="Aperture that stays", hint="f/8: the flash is turned for it"),
        Field(name="share", label="Wanted part of flash", hint="in %, such as 70", numeric=True),
        Field(
            name="over", label="Wanted flash over ambient", hint="in stops, such as 1", more=True
        ),
        Field(name="total", label="Reading of the whole", hint="a part is found", more=True),
        Field(name="pops", label="Number of pops", value="1", numeric=True, more=True),
        Field(
            name="flash_mode",
            label="Flash meter mode",
            value="flash-flat",
            choices=fields.plain(shared.FLASH_MODES),
            more=True,
        ),
        Field(
            name="ambient_mode",
            label="Ambient meter mode",
            value="incident-flat",
            choices=fields.plain(shared.STEADY_MODES),
            more=True,
        ),
        *(fields.input_field(each) for each in (LOSS, TRANSMISSION, MARKS)),
    ]


def answer(profile: Profile | None, params: Params) -> Answer:
    """Return flash and ambient added up, or what to type first."""
    typed = [fields.text(params, name) for name in ("flash", "flash2")]
    flashes = [each for each in typed if each]
    ambient, total = fields.optional(params, "ambient"), fields.optional(params, "total")
    holds: Any = fields.one_of(params, "flash_reading", ("", *HOLDS), "") or None
    if not flashes and total is None:
        return asking("Type what the flash meter showed, such as f/8 ISO 100.")
    if ambient is not None and not fields.text(params, "time"):
        return asking("Type the camera's time: it sets the ambient light.")
    if ambient is not None and flashes and total is None and holds is None:
        return asking("Say whether the flash was read alone or with the ambient light.")
    share = fields.number(params, "share", low=1, high=99, unit="%")
    ask = MixAsk(
        iso=shared.iso_of(params),
        flash=flashes,
        ambient=ambient,
        total=total,
        flash_reading=holds,
        time=fields.optional(params, "time"),
        pops=fields.whole(params, "pops", 1, low=1, high=99),
        share=None if share is None else share / 100.0,
        over_ambient_ev=fields.number(params, "over", low=-20.0, high=20.0),
        mode=fields.one_of(params, "flash_mode", shared.FLASH_MODES, "flash-flat"),
        ambient_mode=fields.one_of(params, "ambient_mode", shared.STEADY_MODES, "incident-flat"),
        light=fields.optional(params, "light"),
        aperture=fields.optional(params, "aperture"),
        **fields.typed((LOSS, TRANSMISSION, MARKS), params),
    )
    return mix_answer(mixed_light(ask, None if profile is None else profile.data))


TOOL: Final = shared.Tool(
    title="Mix",
    purpose="Flash and ambient light added as light.",
    form=form,
    answer=answer,
    shared=("profile", "iso"),
)
