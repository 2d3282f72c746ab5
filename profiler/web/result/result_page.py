"""Page 2, Result: measuring with progress, the fit, what a correction changes, the profile."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from profiler.errors import GreytareError
from profiler.records import LIGHTS, MODES
from profiler.show.calibration.bars import READ, bars_of
from profiler.show.calibration.changes import Change, by_result, changes, summary
from profiler.show.calibration.profile import profile_answer
from profiler.show.drawing import drawing
from profiler.web import folders
from profiler.web.fields import form_of, query
from profiler.web.plot import plot_of
from profiler.web.rendering import SessionHere, fragment, page, refusal, sentence
from profiler.web.result import result_rows
from profiler.web.series.cells import read_edits
from profiler.web.series.open_series import AUTO, FitOptions, OpenSeries
from profiler.web.session import Session

router = APIRouter()
Texts = Annotated[str, Body()]


@router.get("/result")
def result(session: SessionHere, folder: str | None = None) -> HTMLResponse:
    """The whole page of one series."""
    here = session.series_asked(folder)
    path = folders.relative(session.start, here.folder)
    name = here.folder.name if path else "start folder"
    return page(
        "result.html",
        here="result",
        title=f"Result of {name}",
        folder=path,
        name=name,
        patch=here.patch,
        measured=here.measured is not None,
        lacks=_lacks(here),
        content=Markup(_content(session, here, [])),
    )


@router.get("/result/content")
def content(session: SessionHere, folder: str) -> JSONResponse:
    """The part of the page below the heading, as it stands now."""
    here = session.series(folder)
    return JSONResponse({"html": _content(session, here, []), "said": ""})


@router.post("/result/measure")
async def measure(
    session: SessionHere, form: Annotated[dict[str, str], Depends(form_of)]
) -> Response:
    """Start measuring a folder, with the patch from the page, then show its progress."""

    def start() -> str:
        here = session.series(form.get("folder", ""))
        by_hand = form.get("patch_by", AUTO) == "hand"
        here.start_measuring(form.get("patch", AUTO) if by_hand else AUTO)
        return folders.relative(session.start, here.folder)

    folder = await run_in_threadpool(start)
    return RedirectResponse(f"/result?{query(folder=folder)}", status_code=303)


@router.post("/result/cancel")
async def cancel(
    session: SessionHere, form: Annotated[dict[str, str], Depends(form_of)]
) -> Response:
    """Stop measuring at the next frame."""
    here = session.series(form.get("folder", ""))
    if here.job is not None:
        here.job.cancel()
        await run_in_threadpool(here.job.join, 5.0)
    folder = folders.relative(session.start, here.folder)
    return RedirectResponse(f"/result?{query(folder=folder)}", status_code=303)


@router.get("/result/job")
def job(session: SessionHere, folder: str) -> JSONResponse:
    """How far measuring is."""
    here = session.series(folder)
    if here.job is None:
        return JSONResponse({"state": "none", "done": 0, "total": 0, "words": ""})
    state = here.job.look()
    words = result_rows.progress_words(state)
    return JSONResponse(
        {"state": state.state, "done": state.done, "total": state.total, "words": words}
    )


@router.post("/result/edit")
def edit(
    session: SessionHere,
    folder: Texts,
    version: Texts,
    lines: Annotated[list[dict[str, Any]], Body()],
) -> JSONResponse:
    """Correct the sheet, fit again, say what changed; nothing is saved where the fit fails."""
    here = session.series(folder)
    try:
        _, before, after = here.save_and_fit(read_edits(lines), version)
    except GreytareError as error:
        return refusal(error, ("sheet",))
    found = changes(before, after)
    return JSONResponse({"html": _content(session, here, found), "said": summary(found)})


@router.post("/result/options")
def options(
    session: SessionHere, folder: Texts, light: Texts, aim: Texts, times: Texts, meter: Texts
) -> JSONResponse:
    """Fit with another light, aim, time rule or meter."""
    here = session.series(folder)
    try:
        if light not in LIGHTS or times not in ("best", "exact", "as-marked"):
            raise GreytareError(
                "this isn't one of the choices", "", "Choose from the list", "light"
            )
        wanted = FitOptions(light=light, aim=aim.strip(), times=times, meter=meter)
        before, after = here.set_options(wanted)
    except GreytareError as error:
        return refusal(error, ("light", "aim", "times", "meter"))
    found = changes(before, after)
    return JSONResponse({"html": _content(session, here, found), "said": summary(found)})


@router.get("/result/report")
def report(session: SessionHere, folder: str) -> JSONResponse:
    """The report of the fit, as a piece of HTML."""
    here = session.series(folder)
    return JSONResponse({"html": result_rows.report_html(here)})


@router.post("/result/save")
def save(
    session: SessionHere,
    folder: Texts,
    name: Texts,
    replace: Annotated[bool, Body()] = False,
) -> JSONResponse:
    """Write the profile beside the frames."""
    from profiler.files.profile import save_profile

    here = session.series(folder)
    try:
        path = here.folder / result_rows.profile_name(name)
        if path.is_symlink():
            folders.inside(session.start, folders.relative(session.start, path))
        kept = save_profile(here.profile(), path, replace=replace)
    except GreytareError as error:
        return refusal(error, ("name",))
    saved = folders.relative(session.start, path)
    return JSONResponse({"saved": saved, "kept": "" if kept is None else kept.name})


def _lacks(here: OpenSeries) -> str:
    """Why there is nothing to measure, empty where there are frames."""
    try:
        here.frames()
    except GreytareError as error:
        return sentence(error)
    return ""


def _content(session: Session, here: OpenSeries, found: list[Change]) -> str:
    """What stands below the heading: progress, a sentence that says what is missing, or the fit."""
    values: dict[str, Any] = {
        "folder": folders.relative(session.start, here.folder),
        "job": None,
        "trouble": "",
        "patch": here.patch,
    }
    job = here.job
    if job is not None and job.running:
        state = job.look()
        return fragment(
            "result_progress.html",
            **values | {"job": state, "words": result_rows.progress_words(state)},
        )
    if job is not None and here.measured is None:
        state = job.look()
        stopped = "Measuring was cancelled." if state.state == "cancelled" else state.error
        return fragment("result_trouble.html", **values | {"trouble": stopped})
    if here.measured is None:
        return fragment("result_trouble.html", **values | {"lacks": _lacks(here)})
    try:
        profile = here.profile()
    except GreytareError as error:
        return fragment("result_trouble.html", **values | {"trouble": sentence(error)})
    last = "" if job is None else job.look().error
    meters = folders.find_tables(session.start, "meter")
    return fragment(
        "result_fit.html",
        **values
        | {
            "trouble": last,
            "changes": by_result(found),
            "answer": profile_answer(profile),
            "bars": drawing(bars_of(profile)),
            "bars_read": READ,
            "plot": plot_of(profile.results[0]),
            "usual_mode": profile.results[0].mode,
            "rows": result_rows.frame_rows(here, profile),
            "version": here.cells().version,
            "options": here.options,
            "lights": LIGHTS,
            "modes": MODES,
            "meters": meters,
            "measured": here.measured.measurement,
            "name": result_rows.suggested_name(profile),
            "profiles": [
                PurePosixPath(path).name
                for path in folders.find_files(here.folder, folders.PROFILE_SUFFIX)
                if "/" not in path
            ],
        },
    )
