"""The tab Ratio."""

from __future__ import annotations

from typing import Final

from profiler.onset.lookup import meter_of
from profiler.onset.profile import Profile
from profiler.onset.ratio import RatioAsk, ratio_of
from profiler.records import MODES, Meter
from profiler.show.answer import Answer, asking
from profiler.show.inputs import LOSS
from profiler.show.onset.ratio import ratio_answer
from profiler.web import fields
from profiler.web.fields import Field, Params
from profiler.web.onset import shared

_LAMPS_SHOWN: Final = 2
_MODES: Final = (*shared.STEADY_MODES, *shared.FLASH_MODES)


def form(_: Profile | None, params: Params) -> list[Field]:
    """Return the fields."""
    return [
        Field(name="key", label="Key reading", hint=shared.READING_HINT, big=True),
        Field(name="fill", label="Fill reading", hint=shared.READING_HINT, big=True),
        Field(
            name="lamp",
            label="Further lights",
            hint="each read alone; empty: none",
            pairs=shared.shown_rows(params, "lamp", _LAMPS_SHOWN),
            pair="light",
        ),
        Field(name="wanted", label="Wanted", hint="hair=1 stop under; fill=4:1; separated by ;"),
        Field(name="aperture", label="Aperture for the sum", hint="f/8: what to turn for it"),
        Field(
            name="ambient_mode",
            label="Meter mode",
            choices=fields.plain(_MODES, "by the form of the reading"),
            more=True,
        ),
        Field(name="iso", label="ISO label", value="100", numeric=True, more=True),
        Field(name="time", label="Time", hint="1/60; steady light needs it", more=True),
        fields.input_field(LOSS),
    ]


def answer(profile: Profile | None, params: Params) -> Answer:
    """Return how lights stand to the key, or what to type first."""
    key, fill = fields.text(params, "key"), fields.text(params, "fill")
    lamps = [(name, reading) for name, reading in shared.rows_of(params, "lamp") if reading]
    others = [f"{name}={reading}" if name else reading for name, reading in lamps]
    if fill:
        others = [fill, *others]
    if not key or not others:
        return asking("Type the readings of key and fill, each read alone.")
    ask = RatioAsk(
        key=key,
        fill=others,
        wanted=fields.several(params, "wanted"),
        aperture=fields.optional(params, "aperture"),
        time=fields.optional(params, "time"),
        iso=shared.iso_of(params) or 100,
        ambient_mode=fields.one_of(params, "ambient_mode", ("", *MODES), "") or None,
        **fields.typed((LOSS,), params),
    )
    return ratio_answer(ratio_of(ask, Meter() if profile is None else meter_of(profile.data)))


TOOL: Final = shared.Tool(
    title="Ratio",
    purpose="How lights stand to the key, and which to turn.",
    form=form,
    answer=answer,
    shared=("profile",),
)
