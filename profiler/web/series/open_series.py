"""One series that the page has open: its sheet, its measurement, its fit."""

from __future__ import annotations

import hashlib
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from profiler.errors import FrameError, GreytareError, MeasureError, SheetError
from profiler.frames.cache import Signature, signature_of
from profiler.web import folders
from profiler.web.jobs import Job, Progress
from profiler.web.series.cells import Edit, SheetCells, check_cells, edit_cells, read_cells

if TYPE_CHECKING:
    from profiler.files.sheet import Sheet
    from profiler.records import Measurement
    from profiler.results import ProfileData

AUTO = "auto"


@dataclass(frozen=True, kw_only=True)
class FitOptions:
    """What the user says beside the sheet; meter: path of a meter file, empty for the standard."""

    light: str = "other"
    aim: str = "iso12232"
    times: str = "best"
    meter: str = ""


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A measurement, a picture of its patch, and what the frames were taken as at the time."""

    measurement: Measurement
    patch: str
    preview: bytes
    taken_as: tuple[tuple[object, ...], ...]
    files: tuple[tuple[str, Signature], ...]


@dataclass(frozen=True, kw_only=True)
class Saved:
    """A sheet that was written: its new version, the rows touched, where the older file is."""

    version: str
    rows: list[int]
    kept: str


class OpenSeries:
    """State of one folder; every method holds its lock, so that two requests don't mix."""

    def __init__(self, start: Path, folder: Path) -> None:
        self.start, self.folder = start, folder
        self._lock = threading.RLock()
        self._own_versions: set[str] = set()
        self._measured: Measured | None = None
        self._fitted: tuple[tuple[str, FitOptions, int], ProfileData] | None = None
        self.job: Job[Measured] | None = None
        self.patch = AUTO
        self.options = FitOptions()

    @property
    def measured(self) -> Measured | None:
        """The last measurement, if there is one."""
        with self._lock:
            return self._measured

    def frames(self) -> list[Path]:
        """Return the frames, none of them a link out of the start folder."""
        return folders.frames_of(self.start, self.folder)

    def cells(self) -> SheetCells:
        """Return the sheet's cells as they stand on disk."""
        return read_cells(folders.sheet_of(self.start, self.folder))

    def save_edits(self, edits: Sequence[Edit], version: str) -> Saved:
        """Write edits into the sheet, if all of it can be read then."""
        with self._lock:
            changed, rows = edit_cells(self._cells_of(version), edits)
            try:
                names = [path.name for path in self.frames()]
            except FrameError:  # a reading may be typed before the first frame comes
                names = []
            check_cells(changed, names)
            return self._write(changed, rows)

    def save_and_fit(
        self, edits: Sequence[Edit], version: str
    ) -> tuple[Saved, ProfileData | None, ProfileData]:
        """Write edits and fit; where the fit fails nothing is written. Saved, before, after."""
        with self._lock:
            before = self._fitted[1] if self._fitted else None
            changed, rows = edit_cells(self._cells_of(version), edits)
            sheet = check_cells(changed, [path.name for path in self.frames()])
            after = self._fit(sheet)
            saved = self._write(changed, rows)
            self._remember(saved.version, after)
            return saved, before, after

    def set_options(self, options: FitOptions) -> tuple[ProfileData | None, ProfileData]:
        """Fit with other options, kept only where that succeeds. Before, after."""
        with self._lock:
            before = self._fitted[1] if self._fitted else None
            kept, self.options = self.options, options
            try:
                return before, self.profile()
            except GreytareError:
                self.options = kept
                raise

    def profile(self) -> ProfileData:
        """Return the fit of the sheet as it stands on disk; instant where nothing has changed."""
        with self._lock:
            cells = self.cells()
            key = (cells.version, self.options, id(self._measured))
            if self._fitted is not None and self._fitted[0] == key:
                return self._fitted[1]
            profile = self._fit(check_cells(cells, [path.name for path in self.frames()]))
            self._remember(cells.version, profile)
            return profile

    def start_measuring(self, patch: str) -> None:
        """Measure in the background, unless that goes on already."""
        with self._lock:
            if self.job is not None and self.job.running:
                return
            self.patch = patch
            self.frames()
            self.job = Job(lambda progress: self._measure(patch, progress), self._keep)

    def _cells_of(self, version: str) -> SheetCells:
        cells = self.cells()
        if cells.version != version:
            raise SheetError(
                "another program has changed the sheet since this page was loaded",
                cells.name,
                "Load the page again, then type the change once more",
            )
        return cells

    def _write(self, cells: SheetCells, rows: list[int]) -> Saved:
        """Writes the sheet; the user's own older file stays beside it, our drafts don't."""
        from profiler.files.atomic import write_whole

        content = cells.content()
        kept = write_whole(folders.sheet_of(self.start, self.folder), content, replace=True)
        if kept is not None and hashlib.sha256(kept.read_bytes()).hexdigest() in self._own_versions:
            kept.unlink()
            kept = None
        version = hashlib.sha256(content).hexdigest()
        self._own_versions.add(version)
        return Saved(version=version, rows=rows, kept="" if kept is None else kept.name)

    def _fit(self, sheet: Sheet) -> ProfileData:
        from profiler.calibration import pipeline
        from profiler.exposure.aims import parse_aim
        from profiler.files.meter import read_meter

        if self._measured is None:
            raise MeasureError(
                "the frames are not measured yet", self.folder.name, "Measure them first"
            )
        if self._measured.taken_as != _taken_as(self._measured.measurement, sheet):
            raise MeasureError(
                "the sheet now says other ISO labels, times, apertures, dark frames or equal ones",
                self.folder.name,
                "Measure again; frames that are known are not decoded twice",
            )
        if self._measured.files != _files(self.frames()):
            raise MeasureError(
                "the folder now holds other frames", self.folder.name, "Measure again"
            )
        options = self.options
        meter = None
        if options.meter:
            meter = read_meter(folders.inside(self.start, options.meter))
        return pipeline.fit(
            self._measured.measurement,
            sheet,
            light=options.light,
            aim=parse_aim(options.aim),
            meter=meter,
            times=options.times,
        )

    def _measure(self, patch: str, progress: Progress) -> Measured:
        from profiler.calibration import pipeline
        from profiler.files.sheet import Sheet

        paths = self.frames()
        cells = self.cells()
        sheet = Sheet(name=cells.name, columns=())
        if cells.rows:
            sheet = check_cells(cells, [path.name for path in paths])
        files = _files(paths)
        progress(0, 0)
        with tempfile.TemporaryDirectory(prefix="greytare-") as place:
            picture = Path(place) / "patch.png"
            measurement = pipeline.measure(
                self.folder, sheet, patch=patch, preview=picture, progress=progress
            )
            preview = picture.read_bytes()
        return Measured(
            measurement=measurement,
            patch=patch,
            preview=preview,
            taken_as=_taken_as(measurement, sheet),
            files=files,
        )

    def _keep(self, measured: Measured) -> None:
        with self._lock:
            self._measured = measured
            self._fitted = None

    def _remember(self, version: str, profile: ProfileData) -> None:
        self._fitted = ((version, self.options, id(self._measured)), profile)


def _taken_as(measurement: Measurement, sheet: Sheet) -> tuple[tuple[object, ...], ...]:
    """What decides pairs and dark frames: if it changes, the frames must be measured again."""
    from profiler.calibration.exposures import join_all, partners_of

    exposures = join_all(sheet, measurement.frames)
    partners = partners_of(exposures)
    return tuple((e.file, e.alike, partners[e.file], e.cfa) for e in exposures)


def _files(paths: Sequence[Path]) -> tuple[tuple[str, Signature], ...]:
    return tuple((path.name, signature_of(path.stat())) for path in paths)
