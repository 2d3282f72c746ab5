"""Page 5, Fleet: the table, differences, drift, one body, answered while they are filtered."""

from __future__ import annotations

import contextlib
from types import ModuleType
from typing import Final

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from profiler.errors import GreytareError
from profiler.fleet.batch.store import PROFILE
from profiler.fleet.rowsfile import rows_csv
from profiler.web import folders
from profiler.web.fields import Field, filled, keeping
from profiler.web.fleet import differences, drifting, fleet_table, one_body
from profiler.web.fleet.query import (
    SHARED,
    TYPING_S,
    Query,
    ask,
    ask_plainly,
    folder_field,
    tolerances_field,
)
from profiler.web.fleet.reply import Reply
from profiler.web.rendering import SessionHere, field_of, page, refusal, sentence

router = APIRouter()

TOOLS: Final[dict[str, tuple[str, str, ModuleType]]] = {
    "table": ("Table", "Every calibration below a folder, with its verdict.", fleet_table),
    "compare": (
        "Differences",
        "What bodies or meters differ by, and whether it counts.",
        differences,
    ),
    "drift": ("Drift", "How bodies move from calibration to calibration.", drifting),
    "body": ("One body", "All calibrations of a body over time.", one_body),
}
_FIELDS: Final = (
    *("folder", "tolerances", "quantity", "common", "find", "what", "group", "body", "against"),
    *("first", "page"),
)


@router.get("/fleet")
def fleet() -> Response:
    """To the table."""
    return RedirectResponse("/fleet/table", status_code=303)


@router.get("/fleet/table.csv")
def table_csv(session: SessionHere, request: Request) -> Response:
    """The results that the filters leave, all columns, as `fleet table` writes them."""
    asked = ask(session, request.query_params)
    text = rows_csv(asked.rows.take(fleet_table.selected(asked)))
    headers = {"Content-Disposition": 'attachment; filename="fleet.csv"'}
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/fleet/record")
def record(session: SessionHere, request: Request, series: str) -> HTMLResponse:
    """The record of one calibration, to print."""
    from profiler.fleet.record import make_record
    from profiler.show.fleet.record import record_page

    asked = ask(session, request.query_params)
    row = next(iter(asked.rows.take(asked.rows.text("series").are(series))), None)
    if row is None:
        raise GreytareError("there is no such series", series, "Choose one from the list")
    below = asked.profiles.below
    path = folders.inside(
        session.start, folders.relative(session.start, below / f"{series}{PROFILE}")
    )
    made = make_record(
        path,
        below=below,
        tolerances=asked.tolerances,
        assets={row.camera_serial: row.asset_tag} if row.asset_tag and row.camera_serial else None,
        fleet=asked.rows,
        today=asked.today,
    )
    return HTMLResponse(record_page(made))


@router.get("/fleet/{tool}")
def fleet_tool(session: SessionHere, request: Request, tool: str) -> HTMLResponse:
    """One of the tools with its answer, which works without any script too."""
    _known(tool)
    params = request.query_params
    shared = [folder_field(session, params), tolerances_field(session, params)]
    form: list[Field] = []
    reply: Reply | None = None
    error, field = "", ""
    try:
        asked = ask(session, params)
        form = TOOLS[tool][2].form(asked)
        reply = _answer(tool, asked)
    except GreytareError as fault:
        error, field = sentence(fault), field_of(fault, _FIELDS)
        if not form:
            with contextlib.suppress(GreytareError):
                form = TOOLS[tool][2].form(ask_plainly(session, params))
    form = filled([each for each in (*form, *shared) if len(each.choices) != 1], params)
    form = [keeping(each) for each in form]
    shown = {each.name for each in form}
    return page(
        "fleet.html",
        here="fleet",
        title=f"{TOOLS[tool][0]}, fleet",
        status=400 if error else 200,
        tools=TOOLS,
        tool=tool,
        query=str(params),
        form=form,
        hidden=[(name, params[name]) for name in SHARED if name in params and name not in shown],
        answer=reply,
        html=Markup(reply.html if reply else ""),
        error=error,
        field=field if field in shown else "",
    )


@router.get("/fleet/{tool}/answer")
def fleet_answer(session: SessionHere, request: Request, tool: str) -> JSONResponse:
    """The answer alone, for the script."""
    _known(tool)
    try:
        reply = _answer(tool, ask(session, request.query_params, TYPING_S))
    except GreytareError as fault:
        return refusal(fault, _FIELDS)
    return JSONResponse(reply.plain())


def _known(tool: str) -> None:
    if tool not in TOOLS:
        raise HTTPException(status_code=404)


def _answer(tool: str, asked: Query) -> Reply:
    reply: Reply = TOOLS[tool][2].answer(asked)
    return reply
