"""Page 3, On set: settings, place, mix, ratio, convert, answered while they are typed."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter, Request
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse

from profiler.errors import ExposureError, GreytareError
from profiler.onset.lookup import meter_of
from profiler.records import Meter
from profiler.show.answer import Answer, asking
from profiler.web import fields, profiles
from profiler.web.fields import Params
from profiler.web.onset import asked, forms
from profiler.web.rendering import SessionHere, field_of, page, plain, refusal, sentence

if TYPE_CHECKING:
    from profiler.onset.profile import Profile
    from profiler.web.fields import Field

router = APIRouter()

TOOLS: Final = {
    "settings": ("Settings", "What to set on the meter or on the camera."),
    "place": ("Place", "Where the parts of a scene land: safe, in doubt or lost."),
    "mix": ("Mix", "Flash and ambient light added as light."),
    "ratio": ("Ratio", "How lights stand to the key, and which to turn."),
    "convert": ("Convert", "One quantity as all the others that stand for the same thing."),
}


_SHARED: Final = {
    "settings": ("profile", "iso", "reading", "mode", "light"),
    "place": ("profile", "iso", "key", "mode", "light"),
    "mix": ("profile", "iso"),
    "ratio": ("profile",),
    "convert": ("profile",),
}
"""Which of the fields that all tabs share each tool has."""


@router.get("/onset/{tool}")
def onset(session: SessionHere, request: Request, tool: str) -> HTMLResponse:
    """The form of one tool with its answer, which works without any script too."""
    _known(tool)
    params = session.kept.recall(tool, request.query_params, _SHARED[tool])
    known, chosen = profiles.choose(session, params.get("profile", ""))
    answer: Answer | None = None
    error, field, form = "", "", []
    try:
        profile = profiles.load(session, chosen)
        if not request.query_params:
            params = _offered(params, fields_of(tool, profile, params))
        session.kept.keep(tool, params)
        form = fields_of(tool, profile, params)
        if form:
            answer = answer_of(tool, profile, fields.complete(form, params))
    except GreytareError as fault:
        error, field = sentence(fault), field_of(fault, forms.names_of(form))
    return page(
        "onset.html",
        here="onset",
        title=f"{TOOLS[tool][0]}, on set",
        status=400 if error else 200,
        tools=TOOLS,
        tool=tool,
        form=form,
        profile=profiles.profile_field(known, chosen),
        known=known if tool != "convert" else [],
        chosen=chosen,
        answer=answer,
        scale=None if answer is None or answer.marks is None else asdict(answer.marks),
        error=error,
        field=field,
    )


@router.get("/onset/{tool}/answer")
def onset_answer(session: SessionHere, request: Request, tool: str) -> JSONResponse:
    """The answer alone, for the script."""
    _known(tool)
    params = request.query_params
    session.kept.keep(tool, params)
    form: list[Field] = []
    try:
        _, chosen = profiles.choose(session, params.get("profile", ""))
        profile = profiles.load(session, chosen)
        form = fields_of(tool, profile, params)
        answer = answer_of(tool, profile, fields.complete(form, params))
    except GreytareError as fault:
        return refusal(fault, forms.names_of(form))
    return JSONResponse(plain(answer))


def _offered(params: Params, form: list[Field]) -> Params:
    """What was kept, without a choice that this profile's lists don't offer."""
    lists = {each.name: {value for value, _ in each.choices} for each in form if each.choices}
    return Params(
        [
            (name, value)
            for name, value in params.multi_items()
            if name not in lists or value in lists[name]
        ]
    )


def _known(tool: str) -> None:
    if tool not in TOOLS:
        raise HTTPException(status_code=404)


def fields_of(tool: str, profile: Profile | None, params: Params) -> list[Field]:
    """The fields with what came in; none where the tool needs a profile and there is none."""
    if tool == "convert":
        return fields.filled(forms.convert_fields(), params)
    if tool == "ratio":
        return fields.filled(forms.ratio_fields(_pairs(params, "lamp")), params)
    if tool == "mix":
        return fields.filled(forms.mix_fields(profile), params)
    if profile is None:
        return []
    if tool == "settings":
        return fields.filled(forms.settings_fields(profile), params)
    return fields.filled(forms.place_fields(profile, _pairs(params, "spot")), params)


def _pairs(params: Params, name: str) -> tuple[tuple[str, str], ...]:
    """Names and readings of rows as they came in."""
    rows = zip(params.getlist(f"{name}_name"), params.getlist(name), strict=False)
    return tuple((called[:60], reading[:300]) for called, reading in rows if called or reading)


def answer_of(tool: str, profile: Profile | None, params: Params) -> Answer:
    """The answer to the fields as they stand, defaults counted."""
    if tool == "convert":
        return _convert(params)
    if tool == "ratio":
        return ratio_of(profile, params)
    if tool == "mix":
        return mix_of(profile, params)
    if profile is None:
        raise GreytareError(
            "there is no profile yet", "", "Measure a series and save its profile first", "profile"
        )
    return settings_of(profile, params) if tool == "settings" else place_of(profile, params)


def settings_of(profile: Profile, params: Params) -> Answer:
    """Return what to set, or what to type first."""
    from profiler.onset.settings import settings
    from profiler.show.onset.settings import settings_answer

    ask = asked.settings_ask(params)
    if isinstance(ask, str):
        return asking(ask)
    try:
        return settings_answer(settings(profile.data, ask))
    except ExposureError as error:
        if error.field == "iso" and ask.iso is None:
            return asking("Choose the ISO label; or type aperture and time, for the best label.")
        raise


def place_of(profile: Profile, params: Params) -> Answer:
    """Return where a scene lands, or what to type first."""
    from profiler.onset.place import place
    from profiler.show.onset.place import place_answer

    ask = asked.place_ask(params)
    return asking(ask) if isinstance(ask, str) else place_answer(place(profile.data, ask))


def mix_of(profile: Profile | None, params: Params) -> Answer:
    """Return flash and ambient added up, or what to type first."""
    from profiler.onset.mix_camera import mixed_light
    from profiler.show.onset.mix import mix_answer

    ask = asked.mix_ask(params)
    if isinstance(ask, str):
        return asking(ask)
    return mix_answer(mixed_light(ask, None if profile is None else profile.data))


def ratio_of(profile: Profile | None, params: Params) -> Answer:
    """Return key against fill, or what to type first."""
    from profiler.onset import ratio
    from profiler.show.onset.ratio import ratio_answer

    ask = asked.ratio_ask(params)
    if isinstance(ask, str):
        return asking(ask)
    return ratio_answer(ratio.ratio_of(ask, Meter() if profile is None else meter_of(profile.data)))


def _convert(params: Params) -> Answer:
    from profiler.onset.convert import converted
    from profiler.show.onset.convert import convert_answer

    ask = asked.convert_ask(params)
    return asking(ask) if isinstance(ask, str) else convert_answer(converted(ask))
