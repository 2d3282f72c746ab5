"""What a worker does for one series: measure, fit, hand the texts back."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from contextlib import closing, suppress
from dataclasses import asdict, dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from profiler import __version__
from profiler.calibration import pipeline
from profiler.errors import GreytareError
from profiler.fleet import details as about
from profiler.fleet.batch.find import LEVELS, ROOT_NAME, SHEET

if TYPE_CHECKING:
    from profiler.files.sheet import Sheet
    from profiler.fleet.details import Details
    from profiler.frames.cache import MeasureCache
    from profiler.records import Measurement, Meter
    from profiler.results import ProfileData

KEY_VERSION: Final = 2
METER: Final = "meter.toml"
"""The meter of a series: the file nearest to it on the way up to the root."""


@dataclass(frozen=True, kw_only=True)
class Settings:
    """How all series of a run are measured; the same as the options of `fit`.

    report: profile -> HTML text, a function of a module (it travels to workers by its name).
    """

    light: str = "other"
    aim: float | None = None
    meter: Meter | None = None
    times: str = "best"
    patch: str = "auto"
    allow_8bit: bool = False
    report: Callable[[ProfileData], str] | None = None


@dataclass(frozen=True, kw_only=True)
class Task:
    """One series to do. known_key: key of the content that is done already; threads: to decode."""

    name: str
    folder: Path
    root: Path
    known_key: str = ""
    threads: int = 1
    settings: Settings = field(default_factory=Settings)


@dataclass(frozen=True, kw_only=True)
class Failure:
    """Why a series gave no profile; kind: name of the error's class.

    lost: its files couldn't be reached, which says nothing about an earlier result. Tag and body as
    far as they are known.
    """

    series: str
    kind: str
    what: str
    where: str
    mend: str
    lost: bool = False
    asset_tag: str = ""
    camera_make: str = ""
    camera_model: str = ""
    camera_serial: str = ""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What came of a series: the texts of its files, or that it is `same` as done before."""

    name: str
    key: str
    same: bool = False
    profile: str = ""
    report: str | None = None
    details: dict[str, Any] = field(default_factory=dict)
    sheet_sha256: str = ""
    failure: Failure | None = None


def work(task: Task) -> Outcome:
    """Return the outcome of one series; whatever is wrong with it is an outcome, too."""
    try:
        return _work(task)
    except GreytareError as error:
        failure = Failure(
            series=task.name,
            kind=type(error).__name__,
            what=error.what,
            where=error.place(),
            mend=error.cure(),
            lost=_unreached(error),
            **_identity(task),
        )
    except OSError as error:
        failure = Failure(
            series=task.name,
            kind=type(error).__name__,
            what=f"a file can't be read ({error.strerror})",
            where=str(error.filename or task.folder),
            mend="Check the disk and your right to read it",
            lost=True,
            **_identity(task),
        )
    return Outcome(name=task.name, key="", failure=failure)


def _unreached(error: BaseException | None) -> bool:
    """Whether the system couldn't reach a file; decoders raise errors of the kind without errno."""
    while error is not None:
        if isinstance(error, OSError) and error.errno is not None:
            return True
        error = error.__cause__ or error.__context__
    return False


def _identity(task: Task) -> dict[str, str]:
    """Tag and body of a series that failed, as far as anything tells them."""
    from profiler.frames.cache import MeasureCache, read_all_tags
    from profiler.frames.folder import list_frames

    known: dict[str, str] = {}
    with suppress(GreytareError, OSError):
        known["asset_tag"] = about.details_of(task.folder, task.root).tag
    with suppress(GreytareError, OSError), closing(MeasureCache()) as cache:
        (tags,) = read_all_tags(list_frames(task.folder)[:1], cache)
        for name in ("make", "model", "serial"):
            tag = getattr(tags, name)
            known[f"camera_{name}"] = "" if tag is None else str(tag.value)
    return known


def _work(task: Task) -> Outcome:
    from profiler.files.profile import profile_json
    from profiler.files.sheet import read_sheet
    from profiler.frames.cache import MeasureCache, sha256_of

    details = about.details_of(task.folder, task.root)
    meter = _meter(task)
    cache = MeasureCache()
    try:
        sheet_sha256 = sha256_of(task.folder / SHEET)
        files = _frames(task.folder)
        key_of = partial(content_key, task, details, meter, sheet_sha256)
        digests: dict[str, str] = dict.fromkeys((path.name for path in files), "")
        if task.known_key or files == [task.folder / LEVELS]:
            known = zip(files, cache.digests(files), strict=True)
            digests = {path.name: digest or cache.digest(path) for path, digest in known}
            if key_of(digests) == task.known_key:
                return Outcome(name=task.name, key=task.known_key, same=True)
        sheet = read_sheet(task.folder / SHEET)
        measurement = _measure(task, sheet, cache)
        if files != [task.folder / LEVELS]:
            digests |= dict.fromkeys(digests, "")
            digests |= {frame.file: frame.sha256 for frame in measurement.frames}
        # with a frame that was lost it is tried again
        key = key_of(digests) if all(digests.values()) else ""
    finally:
        cache.close()
    settings = task.settings
    profile = pipeline.fit(
        measurement,
        sheet,
        light=details.light or settings.light,
        aim=settings.aim,
        meter=meter,
        times=settings.times,
    )
    return Outcome(
        name=task.name,
        key=key,
        profile=profile_json(profile),
        report=None if settings.report is None else settings.report(profile),
        details=about.plain(details),
        sheet_sha256=sheet_sha256,
    )


def content_key(
    task: Task,
    details: Details,
    meter: Meter | None,
    sheet_sha256: str,
    digests: Mapping[str, str],
) -> str:
    """Return a digest of all that decides a profile.

    Software, settings, sheet, details, meter, and the SHA-256 of every frame under its name.
    """
    from profiler.frames.cache import MEASURE_VERSION

    settings = task.settings
    parts = {
        "key": [KEY_VERSION, MEASURE_VERSION, __version__],
        "settings": [settings.light, settings.aim, settings.times],
        "patch": [settings.patch, settings.allow_8bit],
        "meter": None if meter is None else asdict(meter),
        "details": about.plain(details),
        "sheet": sheet_sha256,
        "frames": list(digests.items()),
    }
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def _frames(folder: Path) -> list[Path]:
    """The raw files of a series, else the measured table that stands for them."""
    from profiler.frames.folder import is_frame_name, is_picture, list_frames

    levels = folder / LEVELS
    if levels.is_file() and not any(
        is_frame_name(path.name) and not is_picture(path) for path in folder.iterdir()
    ):
        return [levels]
    return list_frames(folder)


def _measure(task: Task, sheet: Sheet, cache: MeasureCache) -> Measurement:
    from profiler.files.level_table import read_table

    if _frames(task.folder) == [task.folder / LEVELS]:
        return read_table(task.folder / LEVELS)
    # a job has a core of its own: so many threads decode as the run has cores for each job
    return pipeline.measure(
        task.folder,
        sheet,
        patch=task.settings.patch,
        allow_8bit=task.settings.allow_8bit,
        cache=cache,
        threads=task.threads,
    )


def _meter(task: Task) -> Meter | None:
    from profiler.files.meter import read_meter

    down = [task.root] if task.name == ROOT_NAME else about.way_down(task.root, task.folder)
    for place in reversed(down):
        if (place / METER).is_file():
            return read_meter(place / METER)
    return task.settings.meter
