"""Page 4, Check: does the profile still hold for one or two frames of the card?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse

from profiler.errors import GreytareError
from profiler.records import LIGHTS, MODES
from profiler.show.answer import Answer, asking
from profiler.web import fields, folders, profiles
from profiler.web.fields import Field, Params, optional, plain, several, text
from profiler.web.rendering import SessionHere, field_of, page, refusal, sentence
from profiler.web.rendering import plain as as_json
from profiler.web.session import Session

if TYPE_CHECKING:
    from profiler.onset.profile import Profile

router = APIRouter()
_SHARED = ("profile", "folder", "reading", "mode", "light")
_FIELDS = ("profile", "folder", "frame", "reading", "mode", "light", "loss")


@router.get("/check")
def check(session: SessionHere, request: Request) -> HTMLResponse:
    """The form; with an answer where everything has been chosen."""
    params = session.kept.recall("check", request.query_params, _SHARED)
    session.kept.keep("check", params, _SHARED)
    choice = profiles.choose(session, params.get("profile", ""))
    listed = folders.folders_with_frames(session.start)
    folder = params.get("folder", "")
    if folder not in listed:
        folder = listed[0] if listed and not request.query_params else folder
    answer, error, field = None, "", ""
    frames: list[tuple[str, bool]] = []
    try:
        if listed:
            wanted = params.getlist("frame")
            names = [path.name for path in session.series(folder).frames()]
            frames = [(name, name in wanted) for name in names]
        profile = profiles.load(session, choice.chosen)
        answer = choice.asks
        if profile is not None:
            answer = _answer(session, profile, params)
    except GreytareError as fault:
        error, field = sentence(fault), field_of(fault, _FIELDS)
    return page(
        "check.html",
        here="plan",
        title="Check a profile",
        status=400 if error else 200,
        profile=profiles.profile_field(choice),
        folder=Field(
            name="folder",
            label="Folder",
            value=folder,
            choices=tuple((each, each or "start folder") for each in listed),
            reload=True,
        ),
        frames=frames,
        form=fields.filled(_fields(), params),
        answer=answer,
        error=error,
        field=field,
    )


@router.get("/check/answer")
def check_answer(session: SessionHere, request: Request) -> JSONResponse:
    """The verdict alone, for the script."""
    params = request.query_params
    session.kept.keep("check", params, _SHARED)
    try:
        choice = profiles.choose(session, params.get("profile", ""))
        profile = profiles.load(session, choice.chosen)
        if choice.asks is not None:
            return JSONResponse(as_json(choice.asks))
        if profile is None:
            raise GreytareError(
                "there is no profile yet", "", "Save one under Result first", "profile"
            )
        answer = _answer(session, profile, params)
    except GreytareError as fault:
        return refusal(fault, _FIELDS)
    return JSONResponse(as_json(answer))


def _fields() -> list[Field]:
    return [
        Field(name="reading", label="Meter reading", hint="what it showed for them", big=True),
        Field(name="mode", label="Meter mode", choices=plain(MODES, "the profile's only one")),
        Field(
            name="light", label="Light", choices=plain(LIGHTS, "the profile's only one"), more=True
        ),
        Field(name="loss", label="Filters and losses", hint="ND 0.9; separated by ;", more=True),
    ]


def _answer(session: Session, profile: Profile, params: Params) -> Answer:
    from profiler.web.series.open_series import AUTO

    wanted = params.getlist("frame")
    if not wanted:
        return asking("Choose one or two frames of the grey card.")
    if len(wanted) > 2:
        raise GreytareError("these are too many frames", "", "Choose one, or two alike", "frame")
    if not text(params, "reading"):
        return asking("Type what the meter showed for them.")
    here = session.series(params.get("folder", ""))
    paths = [path for path in here.frames() if path.name in wanted]
    if not paths:
        raise GreytareError("there is no such frame", "", "Choose one from the list", "frame")
    from profiler.show.onset.check import check_answer as verdict_of

    found = profile.check(
        paths,
        text(params, "reading"),
        mode=optional(params, "mode"),
        light=optional(params, "light"),
        loss=several(params, "loss"),
        patch=AUTO if here.measured is None else here.patch,
    )
    return verdict_of(found)
