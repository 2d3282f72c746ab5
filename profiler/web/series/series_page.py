"""Page 1, Series: a folder of frames, the patch on them, what the meter said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Final

from fastapi import APIRouter, Body
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from profiler.errors import FrameError, GreytareError
from profiler.files.sheet import Sheet
from profiler.frames.folder import pictures_in
from profiler.records import MODES
from profiler.show.calibration.frames import pictures_words
from profiler.web import folders
from profiler.web.fields import query
from profiler.web.rendering import SessionHere, page, refusal, sentence
from profiler.web.series import pictures, series_lines
from profiler.web.series.cells import SheetCells, checked_cells, read_edits
from profiler.web.series.open_series import OpenSeries
from profiler.web.session import Session

router = APIRouter()
Texts = Annotated[str, Body()]
DEMO: Final = "greytare-demo"
"""Folder of the invented series, below the start folder."""


@router.get("/series")
def series(session: SessionHere, folder: str | None = None, frame: str = "") -> HTMLResponse:
    """The folder browser; below it, where the folder holds frames, patch and table."""
    here = session.series_asked(folder)
    values: dict[str, Any] = {
        "folder": folders.relative(session.start, here.folder),
        "crumbs": _crumbs(session, here.folder),
        "subfolders": folders.subfolders(session.start, here.folder),
        "modes": MODES,
    }
    values |= _table(session, here, frame)
    empty = not values["frames"] and here.folder == session.start
    values["greeting"] = empty and not folders.folders_with_frames(session.start)
    return page("series.html", here="series", title=_title(here.folder, session), **values)


@router.post("/series/demo")
async def demo(session: SessionHere) -> Response:
    """Shoot the invented series below the start folder, then open it."""

    def make() -> str:
        from profiler.simulate.demo import write_demo

        return folders.relative(session.start, write_demo(session.start / DEMO).folder)

    folder = await run_in_threadpool(make)
    return RedirectResponse(f"/series?{query(folder=folder)}", status_code=303)


@router.get("/series/picture")
def picture(session: SessionHere, folder: str, frame: str, size: str = "thumb") -> Response:
    """A small picture of a frame, as PNG."""
    here = session.series(folder)
    path = _frame(here, frame)
    widest = pictures.PREVIEW_PX if size == "preview" else pictures.THUMBNAIL_PX
    found = session.pictures.get(path, widest)
    headers = {"Cache-Control": "private, max-age=600"}
    return Response(found.png, media_type="image/png", headers=headers)


@router.get("/series/patch")
def patch(session: SessionHere, folder: str, frame: str) -> JSONResponse:
    """The even patch that is found on a frame, as fractions X,Y,W,H; empty where none is."""
    here = session.series(folder)
    found = session.pictures.get(_frame(here, frame), pictures.PREVIEW_PX)
    return JSONResponse({"patch": found.patch, "even": found.even})


@router.get("/series/tags")
def tags(session: SessionHere, folder: str) -> JSONResponse:
    """What the files say of themselves, once it has been read."""
    here = session.series(folder)
    found = session.tags(here.frames(), 60.0) or {}
    return JSONResponse({name: series_lines.tag_words(each) for name, each in found.items()})


@router.get("/series/answer")
def answer(reading: str = "", mode: str = "") -> JSONResponse:
    """What a reading asks for, while it is typed."""
    try:
        return JSONResponse({"answer": series_lines.reading_answer(reading, mode)})
    except GreytareError as error:
        return refusal(error, ("reading", "mode"))


@router.post("/series/sheet")
def save_sheet(
    session: SessionHere,
    folder: Texts,
    version: Texts,
    lines: Annotated[list[dict[str, Any]], Body()],
) -> JSONResponse:
    """Write corrected rows into the sheet."""
    here = session.series(folder)
    try:
        saved = here.save_edits(read_edits(lines), version)
    except GreytareError as error:
        return refusal(error, ("sheet",))
    against: list[str] = []
    try:
        paths = here.frames()
        _, sheet, _ = _checked(here.cells(), [path.name for path in paths])
        against = series_lines.against_words(sheet, session.tags(paths) or {})
    except GreytareError:  # saved as it is; what is wrong is told when the page is loaded
        pass
    return JSONResponse(
        {"version": saved.version, "rows": saved.rows, "kept": saved.kept, "against": against}
    )


def _table(session: Session, here: OpenSeries, frame: str) -> dict[str, Any]:
    """Frames with their rows; the sentence instead where the folder has none or can't be read."""
    none: dict[str, Any] = {
        "frames": [],
        "lines": [],
        "trouble": "",
        "sheet_trouble": "",
        "sheet_notices": [],
        "against": [],
    }
    none |= {"version": "", "frame": "", "patch": here.patch, "tags_ready": True, "correct": False}
    try:
        paths = here.frames()
    except GreytareError as error:
        return none | {"trouble": sentence(error)}
    names = [path.name for path in paths]
    try:
        cells = here.cells()
    except GreytareError as error:
        return none | {"trouble": sentence(error)}
    fault, sheet, spelled = _checked(cells, names)
    known = session.tags(paths)
    left = pictures_words(pictures_in(here.folder))
    lines = [
        replace(line, said=series_lines.tag_words((known or {}).get(line.file)))
        for line in series_lines.lines_of(cells, names)
    ]
    missing = known is not None and any(
        line.first and not line.general and not (line.said["time"] and line.said["aperture"])
        for line in lines
    )
    return none | {
        "frames": names,
        "lines": lines,
        "version": cells.version,
        "frame": frame if frame in names else _middle(names, known),
        "tags_ready": known is not None,
        "sheet_trouble": fault,
        "sheet_notices": [notice for notice in (cells.notice, spelled, left) if notice],
        "against": series_lines.against_words(sheet, known or {}),
        "correct": missing or any(line.iso or line.time or line.aperture for line in lines),
    }


def _middle(names: list[str], known: Any) -> str:
    """The frame of middle exposure, which shows the target best."""
    from profiler.calibration.exposures import join

    if not known:
        return names[len(names) // 2]
    empty = Sheet(name="", columns=())
    light = {name: join(empty, name, known[name]).light for name in names if name in known}
    return sorted(light, key=lambda name: (light[name], name))[len(light) // 2]


def _frame(here: OpenSeries, name: str) -> Path:
    """The frame of that name, which must be one of the folder's."""
    for path in here.frames():
        if path.name == name:
            return path
    raise FrameError("there is no such frame", name, "Load the page again")


def _crumbs(session: Session, folder: Path) -> list[tuple[str, str]]:
    """Name and path of the start folder and of each folder down to this one."""
    crumbs = [(session.start.name or str(session.start), "")]
    walked = ""
    for part in Path(folders.relative(session.start, folder)).parts:
        walked = f"{walked}/{part}".lstrip("/")
        crumbs.append((part, walked))
    return crumbs


def _title(folder: Path, session: Session) -> str:
    return "Series" if folder == session.start else f"Series {folder.name}"


def _checked(cells: SheetCells, files: Sequence[str]) -> tuple[str, Sheet, str]:
    """The first fault of a sheet in one sentence, the sheet, what was assumed about its names."""
    empty = Sheet(name=cells.name, columns=())
    if not cells.rows:
        return "", empty, ""
    try:
        return "", *checked_cells(cells, files)
    except GreytareError as error:
        return sentence(error), empty, ""
