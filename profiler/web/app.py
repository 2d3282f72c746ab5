"""The local page put together."""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from fastapi import APIRouter, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.staticfiles import StaticFiles

from profiler.errors import GreytareError
from profiler.files.regular import no_folder
from profiler.simulate.hidden import Difficulty
from profiler.web import rendering
from profiler.web.classroom import class_page
from profiler.web.classroom.room import Room
from profiler.web.fleet import fleet_page
from profiler.web.follow import follow_page
from profiler.web.guard import OWN, Guard
from profiler.web.limits import LastWord, Limits
from profiler.web.onset import onset_page
from profiler.web.phone import phone_page
from profiler.web.phone.link import RISK, Link, code_in_terminal, own_address
from profiler.web.plan import check as check_page
from profiler.web.plan import shooting as plan_page
from profiler.web.result import result_page
from profiler.web.series import series_page
from profiler.web.session import Session
from profiler.web.teach import teach_page
from profiler.web.tickets import Handover, Tickets

PAGES: Final = (
    *(series_page.router, follow_page.router, result_page.router, onset_page.router),
    *(plan_page.router, check_page.router, fleet_page.router),
    *(teach_page.sliders_router, teach_page.find_router),
)
"""What the page on this machine offers."""
PHONE: Final = (phone_page.router,)
"""What phones on the network are offered; whatever isn't here can't be reached from there."""

CLASS: Final = (class_page.router, teach_page.sliders_router)
"""What a class is offered."""
CLASS_RISK: Final = (
    "Anybody on this network who has a student's link can answer for that student; nothing is "
    "encrypted, and nothing is kept when it ends."
)


def create_app(
    start_folder: Path,
    tickets: Tickets,
    port: int,
    *,
    address: str = OWN,
    offered: Sequence[APIRouter] = PAGES,
) -> FastAPI:
    """Return the pages offered for one start folder, answering under one address with its port.

    Who has no ticket is refused.
    """
    start = start_folder.resolve()
    if not start.is_dir():
        raise GreytareError(
            no_folder(start_folder), str(start_folder), "Give one that exists", "folder"
        )
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    app.state.session = Session(start)
    app.state.pages = rendering.PAGES if offered is PAGES else ()
    for router in offered:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=rendering.HERE / "static"), name="static")
    if offered is PAGES:
        app.add_api_route("/", _first, methods=["GET"])
    app.add_api_route("/favicon.ico", _icon, methods=["GET"])
    app.add_exception_handler(GreytareError, _input_at_fault)
    app.add_exception_handler(HTTPException, _not_here)
    app.add_exception_handler(RequestValidationError, _unreadable)
    # the last one added is the first to see a request
    app.add_middleware(LastWord, tell=_tell)
    app.add_middleware(Limits, say=_say)
    app.add_middleware(Guard, tickets=tickets, port=port, address=address)
    return app


def serve(start_folder: Path, port: int, ready: Callable[[str, Path], None]) -> None:
    """Answer until Ctrl-C; once the port is open `ready` gets the ways in.

    These are an address that is good once, and a file that leads a browser in. Port 0 takes any
    free one.
    """
    from profiler.web.server import listen, run

    with listen(port) as door:
        number = int(door.getsockname()[1])
        tickets, base = Tickets(), f"http://{OWN}:{number}"
        app = create_app(start_folder, tickets, number)
        handover = Handover(tickets, base)
        try:
            run(app, door, lambda: ready(f"{base}/?token={tickets.new()}", handover.path))
        finally:
            handover.close()
            app.state.session.close()


def serve_phones(
    start_folder: Path, address: str | None, port: int, ready: Callable[[str, str, str], None]
) -> None:
    """Answer phones under one address of this machine until Ctrl-C, what PHONE offers alone.

    Once the port is open `ready` gets the risk in a sentence, the link, and its QR code in
    characters.
    """
    from profiler.web.server import listen, run

    host = own_address(address)
    with listen(port, host) as door:
        number = int(door.getsockname()[1])
        tickets = Link()
        app = create_app(start_folder, tickets, number, address=host, offered=PHONE)
        link = f"http://{host}:{number}/?token={tickets.ticket}"
        app.state.link = link
        try:
            run(app, door, lambda: ready(RISK, link, code_in_terminal(link)))
        finally:
            app.state.session.close()


def serve_class(
    address: str | None,
    port: int,
    students: int,
    seed: int,
    difficulty: Difficulty,
    ready: Callable[[str, str], None],
) -> None:
    """Answer a class under one address of this machine until Ctrl-C, what CLASS offers alone.

    Once the port is open `ready` gets the risk in a sentence and the teacher's link. No file of
    this machine can be asked for.
    """
    from profiler.web.server import listen, run

    host, room = own_address(address), Room(students, seed, difficulty)
    with listen(port, host) as door, tempfile.TemporaryDirectory(prefix="greytare-class-") as empty:
        number = int(door.getsockname()[1])
        base = f"http://{host}:{number}"
        app = create_app(Path(empty), room, number, address=host, offered=CLASS)
        app.state.room, app.state.base, app.state.pages = room, base, class_page.PAGES
        threading.Thread(
            target=class_page.warm, args=(app.state.session, room), daemon=True
        ).start()
        try:
            run(app, door, lambda: ready(CLASS_RISK, f"{base}/?token={room.teacher_ticket}"))
        finally:
            app.state.session.close()


def _first() -> Response:
    return RedirectResponse("/series", status_code=303)


def _icon() -> Response:
    return FileResponse(rendering.HERE / "static" / "icon.svg")


def _input_at_fault(request: Request, error: Exception) -> Response:
    if not isinstance(error, GreytareError):
        raise error
    return _say(request, rendering.sentence(error), 400)


def _not_here(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    said = {
        404: "There is no such page here.",
        405: "This address is not asked that way.",
    }
    return _say(request, said.get(status, "This can't be answered."), status)


def _unreadable(request: Request, _: Exception) -> Response:
    return _say(request, "The request lacks something, or holds what can't be read.", 422)


def _tell(request: Request, error: GreytareError, status: int) -> Response:
    return _say(request, rendering.sentence(error), status)


def _say(request: Request, text: str, status: int) -> Response:
    """The sentence, as JSON for a script and as a page for a person."""
    if "text/html" not in request.headers.get("accept", ""):
        return JSONResponse({"error": text, "field": ""}, status_code=status)
    return rendering.page(
        "error.html",
        here="",
        title="Not done",
        status=status,
        sentence=text,
        pages=request.app.state.pages,
    )
