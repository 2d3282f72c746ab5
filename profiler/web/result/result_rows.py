"""What the result page shows: frames with their residuals, names of profiles."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from profiler.errors import GreytareError
from profiler.exposure.wording import format_f_number, format_time
from profiler.results import ProfileData, Result
from profiler.show.calibration.frames import frame_cells
from profiler.web.folders import PROFILE_SUFFIX
from profiler.web.jobs import JobState
from profiler.web.series.open_series import OpenSeries
from profiler.web.series.series_lines import SheetLine, lines_of, tag_words

_NAME: Final = re.compile(r"[^\W_][\w .+()-]{0,99}", re.UNICODE)


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
    """Return the file name of a profile to save; GreytareError where the text isn't one."""
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
    from profiler.show.report.document import report_body, report_css

    preview = None if here.measured is None else here.measured.preview
    return f"<style>{report_css()}</style>{report_body(here.profile(), preview=preview)}"


def _row(line: SheetLine, result: Result, i: int, widest: float) -> FrameRow:
    frame = result.frames[i]
    cells = frame_cells(result, frame)
    aperture = "" if frame.aperture is None else format_f_number(frame.aperture)
    time = "" if frame.time_s is None else format_time(frame.time_s)
    return FrameRow(
        line=line,
        iso=f"{result.iso}",
        setting=f"{aperture} {time}".strip(),
        placement=cells.placement,
        residual=cells.residual,
        bar=0.0 if frame.residual_ev is None else frame.residual_ev / widest,
        state=cells.state,
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
