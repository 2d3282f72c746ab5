"""The rows of the series table: what the file says, what the sheet says, what that means."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from profiler.calibration.against import largest
from profiler.calibration.exposures import join
from profiler.errors import GreytareError, SheetError
from profiler.exposure import modes
from profiler.exposure.readings import parse_reading
from profiler.exposure.wording import format_ev, format_f_number, format_f_tenths, format_time
from profiler.files.sheet import EVERY_FILE
from profiler.records import MODES, Meter
from profiler.web.rendering import sentence
from profiler.web.series.cells import SheetCells

if TYPE_CHECKING:
    from profiler.files.sheet import Sheet
    from profiler.records import FrameTags

ALL: Final = "all frames"


@dataclass(frozen=True, kw_only=True)
class SheetLine:
    """One row of the table; row None: the sheet has none yet. first: the frame's first one."""

    file: str
    row: int | None
    first: bool
    reading: str = ""
    mode: str = ""
    use: bool = True
    note: str = ""
    iso: str = ""
    time: str = ""
    aperture: str = ""
    said: dict[str, str] = field(default_factory=dict)
    answer: str = ""
    error: str = ""

    @property
    def general(self) -> bool:
        """Whether it holds for every file."""
        return self.file == EVERY_FILE

    @property
    def name(self) -> str:
        """What the row is called on the page."""
        return ALL if self.general else self.file


def lines_of(cells: SheetCells, files: Sequence[str]) -> list[SheetLine]:
    """Return the rows for every file (an empty one where there is none), then each frame's."""
    by_file = cells.rows_by_file(files)
    general = by_file.get(EVERY_FILE, [])
    found = [_line(cells, row, EVERY_FILE, i == 0) for i, row in enumerate(general)]
    if not general:
        found = [_line(cells, None, EVERY_FILE, True)]
    for file in files:
        rows = by_file.get(file, [])
        found += [_line(cells, row, file, i == 0) for i, row in enumerate(rows)]
        if not rows:
            found.append(_line(cells, None, file, True))
    return found


def tag_words(tags: FrameTags | None) -> dict[str, str]:
    """Return what a file says of itself, as a photographer writes it, empty for nothing."""
    if tags is None:
        return {"iso": "", "time": "", "aperture": "", "camera": ""}
    camera = " ".join(
        str(tag.value) for tag in (tags.model or tags.make, tags.serial) if tag is not None
    )
    return {
        "iso": "" if tags.iso is None else f"{tags.iso.value:g}",
        "time": "" if tags.time_s is None else format_time(tags.time_s.value),
        "aperture": "" if tags.aperture is None else format_f_number(tags.aperture.value),
        "camera": camera,
    }


def against_words(sheet: Sheet, tags: Mapping[str, FrameTags]) -> list[str]:
    """Return where the sheet says something else than the files, the largest of each column."""
    found = (each for file, said in tags.items() for each in join(sheet, file, said).against)
    return [
        f"{words[0].upper()}{words[1:]} ({format_ev(one.size_ev)}). The sheet's value counts."
        for one, words in largest(found)
    ]


def reading_answer(reading: str, mode: str) -> str:
    """Return what a reading asks for, in words; SheetError where it can't be understood."""
    text = reading.strip()
    if not text:
        return ""
    parsed = parse_reading(text, "reading")
    if parsed.is_dark:
        return "lens cap on: black is read from it"
    if mode not in MODES:
        raise SheetError(
            "the meter mode is missing", "", f"Choose how it was read: {', '.join(MODES)}", "mode"
        )
    meter = Meter()
    ev100 = parsed.metered_ev100(mode, meter, where="reading")
    if modes.is_flash(mode):
        return f"{format_f_tenths(2.0 ** (0.5 * ev100))} at ISO 100"
    words = f"EV {ev100:.1f} at ISO 100"
    constant = f"{modes.constant_for_mode(mode, meter):g}"
    if parsed.form == "illuminance":
        words += f" by C = {constant} lx"
    elif parsed.form == "luminance":
        words += f" by K = {constant} cd/m²"
    return words


def answer_or_error(reading: str, mode: str) -> tuple[str, str]:
    """Return the answer to a reading, or the sentence that says what is wrong with it."""
    try:
        return reading_answer(reading, mode), ""
    except GreytareError as error:
        return "", sentence(error)


def _line(cells: SheetCells, row: int | None, file: str, first: bool) -> SheetLine:
    if row is None:
        return SheetLine(file=file, row=None, first=first)
    reading, mode = cells.cell(row, "reading"), cells.cell(row, "mode").lower()
    answer, error = answer_or_error(reading, mode)
    return SheetLine(
        file=file,
        row=row,
        first=first,
        reading=reading,
        mode=mode,
        use=cells.cell(row, "use").lower() not in ("no", "n", "0"),
        note=cells.cell(row, "note"),
        iso=cells.cell(row, "iso"),
        time=cells.cell(row, "time"),
        aperture=cells.cell(row, "aperture"),
        answer=answer,
        error=error,
    )
