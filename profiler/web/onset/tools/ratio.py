"""The tab Ratio."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from profiler.onset.lookup import meter_of
from profiler.onset.ratio import RatioAsk, ratio_of
from profiler.records import MODES, Meter
from profiler.show.answer import Answer, asking
from profiler.show.inputs import LOSS
from profiler.show.onset.ratio import ratio_answer
from profiler.web.fields import (
    Field,
    Params,
    input_field,
    one_of,
    optional,
    plain,
    several,
    text,
    typed,
)
from profiler.web.onset.shared import (
    FLASH_MODES,
    READING_HINT,
    STEADY_MODES,
    Tool,
    iso_of,
    rows_of,
    shown_rows,
)

if TYPE_CHECKING:
    from profiler.onset.profile import Profile

_LAMPS_SHOWN: Final = 2


def form(_: Profile | None, params: Params) -> list[Field]:
    """Return the fields."""
    return [
        Field(name="key", label="Key reading", hint=READING_HINT, big=True),
        Field(name="fill", label="Fill reading", hint=READING_HINT, big=True),
        Field(
            name="lamp",
            label="Further lights",
            hint="each read alone; empty: none",
            pairs=shown_rows(params, "lamp", _LAMPS_SHOWN),
            pair="light",
        ),
        Field(name="wanted", label="Wanted", hint="hair=1 stop under; fill=4:1; separated by ;"),
        Field(name="aperture", label="Aperture for the sum", hint="f/8: what to turn for it"),
        Field(
            name="ambient_mode",
            label="Meter mode",
            choices=plain((*STEADY_MODES, *FLASH_MODES), "by the form of the reading"),
            more=True,
        ),
        Field(name="iso", label="ISO label", value="100", numeric=True, more=True),
        Field(name="time", label="Time", hint="1/60; steady light needs it", more=True),
        input_field(LOSS),
    ]


def answer(profile: Profile | None, params: Params) -> Answer:
    """Return how lights stand to the key, or what to type first."""
    key, fill = text(params, "key"), text(params, "fill")
    lamps = [(name, reading) for name, reading in rows_of(params, "lamp") if reading]
    others = [f"{name}={reading}" if name else reading for name, reading in lamps]
    if fill:
        others = [fill, *others]
    if not key or not others:
        return asking("Type the readings of key and fill, each read alone.")
    ask = RatioAsk(
        key=key,
        fill=others,
        wanted=several(params, "wanted"),
        aperture=optional(params, "aperture"),
        time=optional(params, "time"),
        iso=iso_of(params) or 100,
        ambient_mode=one_of(params, "ambient_mode", ("", *MODES), "") or None,
        **typed((LOSS,), params),
    )
    return ratio_answer(ratio_of(ask, Meter() if profile is None else meter_of(profile.data)))


TOOL: Final = Tool(
    title="Ratio",
    purpose="How lights stand to the key, and which to turn.",
    form=form,
    answer=answer,
    shared=("profile",),
)
