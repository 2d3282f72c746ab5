"""The pages of a class: a student's task, the teacher's list, the links."""

from __future__ import annotations

import csv
import io
from contextlib import suppress
from typing import Annotated, Final

from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from profiler.errors import GreytareError
from profiler.files.csv_text import safe_cell
from profiler.show.classroom import Standing, class_answer, saved_rows
from profiler.web.classroom.room import TEACHER, Room, Seat
from profiler.web.fields import form_of, query
from profiler.web.rendering import SessionHere, page, sentence
from profiler.web.session import Session
from profiler.web.teach import find

router = APIRouter()
PAGES: Final = (("task", "/", "Find it"), ("teach", "/teach", "Sliders"))


def room_of(request: Request) -> Room:
    """Return the class that the server runs for."""
    room: Room = request.app.state.room
    return room


def who_asks(request: Request) -> str:
    """Return the student who asks, or TEACHER; the guard lets only these in."""
    room = room_of(request)
    return next((name for kept in request.cookies.values() if (name := room.who(kept))), "")


def teacher_only(request: Request) -> None:
    """Answer everybody but the teacher as if the page weren't there."""
    if who_asks(request) != TEACHER:
        raise HTTPException(404)


RoomHere = Annotated[Room, Depends(room_of)]
Who = Annotated[str, Depends(who_asks)]
OnlyTeacher = [Depends(teacher_only)]


@router.get("/")
def task(
    session: SessionHere, request: Request, room: RoomHere, who: Who, wrong: str = ""
) -> HTMLResponse:
    """A student's series with the list to answer from; the list of the class for the teacher."""
    if who == TEACHER:
        return _overview(room)
    flags = "flags" in request.query_params
    room.arrive(who, flags=flags)
    return _task(session, room, room.seat(who), flags=flags, wrong=wrong)


@router.post("/answer")
async def answer(
    room: RoomHere, who: Who, form: Annotated[dict[str, str], Depends(form_of)]
) -> Response:
    """Keep what a student says."""
    if who == TEACHER:
        raise HTTPException(404)
    try:
        room.answer(who, find.read_said(form))
    except GreytareError as error:
        return RedirectResponse(f"/?{query(wrong=sentence(error))}", status_code=303)
    return RedirectResponse("/", status_code=303)


@router.get("/state")
def state(room: RoomHere, who: Who) -> JSONResponse:
    """What a page looks at to know whether it is stale."""
    if who == TEACHER:
        seats = [[seat.here, seat.flags, seat.said is not None] for seat in room.seats]
        return JSONResponse({"told": room.told, "seats": seats})
    return JSONResponse({"told": room.told})


@router.post("/tell", dependencies=OnlyTeacher)
def tell(room: RoomHere) -> Response:
    """Show the class what was wrong."""
    room.tell()
    return RedirectResponse("/", status_code=303)


@router.get("/links", dependencies=OnlyTeacher)
def links(request: Request, room: RoomHere) -> HTMLResponse:
    """Every student's link with its code, to print and cut."""
    from profiler.web.phone.link import code_on_page

    base: str = request.app.state.base
    cards = [
        (seat.name, link, code_on_page(link))
        for seat in room.seats
        for link in (f"{base}/?token={seat.ticket}",)
    ]
    return page("class_links.html", here="", title="Links", cards=cards, pages=())


@router.get("/answers.csv", dependencies=OnlyTeacher)
def answers(room: RoomHere) -> Response:
    """The answers as a file: nothing is kept when the server ends."""
    rows = saved_rows(_standings(room))
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: safe_cell(text) for name, text in row.items()} for row in rows)
    headers = {"Content-Disposition": 'attachment; filename="answers.csv"'}
    return Response(out.getvalue(), media_type="text/csv; charset=utf-8", headers=headers)


def warm(session: Session, room: Room) -> None:
    """Work out every student's series before it is asked for."""
    with suppress(RuntimeError):  # the server has ended meanwhile
        for seat in room.seats:
            session.compute.ask(find.task, seat.hidden.seed, seat.hidden.difficulty)


def _overview(room: Room) -> HTMLResponse:
    return page(
        "class_teacher.html",
        here="task",
        title="The class",
        answer=class_answer(_standings(room), told=room.told),
        told=room.told,
        pages=PAGES,
    )


def _task(session: Session, room: Room, seat: Seat, *, flags: bool, wrong: str) -> HTMLResponse:
    given = session.compute.ask(find.task, seat.hidden.seed, seat.hidden.difficulty)
    return page(
        "class_task.html",
        here="task",
        title=seat.name,
        name=seat.name,
        choices=find.choices(seat.said or {}),
        answered=seat.said is not None,
        flags=flags,
        answer=given.flagged if flags else given.plain,
        plot=given.plot,
        truth=find.verdict(seat.hidden, seat.said or {}) if room.told else None,
        told=room.told,
        error=wrong,
        pages=PAGES,
    )


def _standings(room: Room) -> list[Standing]:
    return [
        Standing(
            name=seat.name,
            hidden=seat.hidden,
            here=seat.here,
            flags=seat.flags,
            judged=seat.judged if seat.said is not None else None,
        )
        for seat in room.seats
    ]
