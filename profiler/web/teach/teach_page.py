"""Page 6, Teach: sliders on a simulated body."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse

from profiler.errors import GreytareError
from profiler.simulate.hidden import DIFFICULTIES, hide
from profiler.web import fields
from profiler.web.fields import Params
from profiler.web.rendering import SessionHere, fragment, page, refusal, sentence
from profiler.web.session import Session
from profiler.web.teach import find, lesson, sliders

sliders_router = APIRouter()
find_router = APIRouter()
_FIRST_SEED = 11


@sliders_router.get("/teach")
def teach(session: SessionHere, request: Request) -> HTMLResponse:
    """The sliders with what they give."""
    params = request.query_params
    given: dict[str, Any] = {"headline": "", "html": "", "plot": None}
    values = {slider.name: slider.start for slider in sliders.all_sliders()}
    error, seed = "", _FIRST_SEED
    try:
        values = sliders.read_values(params)
        seed = _seed(params)
        given = _plain(_lesson(session, values, seed))
    except GreytareError as fault:
        error = sentence(fault)
    return page(
        "teach.html",
        here="teach",
        title="Teach",
        status=400 if error else 200,
        groups=sliders.SLIDERS,
        values=values,
        seed=seed,
        given=given,
        error=error,
        pages=request.app.state.pages,
        find_it=any(name == "fleet" for name, _, _ in request.app.state.pages),
    )


@sliders_router.get("/teach/answer")
def teach_answer(session: SessionHere, request: Request) -> JSONResponse:
    """What the sliders give, for the script."""
    params = request.query_params
    try:
        given = _lesson(session, sliders.read_values(params), _seed(params))
    except GreytareError as fault:
        return refusal(fault)
    return JSONResponse(_plain(given))


@find_router.get("/teach/find")
def find_it(session: SessionHere, request: Request) -> HTMLResponse:
    """A series with hidden faults: plots, a list to answer from, then the truth."""
    params = request.query_params
    seed, difficulty = _FIRST_SEED, find.read_difficulty({})
    said: dict[str, float] = {}
    error, given, truth = "", None, None
    try:
        seed, difficulty = _seed(params), find.read_difficulty(params)
        given = session.compute.ask(find.task, seed, difficulty)
        said = find.read_said(params)
        if "told" in params:
            truth = find.verdict(hide(seed, difficulty), said)
    except GreytareError as fault:
        error = sentence(fault)
    flags = "flags" in params
    answer = None if given is None else given.flagged if flags else given.plain
    return page(
        "find.html",
        here="teach",
        title="Find it",
        status=400 if error else 200,
        seed=seed,
        another=secrets.randbelow(2**31),
        difficulty=difficulty,
        difficulties=DIFFICULTIES,
        choices=find.choices(said),
        flags=flags,
        answer=answer,
        plot=None if given is None else given.plot,
        truth=truth,
        error=error,
    )


def _lesson(session: Session, values: Mapping[str, float], seed: int) -> lesson.Lesson:
    """What a setting gives, worked out in another process; for a class at the same one, once."""
    return session.compute.ask(lesson.teach_sorted, tuple(sorted(values.items())), seed)


def _seed(params: Params) -> int:
    return fields.whole(params, "seed", _FIRST_SEED, low=0, high=2**31)


def _plain(given: lesson.Lesson) -> dict[str, Any]:
    return {
        "headline": given.answer.headline,
        "html": fragment("answer.html", answer=given.answer),
        "plot": given.plot,
    }
