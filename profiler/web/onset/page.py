"""Page 3, On set: settings, place, mix, ratio, answered while they are typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fastapi import APIRouter, Request
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse

from profiler.errors import GreytareError
from profiler.web import fields, profiles
from profiler.web.answer import Answer
from profiler.web.onset import answers as onset_answers
from profiler.web.onset import fields as onset_fields
from profiler.web.onset import mix_answers
from profiler.web.page import SessionHere, field_of, page, refusal, sentence

if TYPE_CHECKING:
    from profiler.onset.profile import Profile
    from profiler.web.fields import Field, Params

router = APIRouter()

TOOLS: Final = {
    "settings": ("Settings", "What to set on the meter or on the camera."),
    "place": ("Place", "Where the parts of a scene land: safe, in doubt or lost."),
    "mix": ("Mix", "Flash and ambient light added as light."),
    "ratio": ("Ratio", "Key against fill."),
}
_WITHOUT_PROFILE: Final = ("mix", "ratio")


@router.get("/onset/{tool}")
def onset(session: SessionHere, request: Request, tool: str) -> HTMLResponse:
    """The form of one tool with its answer, which works without any script too."""
    _known(tool)
    params = request.query_params
    known, chosen = profiles.choose(session, params.get("profile", ""))
    answer: Answer | None = None
    error, field, form = "", "", []
    try:
        profile = profiles.load(session, chosen)
        form = _fields(tool, profile, params)
        if form:
            answer = _answer(tool, profile, params, form)
    except GreytareError as fault:
        error, field = sentence(fault), field_of(fault, onset_fields.names_of(form))
    return page(
        "onset.html",
        here="onset",
        title=f"{TOOLS[tool][0]}, on set",
        status=400 if error else 200,
        tools=TOOLS,
        tool=tool,
        form=form,
        profile=profiles.profile_field(known, chosen),
        known=known,
        chosen=chosen,
        answer=answer,
        error=error,
        field=field,
    )


@router.get("/onset/{tool}/answer")
def onset_answer(session: SessionHere, request: Request, tool: str) -> JSONResponse:
    """The answer alone, for the script."""
    _known(tool)
    params = request.query_params
    form: list[Field] = []
    try:
        _, chosen = profiles.choose(session, params.get("profile", ""))
        profile = profiles.load(session, chosen)
        form = _fields(tool, profile, params)
        answer = _answer(tool, profile, params, form)
    except GreytareError as fault:
        return refusal(fault, onset_fields.names_of(form))
    return JSONResponse(answer.plain())


def _known(tool: str) -> None:
    if tool not in TOOLS:
        raise HTTPException(status_code=404)


def _fields(tool: str, profile: Profile | None, params: Params) -> list[Field]:
    """The fields with what came in; none where the tool needs a profile and there is none."""
    if tool == "ratio":
        return fields.filled(onset_fields.ratio_fields(), params)
    if tool == "mix":
        return fields.filled(onset_fields.mix_fields(profile), params)
    if profile is None:
        return []
    if tool == "settings":
        return fields.filled(onset_fields.settings_fields(profile), params)
    scene = list(zip(params.getlist("spot_name"), params.getlist("spot"), strict=False))
    pairs = tuple((name[:60], reading[:300]) for name, reading in scene if name or reading)
    return fields.filled(onset_fields.place_fields(profile, pairs), params)


def _answer(tool: str, profile: Profile | None, params: Params, form: list[Field]) -> Answer:
    """The answer to the fields as they stand, defaults counted."""
    asked = fields.complete(form, params)
    if tool == "ratio":
        return mix_answers.ratio_answer(profile, asked)
    if tool == "mix":
        return mix_answers.mix_answer(profile, asked)
    if profile is None:
        raise GreytareError(
            "there is no profile yet", "", "Measure a series and save its profile first", "profile"
        )
    make: Any = onset_answers.settings_answer if tool == "settings" else onset_answers.place_answer
    found: Answer = make(profile, asked)
    return found
