"""The one page that phones get: the carried answers of the profiles there are."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

from fastapi import APIRouter, Body, Request
from starlette.responses import HTMLResponse, JSONResponse

from profiler.errors import GreytareError
from profiler.files.atomic import write_whole
from profiler.web import folders
from profiler.web.carry.one_file import Carried, served_page
from profiler.web.fields import Params
from profiler.web.phone.link import code_on_page
from profiler.web.rendering import SessionHere, sentence

if TYPE_CHECKING:
    from profiler.web.session import Session

_MOST_SHEETS: Final = 20


def write_new_sheet(folder: Path, text: str) -> Path:
    """Write a sheet under the first name that is free: sheet.csv, sheet-2.csv ... ; return it.

    No file is ever written over. GreytareError where there are as many sheets as anybody needs.
    """
    for number in range(1, _MOST_SHEETS + 1):
        path = folder / ("sheet.csv" if number == 1 else f"sheet-{number}.csv")
        if path.exists() or path.is_symlink():
            continue
        write_whole(path, text, replace=False)
        return path
    raise GreytareError(
        f"there are {_MOST_SHEETS} sheets already",
        folder.name,
        "Take away those that aren't needed, at the computer",
    )


router = APIRouter()

MOST_PROFILES: Final = 24
"""The newest ones; more would make the page slow to load."""
_KEEP_S: Final = 5.0


@router.get("/")
def answers(session: SessionHere, request: Request) -> HTMLResponse:
    """The answers on set for the profiles below the start folder, with the link to pass on."""
    link: str = request.app.state.link
    text, policy = session.lately("phone", _KEEP_S, lambda: _page(session, link))
    return HTMLResponse(text, headers={"Content-Security-Policy": policy})


@router.post("/sheet")
def sheet(
    session: SessionHere,
    profile: Annotated[str, Body(max_length=1000)],
    fields: Annotated[list[tuple[str, str]], Body(max_length=60)],
    shots: Annotated[list[tuple[int, str]], Body(max_length=999)],
) -> JSONResponse:
    """Write a field sheet as a new file into the start folder.

    It is made here from what was ticked and read, so that nothing else can be written.
    """
    from profiler.onset.profile import Profile
    from profiler.web.carry.answers import sheet_of

    if profile not in _offered(session):
        return _refusal("This profile isn't offered here.", "")
    params = Params([(name, value) for name, value in fields if value])
    try:
        body = Profile.load(folders.inside(session.start, profile))
        written = write_new_sheet(session.start, sheet_of(body, params, shots))
    except GreytareError as error:
        return _refusal(sentence(error), error.field)
    return JSONResponse({"said": f"Written on the computer as {written.name}."})


def _refusal(words: str, field: str) -> JSONResponse:
    return JSONResponse({"error": words, "field": field}, status_code=400)


def _offered(session: Session) -> list[str]:
    return folders.find_files(session.start, folders.PROFILE_SUFFIX)[:MOST_PROFILES]


def _page(session: Session, link: str) -> tuple[str, str]:
    """The page with its policy; a profile that can't be read is left out."""
    from profiler.files.profile import load_profile

    taken = []
    for path in _offered(session):
        try:
            data = load_profile(folders.inside(session.start, path))
        except GreytareError:
            continue
        name = Path(path).name.removesuffix(folders.PROFILE_SUFFIX)
        taken.append(Carried(name=name, path=path, data=data))
    if not taken:
        raise GreytareError(
            "there is no profile to answer from",
            session.start.name,
            "Measure a series and save its profile in this folder first",
        )
    return served_page(taken, link, code_on_page(link))
