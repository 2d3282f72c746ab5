"""A run hands its workers only what doesn't stand as it did when it was found done."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import fleetlab
import pytest

from profiler import standards
from profiler.fleet.batch import run as batch
from profiler.fleet.batch.task import Settings
from profiler.fleet.batch.workers import WorkerPool
from profiler.records import Meter
from profiler.results import ProfileData

NAMES = ["bench/body00", "shelf/body01", "shelf/body02"]


@contextmanager
def in_this_process(jobs: int) -> Iterator[WorkerPool]:
    """Workers that need no start."""
    with ThreadPoolExecutor(jobs) as pool:
        yield WorkerPool(executor=pool, width=jobs, deaths=(), alone=True, name="threads")


@pytest.fixture
def shelf(small_fleet, tmp_path, monkeypatch) -> Path:
    """Three series that two runs have found done, by a clock that ticks at once."""
    monkeypatch.setattr(standards, "CLOCK_TICK_S", 0.0)
    monkeypatch.setattr(batch, "local", in_this_process)
    for name in NAMES:
        shutil.copytree(small_fleet / name, tmp_path / "root" / name)
    assert handed(tmp_path, monkeypatch) == NAMES
    assert handed(tmp_path, monkeypatch) == []
    return tmp_path


def handed(place: Path, monkeypatch, **settings: object) -> list[str]:
    """The series that a run gave to its workers."""
    given: list[str] = []

    def spied(pool, work, tasks):
        for task, result in real(pool, work, tasks):
            given.append(task.name)
            yield task, result

    real = batch.run_tasks
    with monkeypatch.context() as patched:
        patched.setattr(batch, "run_tasks", spied)
        summary = batch.run_fleet(
            place / "root", place / "out", jobs=1, settings=Settings(**settings)
        )
    assert summary.measured + summary.same == summary.series == len(NAMES)
    assert not summary.failures
    return sorted(given)


def plain_report(made: ProfileData) -> str:
    return made.camera.serial


def touched(path: Path) -> None:
    path.touch()


def rewritten(path: Path) -> None:
    """Other content of the same length, with the old time set back by hand."""
    before = path.stat()
    text = path.read_text()
    path.write_text(text.replace("EV 9", "EV 8", 1))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size


def replaced(path: Path) -> None:
    """The same content in another file of the same times."""
    other = path.with_name("other")
    shutil.copy2(path, other)
    other.replace(path)


def cut(path: Path) -> None:
    path.write_text(path.read_text()[:-100])


@pytest.mark.parametrize(
    ("change", "file"),
    [
        (touched, "root/shelf/body01/sheet.csv"),
        (rewritten, "root/shelf/body01/sheet.csv"),
        (touched, "root/shelf/body01/levels.csv"),
        (replaced, "root/shelf/body01/levels.csv"),
        (cut, "out/profiles/shelf/body01.profile.json"),
        (cut, "out/profiles/shelf/body01.about.json"),
        (Path.unlink, "out/profiles/shelf/body01.profile.json"),
    ],
)
def test_what_changed_is_looked_into_and_nothing_else(shelf, monkeypatch, change, file):
    change(shelf / file)
    assert handed(shelf, monkeypatch) == ["shelf/body01"]
    assert handed(shelf, monkeypatch) == []


@pytest.mark.parametrize(
    ("file", "text"), [("asset.toml", '[asset]\nlab = "Halden"\n'), ("meter.toml", "[meter]\n")]
)
def test_what_lies_above_a_series_counts(shelf, monkeypatch, file, text):
    (shelf / "root" / "shelf" / file).write_text(text)
    assert handed(shelf, monkeypatch) == ["shelf/body01", "shelf/body02"]
    (shelf / "root" / "shelf" / file).unlink()
    (shelf / "root" / file).write_text(text)
    assert handed(shelf, monkeypatch) == NAMES


@pytest.mark.parametrize(
    "settings",
    [{"light": "led"}, {"aim": 3.5}, {"meter": Meter(serial="7")}, {"report": plain_report}],
)
def test_settings_count(shelf, monkeypatch, settings):
    assert handed(shelf, monkeypatch, **settings) == NAMES
    assert handed(shelf, monkeypatch, **settings) == []


def test_what_has_just_changed_is_looked_into_again(shelf, monkeypatch):
    monkeypatch.setattr(standards, "CLOCK_TICK_S", 3600.0)
    sheet = shelf / "root" / "shelf" / "body01" / "sheet.csv"
    sheet.write_text(sheet.read_text() + "\n")
    assert handed(shelf, monkeypatch) == ["shelf/body01"]
    assert handed(shelf, monkeypatch) == ["shelf/body01"]


def test_a_lost_cache_costs_time_alone(shelf, monkeypatch):
    monkeypatch.setenv("GREYTARE_CACHE", str(shelf / "other"))
    before = fleetlab.table_of(shelf / "out")
    assert handed(shelf, monkeypatch) == NAMES
    assert fleetlab.table_of(shelf / "out") == before
