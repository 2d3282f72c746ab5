"""Page 4, Plan: what to shoot for a calibration."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from profiler.errors import GreytareError
from profiler.exposure.modes import is_flash
from profiler.records import LIGHTS, MODES
from profiler.web import fields, profiles
from profiler.web.answer import Answer, Table, rows
from profiler.web.fields import Field, Params, mains_field, marks_field, optional, plain, text
from profiler.web.page import SessionHere, field_of, page, refusal, sentence
from profiler.web.session import Session

if TYPE_CHECKING:
    from profiler.onset.plan import Plan

router = APIRouter()

_MARKS: Final = ("third", "half", "full")


@router.get("/plan")
def plan(session: SessionHere, request: Request) -> HTMLResponse:
    """The form with the shooting list."""
    params = request.query_params
    known, _ = profiles.choose(session, "")
    form = fields.filled(_fields(), params)
    older = params.get("profile", "")
    chosen = profiles.profile_field(known, older, "none, the standard's figures")
    answer, error, field = None, "", ""
    try:
        answer = _answer(_plan(session, fields.complete(form, params)))
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
        query=str(request.query_params),
    )


@router.get("/plan/answer")
def plan_answer(session: SessionHere, request: Request) -> JSONResponse:
    """The shooting list alone, for the script."""
    form = fields.filled(_fields(), request.query_params)
    try:
        made = _plan(session, fields.complete(form, request.query_params))
    except GreytareError as fault:
        return refusal(fault, tuple(each.name for each in form))
    return JSONResponse(_answer(made).plain())


@router.get("/plan/print")
def plan_print(session: SessionHere, request: Request) -> HTMLResponse:
    """The shooting list as a page to print, with boxes to tick."""
    from profiler.show.onset.plan_page import plan_page

    form = fields.filled(_fields(), request.query_params)
    return HTMLResponse(plan_page(_plan(session, fields.complete(form, request.query_params))))


@router.get("/plan/sheet.csv")
def plan_sheet_file(session: SessionHere, request: Request) -> Response:
    """The empty sheet that goes with the list, to be saved beside the frames."""
    from profiler.onset.plan_sheet import plan_sheet

    form = fields.filled(_fields(), request.query_params)
    made = _plan(session, fields.complete(form, request.query_params))
    headers = {"Content-Disposition": 'attachment; filename="sheet.csv"'}
    return Response(plan_sheet(made), media_type="text/csv; charset=utf-8", headers=headers)


def _fields() -> list[Field]:
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
        marks_field(),
        Field(name="min_time", label="Shortest time", value="1/4000", more=True),
        Field(name="max_time", label="Longest time", value="0.8", hint="in s", more=True),
        mains_field(),
        Field(name="sync", label="Flash sync time", value="1/125", more=True),
        Field(name="nd", label="Filters and losses", hint="ND 0.9; 3 stops", more=True),
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
    from profiler.onset.camera import parse_aperture, parse_shutter
    from profiler.onset.corrections import lost_ev, parse_correction
    from profiler.onset.lookup import meter_of
    from profiler.onset.plan import make_plan
    from profiler.onset.plan_frames import measured_headroom
    from profiler.onset.plan_labels import Body

    mode = fields.one_of(params, "mode", MODES, "spot")
    isos = fields.whole_numbers(params, "iso", low=1, high=5_000_000)
    profile = profiles.load(session, text(params, "profile"))
    marks: Any = fields.one_of(params, "marks", _MARKS, "third")
    aperture = optional(params, "aperture")
    light = fields.one_of(params, "light", LIGHTS, "daylight")
    return make_plan(
        Body(
            isos=isos[:12],
            min_time_s=parse_shutter(text(params, "min_time"), "min_time").marked_s,
            max_time_s=parse_shutter(text(params, "max_time"), "max_time").marked_s,
            marks=marks,
            bits=fields.whole(params, "bits", 14, low=8, high=16),
            sync_s=parse_shutter(text(params, "sync"), "sync").marked_s,
        ),
        mode=mode,
        light="flash" if is_flash(mode) else light,
        reading=optional(params, "reading"),
        aperture=None if aperture is None else parse_aperture(aperture, "aperture"),
        mains_hz=float(fields.one_of(params, "mains", ("0", "50", "60"), "0")),
        meter=None if profile is None else meter_of(profile.data),
        expected=None if profile is None else measured_headroom(profile.data, mode, isos),
        short=fields.one_of(params, "length", ("full", "short"), "full") == "short",
        copies=fields.whole(params, "copies", 2, low=1, high=20),
        darks=fields.whole(params, "darks", 2, low=0, high=20),
        lost_ev=lost_ev([parse_correction(each, "nd") for each in fields.several(params, "nd")]),
    )


def _answer(made: Plan) -> Answer:
    from profiler.show.onset import plan as onset_plan

    head = onset_plan.frame_head(made)
    last = len(head) - 1
    return Answer(
        headline=onset_plan.headline(made),
        rows_first=True,
        rows=rows(onset_plan.plan_rows(made)),
        notes=tuple((True, words) for words in made.warnings),
        tables=tuple(
            Table(
                caption=f"ISO {label.iso}",
                head=tuple(name or "note" for name in head),
                rows=tuple(tuple(onset_plan.frame_cells(f, made)) for f in label.frames),
                numbers=(last - 2, last - 1),
            )
            for label in made.labels
        ),
        closing=(*_steps(onset_plan.how_to(made)), *onset_plan.cautions(made)),
    )


def _steps(steps: list[str]) -> list[str]:
    """The steps at the camera; those at the computer are done on this page."""
    return [
        *(step for step in steps if "greytare " not in step),
        "Then open the folder under Series, fill in the readings, and measure.",
    ]
