"""Page 4, Plan: what to shoot for a calibration."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from profiler.errors import GreytareError
from profiler.onset.plan import ELECTRONIC, MECHANICAL, PlanAsk
from profiler.onset.plan import plan as make_plan
from profiler.records import LIGHTS, MODES
from profiler.show.inputs import LOSS, MAINS, MARKS
from profiler.show.onset.plan import plan_answer
from profiler.web import fields, profiles
from profiler.web.fields import Field, Params, optional, plain, text
from profiler.web.rendering import SessionHere, field_of, page, refusal, sentence
from profiler.web.rendering import plain as as_json
from profiler.web.session import Session

if TYPE_CHECKING:
    from profiler.onset.plan import Plan

router = APIRouter()

THEN: Final = ("Open the folder under Series, fill in the readings, and measure.",)
"""The steps at the computer, as this page does them."""


@router.get("/plan")
def plan(session: SessionHere, request: Request) -> HTMLResponse:
    """The form with the shooting list."""
    params = session.kept.recall("plan", request.query_params, ())
    session.kept.keep("plan", params, ())
    known = profiles.choose(session, "").known
    form = fields.filled(plan_fields(), params)
    older = profiles.Choice(known=known, chosen=params.get("profile", ""))
    chosen = profiles.profile_field(older, "none, the standard's figures")
    answer, error, field = None, "", ""
    try:
        answer = plan_answer(_plan(session, params), THEN)
    except GreytareError as fault:
        error, field = sentence(fault), field_of(fault, tuple(each.name for each in form))
    return page(
        "plan.html",
        here="plan",
        title="Plan a calibration",
        status=400 if error else 200,
        form=form,
        profile=chosen,
        answer=answer,
        error=error,
        field=field,
        query=str(params),
    )


@router.get("/plan/answer")
def answer(session: SessionHere, request: Request) -> JSONResponse:
    """The shooting list alone, for the script."""
    session.kept.keep("plan", request.query_params, ())
    try:
        made = _plan(session, request.query_params)
    except GreytareError as fault:
        return refusal(fault, tuple(each.name for each in plan_fields()))
    return JSONResponse(as_json(plan_answer(made, THEN)))


@router.get("/plan/print")
def plan_print(session: SessionHere, request: Request) -> HTMLResponse:
    """The shooting list as a page to print, with boxes to tick."""
    from profiler.show.onset.plan_page import plan_page

    return HTMLResponse(plan_page(_plan(session, request.query_params), THEN))


@router.get("/plan/sheet.csv")
def plan_sheet_file(session: SessionHere, request: Request) -> Response:
    """The empty sheet that goes with the list, to be saved beside the frames."""
    from profiler.show.onset.plan_page import plan_sheet

    text = plan_sheet(_plan(session, request.query_params))
    headers = {"Content-Disposition": 'attachment; filename="sheet.csv"'}
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


def plan_fields() -> list[Field]:
    """Return the fields of a plan."""
    return [
        Field(
            name="reading",
            label="Meter reading at the card",
            hint="EV 10.3; empty: it says which light to bring",
            big=True,
        ),
        Field(name="mode", label="Meter mode", value="spot", choices=plain(MODES)),
        Field(name="light", label="Light", value="daylight", choices=plain(LIGHTS)),
        Field(name="iso", label="ISO labels", value="100", hint="100, 400, 1600"),
        Field(name="aperture", label="Aperture", hint="f/5.6; empty: what suits best", more=True),
        fields.input_field(MARKS),
        Field(name="min_time", label="Shortest time", value="1/4000", more=True),
        Field(name="max_time", label="Longest time", value="0.8", hint="in s", more=True),
        fields.input_field(MAINS),
        Field(name="sync", label="Flash sync time", value="1/125", more=True),
        Field(name="loss", label="Filters and losses", hint="ND 0.9; 3 stops", more=True),
        Field(
            name="goal",
            label="Wanted interval",
            hint="0.05: the cheapest plan for ± 0.05 stop",
            numeric=True,
            more=True,
        ),
        Field(name="readings", label="Meter readings", value="2", numeric=True, more=True),
        Field(
            name="shutter",
            label="Shutter",
            value=MECHANICAL,
            choices=plain((MECHANICAL, ELECTRONIC)),
            more=True,
        ),
        Field(name="copies", label="Frames of each setting", value="2", numeric=True, more=True),
        Field(name="darks", label="Lens-cap frames per label", value="2", numeric=True, more=True),
        Field(name="bits", label="Bit depth of the raw files", value="14", numeric=True, more=True),
        Field(
            name="length",
            label="Length",
            value="full",
            choices=(("full", "all settings"), ("short", "about half as many")),
            more=True,
        ),
    ]


def _plan(session: Session, params: Params) -> Plan:
    """The plan that the fields ask for, on the body of an older profile if there is one."""
    profile = profiles.load(session, text(params, "profile"))
    return make_plan(plan_ask(params), None if profile is None else profile.data)


def plan_ask(came: Params) -> PlanAsk:
    """Return the question that the fields ask, defaults counted."""
    params = fields.complete(plan_fields(), came)
    shutter: Any = fields.one_of(params, "shutter", (MECHANICAL, ELECTRONIC), MECHANICAL)
    return PlanAsk(
        isos=fields.whole_numbers(params, "iso", low=1, high=5_000_000)[:12],
        reading=optional(params, "reading"),
        mode=fields.one_of(params, "mode", MODES, "spot"),
        light=fields.one_of(params, "light", LIGHTS, "daylight"),
        aperture=optional(params, "aperture"),
        min_time=text(params, "min_time"),
        max_time=text(params, "max_time"),
        sync=text(params, "sync"),
        bits=fields.whole(params, "bits", 14, low=8, high=16),
        short=fields.one_of(params, "length", ("full", "short"), "full") == "short",
        copies=fields.whole(params, "copies", 2, low=1, high=20),
        darks=fields.whole(params, "darks", 2, low=0, high=20),
        readings=fields.whole(params, "readings", 2, low=1, high=30),
        shutter=shutter,
        goal_ev=fields.number(params, "goal", low=0.001, high=1.0),
        **fields.typed((MARKS, MAINS, LOSS), params),
    )
