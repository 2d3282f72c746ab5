"""The tab Mix."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from profiler.onset.mix import HOLDS
from profiler.onset.mix_camera import MixAsk, mixed_light
from profiler.show.answer import Answer, asking
from profiler.show.inputs import LOSS, MARKS, TRANSMISSION
from profiler.show.onset.mix import mix_answer
from profiler.web.fields import (
    Field,
    Params,
    input_field,
    number,
    one_of,
    optional,
    plain,
    text,
    typed,
    whole,
)
from profiler.web.onset.shared import FLASH_MODES, STEADY_MODES, Tool, iso_field, iso_of

if TYPE_CHECKING:
    from profiler.onset.profile import Profile


def form(profile: Profile | None, _: Params) -> list[Field]:
    """Return the fields."""
    iso = Field(name="iso", label="ISO label", hint="empty: 100", numeric=True)
    if profile is not None:
        iso = iso_field(profile, "100, or the only one")
    return [
        Field(name="flash", label="Flash reading", hint="f/8+3 ISO 100", big=True),
        Field(name="flash2", label="Second flash", hint="read alone; empty: none"),
        Field(name="ambient", label="Ambient reading", hint="EV 8; empty: none"),
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
            choices=plain(FLASH_MODES),
            more=True,
        ),
        Field(
            name="ambient_mode",
            label="Ambient meter mode",
            value="incident-flat",
            choices=plain(STEADY_MODES),
            more=True,
        ),
        *(input_field(each) for each in (LOSS, TRANSMISSION, MARKS)),
    ]


def answer(profile: Profile | None, params: Params) -> Answer:
    """Return flash and ambient added up, or what to type first."""
    flashes = [text(params, name) for name in ("flash", "flash2") if text(params, name)]
    ambient, total = optional(params, "ambient"), optional(params, "total")
    holds: Any = one_of(params, "flash_reading", ("", *HOLDS), "") or None
    if not flashes and total is None:
        return asking("Type what the flash meter showed, such as f/8 ISO 100.")
    if ambient is not None and not text(params, "time"):
        return asking("Type the camera's time: it sets the ambient light.")
    if ambient is not None and flashes and total is None and holds is None:
        return asking("Say whether the flash was read alone or with the ambient light.")
    share = number(params, "share", low=1, high=99, unit="%")
    ask = MixAsk(
        iso=iso_of(params),
        flash=flashes,
        ambient=ambient,
        total=total,
        flash_reading=holds,
        time=optional(params, "time"),
        pops=whole(params, "pops", 1, low=1, high=99),
        share=None if share is None else share / 100.0,
        over_ambient_ev=number(params, "over", low=-20.0, high=20.0),
        mode=one_of(params, "flash_mode", FLASH_MODES, "flash-flat"),
        ambient_mode=one_of(params, "ambient_mode", STEADY_MODES, "incident-flat"),
        light=optional(params, "light"),
        aperture=optional(params, "aperture"),
        **typed((LOSS, TRANSMISSION, MARKS), params),
    )
    return mix_answer(mixed_light(ask, None if profile is None else profile.data))


TOOL: Final = Tool(
    title="Mix",
    purpose="Flash and ambient light added as light.",
    form=form,
    answer=answer,
    shared=("profile", "iso"),
)
