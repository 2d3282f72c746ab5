"""The tab Place."""

from __future__ import annotations

from typing import Any, Final

from profiler.onset.metered import AVERAGES
from profiler.onset.place import AIM, METER, PlaceAsk, place
from profiler.onset.placement import Spot
from profiler.onset.profile import Profile
from profiler.show.answer import Answer, asking
from profiler.show.onset.place import place_answer
from profiler.web import fields
from profiler.web.fields import Field, Params
from profiler.web.onset import shared

_BY_SETTING: Final = "setting"
_SPOTS_SHOWN: Final = 4


def form(profile: Profile | None, params: Params) -> list[Field]:
    """Return the fields."""
    if profile is None:
        return []
    return [
        shared.iso_field(profile, "choose"),
        Field(name="key", label="Key reading", hint=shared.reading_hint(profile), big=True),
        Field(
            name="exposure",
            label="Exposure",
            value=AIM,
            choices=(
                (AIM, "the key on the aim"),
                (METER, "as the meter asks for the key"),
                (_BY_SETTING, "by the camera's setting"),
            ),
        ),
        Field(name="setting", label="Camera setting", hint="f/8 1/60; for that choice only"),
        Field(
            name="spot",
            label="Spots",
            hint="two readings of one: EV 10.2; EV 11.0",
            pairs=shared.shown_rows(params, "spot", _SPOTS_SHOWN),
        ),
        *shared.narrowing(profile),
        Field(name="keep", label="Must not clip", hint="names of spots; by ;", more=True),
        Field(name="shadow", label="Must not sink", hint="names of spots; by ;", more=True),
        *shared.body_fields(),
    ]


def answer(profile: Profile | None, params: Params) -> Answer:
    """Return where a scene lands, or what to type first."""
    body = shared.needed(profile)
    scene, key, iso = _scene(params), fields.optional(params, "key"), shared.iso_of(params)
    if key is None and not len(scene):
        return asking("Type the key reading, or a spot with its reading.")
    if iso is None:
        return asking("Choose the ISO label.")
    exposure = fields.one_of(params, "exposure", (AIM, METER, _BY_SETTING), AIM)
    setting = fields.text(params, "setting")
    if exposure == _BY_SETTING and not setting:
        return asking("Type the camera's setting, such as f/8 1/60.")
    ask = PlaceAsk(
        iso=iso,
        key=key,
        spots=scene,
        setting=setting if exposure == _BY_SETTING else exposure,
        keep=fields.several(params, "keep"),
        shadows=fields.several(params, "shadow"),
        **shared.on_body(params),
    )
    return place_answer(place(body.data, ask))


def _scene(params: Params) -> list[Spot]:
    """The named spots; one without a name gets a number."""
    average: Any = fields.one_of(params, "average", AVERAGES, "stops")
    spots = []
    for number, (name, typed) in enumerate(shared.rows_of(params, "spot"), start=1):
        parts = tuple(part.strip() for part in typed.split(";") if part.strip())
        if parts:
            spots.append(Spot(name=name or f"spot {number}", texts=parts, average=average))
    return spots


TOOL: Final = shared.Tool(
    title="Place",
    purpose="Where the parts of a scene land: safe, in doubt or lost.",
    form=form,
    answer=answer,
    shared=("profile", "iso", "key", "mode", "light"),
    scale=True,
)
