"""Page 1, Series, while it is being shot: frames as they come, readings, a view for the wall."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from profiler.errors import ExposureError, GreytareError
from profiler.follow.records import FollowAsk, Growing
from profiler.records import MODES
from profiler.show.answer import Answer, asking
from profiler.show.follow import follow_answer
from profiler.web import folders
from profiler.web.fields import form_of, query
from profiler.web.follow.following import Following
from profiler.web.plot import plot_data
from profiler.web.rendering import SessionHere, fragment, page, sentence
from profiler.web.series.cells import Edit
from profiler.web.series.open_series import OpenSeries
from profiler.web.session import Session

router = APIRouter()
Form = Annotated[dict[str, str], Depends(form_of)]


@router.get("/series/follow")
def follow(
    session: SessionHere, folder: str = "", trouble: str = "", typed: str = ""
) -> HTMLResponse:
    """What is to be shot, or what has come of it; typed: what was refused, to be corrected."""
    return _page(session, session.series(folder), "follow.html", trouble, typed)


@router.get("/series/wall")
def wall(session: SessionHere, folder: str = "") -> HTMLResponse:
    """The response line and one sentence, to be read across a room."""
    return _page(session, session.series(folder), "wall.html")


@router.get("/series/follow/answer")
def answer(session: SessionHere, folder: str) -> JSONResponse:
    """What is known now, for the script."""
    return JSONResponse(_plain(session.following(session.series(folder))))


@router.post("/series/follow/start")
async def start(session: SessionHere, form: Form) -> Response:
    """Begin to follow a folder."""
    return await _change(
        session, form, lambda here: session.follow(here, _ask(form)), form.get("iso", "")
    )


@router.post("/series/follow/reading")
async def reading(session: SessionHere, form: Form) -> Response:
    """Write a reading into the sheet, for one frame or for all that come."""
    return await _change(
        session, form, lambda here: _write_reading(here, form), form.get("reading", "")
    )


@router.post("/series/follow/end")
async def end(session: SessionHere, form: Form) -> Response:
    """End, write the lens-cap frames into the sheet, and lead to the fit."""

    def finish() -> str:
        here = session.series(form.get("folder", ""))
        path = folders.relative(session.start, here.folder)
        state = session.end_following(here)
        try:
            if state is not None and state.caps:
                edits = [
                    Edit(row=None, file=file, values={"reading": "dark"}) for file in state.caps
                ]
                here.save_edits(edits, here.cells().version)
            if state is not None and state.frames:
                here.start_measuring("auto")
        except GreytareError as error:
            return f"/series/follow?{query(folder=path, trouble=sentence(error))}"
        return f"/result?{query(folder=path)}"

    return RedirectResponse(await run_in_threadpool(finish), status_code=303)


async def _change(
    session: Session, form: Form, act: Callable[[OpenSeries], object], typed: str
) -> Response:
    """Act on the folder that the form names, then the page again; what was refused stays typed."""

    def work() -> dict[str, str]:
        here = session.series(form.get("folder", ""))
        asked = {"folder": folders.relative(session.start, here.folder)}
        try:
            act(here)
        except GreytareError as error:
            asked |= {"trouble": sentence(error), "typed": typed}
        return asked

    asked = await run_in_threadpool(work)
    return RedirectResponse(f"/series/follow?{query(**asked)}", status_code=303)


def _page(
    session: Session, here: OpenSeries, template: str, trouble: str = "", typed: str = ""
) -> HTMLResponse:
    running = session.following(here)
    path = folders.relative(session.start, here.folder)
    name = here.folder.name if path else session.start.name
    given = _plain(running)
    return page(
        template,
        here="series",
        title=f"Following {name}",
        folder=path,
        name=name,
        running=running is not None,
        modes=MODES,
        mode=_last_mode(here),
        given=given,
        trouble=trouble,
        typed=typed,
    )


def _plain(running: Following | None) -> dict[str, Any]:
    """Headline, the rest as HTML, points: what page and script show alike."""
    plot: dict[str, Any] | None = None
    state: Growing | None = None
    if running is None:
        said: Answer = asking("This folder isn't followed yet.")
    else:
        state = running.state()
        said, plot = follow_answer(state), plot_data(state)
    wrong = state is not None and any(state.latest in each.files for each in state.wrong)
    lost = running.error if running is not None else None
    return {
        "headline": said.headline,
        "wrong": wrong,
        "html": fragment("answer.html", answer=said),
        "plot": plot,
        "latest": state.latest if state is not None else "",
        "running": running is not None,
        "trouble": sentence(lost) if lost is not None else "",
    }


def _ask(form: dict[str, str]) -> FollowAsk:
    words = re.split(r"[\s,;]+", form.get("iso", "").strip())
    try:
        isos = tuple(sorted({int(word) for word in words if word}))
    except ValueError as error:
        raise ExposureError(
            "these aren't ISO labels", "", "Write for example 100, 400", "iso"
        ) from error
    single = form.get("copies", "2") == "1"
    return FollowAsk(
        isos=isos,
        short="short" in form,
        copies=1 if single else 2,
        darks=0 if form.get("darks", "2") == "0" else 2,
    )


def _last_mode(here: OpenSeries) -> str:
    """The mode of the sheet's last reading: the next one is most likely read alike."""
    try:
        cells = here.cells()
    except GreytareError:
        return ""
    modes = [cells.cell(row, "mode").lower() for row in range(len(cells.rows))]
    return next((mode for mode in reversed(modes) if mode in MODES), "")


def _write_reading(here: OpenSeries, form: dict[str, str]) -> None:
    """Put a typed reading into the row that the file has, or into a new one."""
    file = form.get("file", "*")
    cells = here.cells()
    own = cells.rows_by_file([file]).get(file, [])
    rows = [row for row in own if not cells.cell(row, "reading")]
    again = own if file != "*" else []
    row = rows[0] if rows else again[0] if again else None
    values = {"reading": form.get("reading", ""), "mode": form.get("mode", "")}
    here.save_edits([Edit(row=row, file=file, values=values)], cells.version)
