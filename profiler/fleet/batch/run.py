"""The batch: every series below a folder measured, resumed where an earlier run was stopped."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, suppress
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from profiler.errors import GreytareError
from profiler.files.profile import load_profile
from profiler.fleet.absent import series_left
from profiler.fleet.batch.find import Found, find_series
from profiler.fleet.batch.standing import Standings
from profiler.fleet.batch.store import PROFILE, Store, derived, open_store, read_about
from profiler.fleet.batch.task import Failure, Outcome, Settings, Task, work
from profiler.fleet.batch.workers import WorkerDied, cluster, local, run_tasks
from profiler.fleet.columns import Rows
from profiler.fleet.duplicates import shots_of
from profiler.fleet.index import Index
from profiler.frames.cache import MeasureCache

Progress = Callable[[int, int, Failure | None], None]
"""(series done, series in all, why the last one failed), called after each series."""


@dataclass(frozen=True, kw_only=True)
class Archived:
    """A series whose files are gone; now: the name that its frames have, empty where none does."""

    series: str
    asset_tag: str
    camera_make: str
    camera_model: str
    camera_serial: str
    now: str = ""


@dataclass(frozen=True, kw_only=True)
class Summary:
    """How a run went. measured: anew; same: done before; without_sheet: folders passed over.

    stale: series whose earlier results stand although their files couldn't be reached; archived:
    those that are there no more. duplicates: series whose frames are those of another, with that
    one, which counts. linked_again: links to what is looked through anyway.
    """

    series: int
    measured: int
    same: int
    failures: tuple[Failure, ...]
    stale: tuple[str, ...]
    duplicates: tuple[tuple[str, str], ...]
    archived: tuple[Archived, ...]
    without_sheet: tuple[Path, ...]
    linked_again: tuple[Path, ...]
    errors: Path
    rows: int


def run_fleet(
    root: Path,
    out: Path,
    *,
    jobs: int = 0,
    threads: int = 0,
    address: str | None = None,
    settings: Settings | None = None,
    progress: Progress | None = None,
) -> Summary:
    """Return how the run over all series below `root` went; its files lie in `out`.

    jobs: local processes, 0 for one a core; threads: that decode in each, 0 for as many as there
    are cores for it (one on a cluster); address: of a dask.distributed scheduler, instead.
    Stopped at any moment, kill -9 included, and called again, it goes on where it was.
    """
    settings = settings or Settings()
    found = find_series(root, out)
    failures: list[Failure] = []
    stale: list[str] = []
    measured = same = 0
    with open_store(out) as store, closing(MeasureCache()) as cache:
        store.claim(root)
        gone = _archived_before(store, found)
        derived(store.errors, _errors_json(found, failures, gone, finished=False))
        standings = Standings(root, store, settings, cache)
        todo = standings.open_series(found.series)
        same = len(found.series) - len(todo)
        done: list[str] = []
        jobs = max(1, min(jobs or _cores(), len(todo)))
        threads = threads or (1 if address else max(1, _cores() // jobs))
        tasks = _tasks(todo, root, store, settings, threads, standings)
        with cluster(address) if address else local(jobs) as pool:
            for task, result in run_tasks(pool, work, tasks):
                if isinstance(result, Outcome):
                    outcome = result
                else:
                    outcome = Outcome(name=task.name, key="", failure=_unforeseen(task, result))
                failure = outcome.failure
                if failure is not None:
                    failures.append(_known_by_its_result(store, failure))
                    if not failure.lost:
                        store.retire(outcome.name)
                    elif store.profile(outcome.name).is_file():
                        store.mark_stale(outcome.name, f"{_today()}: {failure.what}")
                        stale.append(outcome.name)
                elif outcome.same:
                    same += 1
                    store.mark_stale(outcome.name, "")
                else:
                    measured += 1
                    _keep(store, outcome)
                if outcome.key:
                    done.append(outcome.name)
                if progress is not None:
                    progress(measured + same + len(failures), len(found.series), failure)
        index = Index(store.profiles)
        index.look()
        absent = [name for name in index.series() if name not in found.series]
        for name in absent:
            if why := found.lost(name):
                store.mark_stale(name, f"{_today()}: {why}")
                stale.append(name)
            else:
                gone.append(_archive(store, name, index))
        if absent:
            index.look()
        gone.sort(key=lambda each: each.series)
        rows = index.rows()
        failures += _damaged(store, index)
        derived(store.errors, _errors_json(found, failures, gone, finished=True))
        standings.keep(done)
    return Summary(
        series=len(found.series),
        measured=measured,
        same=same,
        failures=_sorted(failures),
        stale=tuple(sorted(stale)),
        duplicates=_duplicates(rows),
        archived=tuple(gone),
        without_sheet=found.without_sheet,
        linked_again=found.linked_again,
        errors=store.errors,
        rows=len(rows),
    )


def _tasks(
    series: Mapping[str, Path],
    root: Path,
    store: Store,
    settings: Settings,
    threads: int,
    standings: Standings,
) -> Iterator[Task]:
    whole = root.resolve()
    for name, folder in series.items():
        standings.look(name, folder)
        yield Task(
            name=name,
            folder=whole / folder.relative_to(root),  # through a link, not to where it leads
            root=whole,
            known_key=store.known_key(name, report=settings.report is not None),
            threads=threads,
            settings=settings,
        )


def _keep(store: Store, outcome: Outcome) -> None:
    about = {
        "series": outcome.name,
        "key": outcome.key,
        "sheet_sha256": outcome.sheet_sha256,
        "details": outcome.details,
    }
    store.keep(outcome.name, outcome.profile, outcome.report, about)


def _unforeseen(task: Task, error: BaseException) -> Failure:
    if isinstance(error, WorkerDied):
        return Failure(
            series=task.name,
            kind="WorkerDied",
            what="the process that decoded it died, twice",
            where=str(task.folder),
            mend="Look for a damaged file in it, or for a machine short of memory",
            lost=True,
        )
    return Failure(
        series=task.name,
        kind=type(error).__name__,
        what=f"unforeseen: {error}",
        where=str(task.folder),
        mend="This is a fault of greytare: please report it",
        lost=True,
    )


def _known_by_its_result(store: Store, failure: Failure) -> Failure:
    """A failure with the body that an earlier result of the series names, where no file does."""
    if failure.camera_serial or not store.profile(failure.series).is_file():
        return failure
    with suppress(GreytareError):
        body = _body(store.profile(failure.series), failure.asset_tag)
        return Failure(**asdict(failure) | body)
    return failure


def _body(path: Path, tag: str = "") -> dict[str, str]:
    about = read_about(path) or {}
    camera = load_profile(path).camera
    return {
        "asset_tag": tag or str(about.get("details", {}).get("tag", "")),
        "camera_make": camera.make,
        "camera_model": camera.model,
        "camera_serial": camera.serial,
    }


def _archived_before(store: Store, found: Found) -> list[Archived]:
    """What earlier runs have archived, less what has come back."""
    return [
        Archived(
            series=left.series,
            asset_tag=left.asset_tag,
            camera_make=left.camera_make,
            camera_model=left.camera_model,
            camera_serial=left.camera_serial,
            now=left.why,
        )
        for left in series_left(store.out)
        if left.kind == "archived" and left.series not in found.series
    ]


def _archive(store: Store, name: str, index: Index) -> Archived:
    """Archive a series; what its frames are called now is known where another series has them."""
    path = store.archive(name)
    body = dict.fromkeys(("asset_tag", "camera_make", "camera_model", "camera_serial"), "")
    now = ""
    with suppress(GreytareError):
        body = _body(path)
        now = index.series_of(shots_of(load_profile(path)), but=name)
    return Archived(series=name, now=now, **body)


def _duplicates(rows: Rows) -> tuple[tuple[str, str], ...]:
    """Series that repeat another's frames, each with that one."""
    again = rows.take(~rows.text("duplicate_of").are(""))
    pairs = zip(again.text("series").array, again.text("duplicate_of").array, strict=True)
    return tuple(sorted(set(pairs)))


def _damaged(store: Store, index: Index) -> list[Failure]:
    """Profiles that were damaged from outside since they were written."""
    return [
        Failure(
            series=path.relative_to(store.profiles).as_posix().removesuffix(PROFILE),
            kind=type(error).__name__,
            what=error.what,
            where=error.place(),
            mend=error.cure(),
        )
        for path, error in index.wrong().items()
    ]


def _errors_json(
    found: Found, failures: list[Failure], gone: list[Archived], *, finished: bool
) -> str:
    whole = {
        "format": "greytare-errors",
        "version": 1,
        "finished": finished,
        "series": len(found.series),
        "failed": [asdict(failure) for failure in _sorted(failures)],
        "archived": [asdict(each) for each in gone],
        "without_sheet": [str(path) for path in found.without_sheet],
        "linked_again": [str(path) for path in found.linked_again],
    }
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"


def _today() -> str:
    return datetime.now(UTC).date().isoformat()


def _sorted(failures: list[Failure]) -> tuple[Failure, ...]:
    return tuple(sorted(failures, key=lambda failure: failure.series))


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1
