"""What the result page shows: headlines, frames with their residuals, names of profiles."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from profiler.calibration.fit.budget import decimals
from profiler.errors import GreytareError
from profiler.exposure.wording import format_f_number, format_time
from profiler.onset.dial import dial
from profiler.results import ProfileData, Result
from profiler.show.meter import ei_words
from profiler.show.text import flag_words, headline
from profiler.show.words import plus_minus, signed
from profiler.web.folders import PROFILE_SUFFIX
from profiler.web.jobs import JobState
from profiler.web.series.open_series import OpenSeries
from profiler.web.series.rows import SheetLine, lines_of, tag_words

_NAME: Final = re.compile(r"[^\W_][\w .+()-]{0,99}", re.UNICODE)


@dataclass(frozen=True, kw_only=True)
class ResultView:
    """One result in words: what to act on first."""

    iso: int
    mode: str
    light: str
    headline: str
    offset: str
    ei: str
    headroom: str
    flags: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class FrameRow:
    """One frame: setting, where it lies, how far off the line, whether it counts.

    line: its row of the sheet that holds reading and use; bar: residual as a part of the widest.
    """

    line: SheetLine
    iso: str
    setting: str
    placement: str
    residual: str
    bar: float
    state: str
    used: bool


def progress_words(state: JobState) -> str:
    """Return how far measuring is, in words."""
    if state.state != "running":
        return {"done": "Measured.", "cancelled": "Cancelled."}.get(state.state, state.error)
    if not state.total:
        return "Reading what the files say of themselves ..."
    words = f"{state.done} of {state.total} frames measured"
    if state.left_s is not None and state.left_s >= 1.0:
        words += f", about {math.ceil(state.left_s)} s left"
    return words


def result_view(result: Result) -> ResultView:
    """Return what to act on of one result."""
    return ResultView(
        iso=result.iso,
        mode=result.mode,
        light=result.light,
        headline=headline(result),
        offset=f"{signed(result.offset_ev)} EV",
        ei=ei_words(dial(result, result.aim_stops)),
        headroom=plus_minus(result.clip_headroom_ev, "stops"),
        flags=tuple(flag_words(flag) for flag in result.flags),
    )


def frame_rows(here: OpenSeries, profile: ProfileData) -> list[FrameRow]:
    """Return every frame of the series with its place in the first result that holds it."""
    first: dict[str, tuple[Result, int]] = {}
    for result in profile.results:
        for i, frame in enumerate(result.frames):
            first.setdefault(frame.file, (result, i))
    residuals = [
        abs(frame.residual_ev)
        for result in profile.results
        for frame in result.frames
        if frame.residual_ev is not None
    ]
    widest = max([0.1, *residuals])
    names = [source.file for source in profile.provenance.frames]
    said = {}
    if here.measured is not None:
        said = {each.file: tag_words(each.tags) for each in here.measured.measurement.frames}
    rows = []
    for line in lines_of(here.cells(), names):
        if line.general or not line.first:
            continue
        held = first.get(line.file)
        if held is None:
            rows.append(_without(line, said.get(line.file, tag_words(None))))
        else:
            rows.append(_row(line, held[0], held[1], widest))
    return rows


def suggested_name(profile: ProfileData) -> str:
    """Return a file name made of body and serial, without the ending."""
    words = f"{profile.camera.model or 'body'} {profile.camera.serial}".lower()
    name = re.sub(r"[^a-z0-9]+", "-", words).strip("-")
    return name[:60] or "body"


def profile_name(typed: str) -> str:
    """Return the file name of a profile to save; GreytareError where the text is none."""
    name = typed.strip().removesuffix(PROFILE_SUFFIX)
    if not _NAME.fullmatch(name):
        raise GreytareError(
            "this isn't a valid file name",
            "",
            "Use letters, digits, spaces, dots or dashes",
            "name",
        )
    return name + PROFILE_SUFFIX


def report_html(here: OpenSeries) -> str:
    """Return the report as a piece of HTML, every text in it escaped."""
    from profiler.show.report.page import report_body, report_css

    preview = None if here.measured is None else here.measured.preview
    return f"<style>{report_css()}</style>{report_body(here.profile(), preview=preview)}"


def _row(line: SheetLine, result: Result, i: int, widest: float) -> FrameRow:
    frame = result.frames[i]
    places = decimals(max(2.0 * result.frame_scatter_ev, 0.01))
    setting = " ".join(
        text
        for text in (
            "" if frame.aperture is None else format_f_number(frame.aperture),
            "" if frame.time_s is None else format_time(frame.time_s),
        )
        if text
    )
    residual = frame.residual_ev
    state = "on the line" if frame.used else "left out"
    if residual is None:
        headroom = result.clip_headroom_ev.value
        state = "over clip" if frame.placement_ev > headroom - 0.3 else "not on the line"
    return FrameRow(
        line=line,
        iso=f"{result.iso}",
        setting=setting,
        placement=f"{frame.placement_ev:+.1f}",
        residual="" if residual is None else f"{residual:+.{max(places, 2)}f}",
        bar=0.0 if residual is None else residual / widest,
        state=", ".join([state, *frame.flags]),
        used=frame.used,
    )


def _without(line: SheetLine, said: dict[str, str]) -> FrameRow:
    """A frame that no result holds: dark, or not to be used."""
    dark = line.reading.strip().lower() == "dark"
    state = "not used" if not line.use else "lens cap" if dark else "no reading"
    return FrameRow(
        line=line,
        iso=said["iso"],
        setting=f"{said['aperture']} {said['time']}".strip(),
        placement="",
        residual="",
        bar=0.0,
        state=state,
        used=False,
    )
