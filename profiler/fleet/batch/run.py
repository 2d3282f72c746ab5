"""The batch: every series below a folder measured, resumed where an earlier run was stopped."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from profiler.fleet.batch.find import Found, find_series
from profiler.fleet.batch.store import Store, derived, open_store
from profiler.fleet.batch.task import Failure, Outcome, Settings, Task, work
from profiler.fleet.batch.workers import WorkerDied, cluster, local, run_tasks

Progress = Callable[[int, int, Failure | None], None]
"""(series done, series in all, why the last one failed), called after each series."""


@dataclass(frozen=True, kw_only=True)
class Summary:
    """How a run went. measured: anew; same: done before; without_sheet: folders passed over."""

    series: int
    measured: int
    same: int
    failures: tuple[Failure, ...]
    without_sheet: tuple[Path, ...]
    table: Path
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
    assets: dict[str, str] | None = None,
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
    measured = same = 0
    with open_store(out) as store:
        derived(store.errors, _errors_json(found, failures, finished=False))
        jobs = min(jobs or _cores(), len(found.series))
        threads = threads or (1 if address else max(1, _cores() // jobs))
        tasks = _tasks(found, root, store, settings, threads)
        with cluster(address) if address else local(jobs) as pool:
            for task, result in run_tasks(pool, work, tasks):
                if isinstance(result, Outcome):
                    outcome = result
                else:
                    outcome = Outcome(name=task.name, key="", failure=_unforeseen(task, result))
                if outcome.failure is not None:
                    failures.append(outcome.failure)
                    store.retire(outcome.name)
                elif outcome.same:
                    same += 1
                else:
                    measured += 1
                    _keep(store, outcome)
                if progress is not None:
                    progress(measured + same + len(failures), len(found.series), outcome.failure)
        rows = _write_table(store, found, failures, assets)
        derived(store.errors, _errors_json(found, failures, finished=True))
    return Summary(
        series=len(found.series),
        measured=measured,
        same=same,
        failures=_sorted(failures),
        without_sheet=found.without_sheet,
        table=store.table,
        errors=store.errors,
        rows=rows,
    )


def _tasks(
    found: Found, root: Path, store: Store, settings: Settings, threads: int
) -> Iterator[Task]:
    day = store.run_day()
    for name, folder in found.series.items():
        yield Task(
            name=name,
            folder=folder.resolve(),
            root=root.resolve(),
            day=day,
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
        )
    return Failure(
        series=task.name,
        kind=type(error).__name__,
        what=f"unforeseen: {error}",
        where=str(task.folder),
        mend="This is a fault of greytare: please report it",
    )


def _write_table(
    store: Store, found: Found, failures: list[Failure], assets: dict[str, str] | None
) -> int:
    """Write the table of all series that have a profile; return its number of rows."""
    from profiler.fleet.read_rows import read_profiles
    from profiler.fleet.rowsfile import rows_csv

    failed = {failure.series for failure in failures}
    names = [name for name in found.series if name not in failed]
    rows, wrong = read_profiles(
        [store.profile(name) for name in names], below=store.profiles, assets=assets
    )
    for path, error in wrong.items():  # damaged from outside since it was written
        name = names[[store.profile(name) for name in names].index(path)]
        failures.append(
            Failure(
                series=name,
                kind=type(error).__name__,
                what=error.what,
                where=error.place(),
                mend=error.cure(),
            )
        )
    derived(store.table, rows_csv(rows))
    return len(rows)


def _errors_json(found: Found, failures: list[Failure], *, finished: bool) -> str:
    whole = {
        "format": "greytare-errors",
        "version": 1,
        "finished": finished,
        "series": len(found.series),
        "failed": [asdict(failure) for failure in _sorted(failures)],
        "without_sheet": [str(path) for path in found.without_sheet],
    }
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"


def _sorted(failures: list[Failure]) -> tuple[Failure, ...]:
    return tuple(sorted(failures, key=lambda failure: failure.series))


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1
