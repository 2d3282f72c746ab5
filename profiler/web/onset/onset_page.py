"""Page 3, On set: tools that answer while one types."""

from __future__ import annotations

from dataclasses import asdict
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter, Request
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse

from profiler.errors import GreytareError
from profiler.show.answer import Answer
from profiler.web import fields, profiles
from profiler.web.fields import Params
from profiler.web.onset import tools
from profiler.web.onset.shared import Tool
from profiler.web.rendering import SessionHere, field_of, page, plain, refusal, sentence

if TYPE_CHECKING:
    from profiler.onset.profile import Profile
    from profiler.web.fields import Field
    from profiler.web.session import Session

router = APIRouter()

_ORDER: Final = ("settings", "place", "mix", "ratio", "convert")
_THERE: Final = sorted(path.stem for path in Path(tools.__path__[0]).glob("[!_]*.py"))

TOOLS: Final[dict[str, Tool]] = {
    name: import_module(f"{tools.__name__}.{name}").TOOL
    for name in dict.fromkeys([*_ORDER, *_THERE])
}
"""Name -> tab; those that the order doesn't name come last."""


@router.get("/onset/{name}")
def onset(session: SessionHere, request: Request, name: str) -> HTMLResponse:
    """The form of one tool with its answer, which works without any script too."""
    tool = _known(name)
    params = session.kept.recall(name, request.query_params, tool.shared)
    answer: Answer | None = None
    error, field, form = "", "", []
    choice = profiles.choose(session, params.get("profile", ""))
    try:
        profile = _profile(session, tool, choice)
        if not request.query_params:
            params = _offered(params, tool.form(profile, params))
        session.kept.keep(name, params, tool.shared)
        form = fields.filled(tool.form(profile, params), params)
        answer = tool.answer(profile, fields.complete(form, params)) if form else choice.asks
    except GreytareError as fault:
        error, field = sentence(fault), field_of(fault, _names(form))
    return page(
        "onset.html",
        here="onset",
        title=f"{tool.title}, on set",
        status=400 if error else 200,
        tools=TOOLS,
        name=name,
        tool=tool,
        form=form,
        profile=profiles.profile_field(choice),
        known=choice.known if _asks_profile(tool) else [],
        answer=answer,
        scale=None if answer is None or answer.marks is None else asdict(answer.marks),
        error=error,
        field=field,
    )


@router.get("/onset/{name}/answer")
def onset_answer(session: SessionHere, request: Request, name: str) -> JSONResponse:
    """The answer alone, for the script."""
    tool, params = _known(name), request.query_params
    session.kept.keep(name, params, tool.shared)
    form: list[Field] = []
    try:
        choice = profiles.choose(session, params.get("profile", ""))
        profile = _profile(session, tool, choice)
        form = tool.form(profile, params)
        asks = None if form else choice.asks
        answer = asks or tool.answer(profile, fields.complete(form, params))
    except GreytareError as fault:
        return refusal(fault, _names(form))
    return JSONResponse(plain(answer))


def _known(name: str) -> Tool:
    if name not in TOOLS:
        raise HTTPException(status_code=404)
    return TOOLS[name]


def _asks_profile(tool: Tool) -> bool:
    return "profile" in tool.shared


def _profile(session: Session, tool: Tool, choice: profiles.Choice) -> Profile | None:
    """The profile that the tool answers from, None where it needs none or there is none."""
    if not _asks_profile(tool):
        return None
    return profiles.load(session, choice.chosen)


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


def _names(form: list[Field]) -> tuple[str, ...]:
    return tuple(each.name for each in form)
