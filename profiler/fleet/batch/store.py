"""The output folder of a run: where each file lies, whole at every moment."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from profiler.errors import GreytareError
from profiler.files.atomic import sweep, write_whole
from profiler.files.lock import lock_state
from profiler.files.regular import read_bytes, read_text

PROFILE: Final = ".profile.json"
ABOUT: Final = ".about.json"
ERRORS: Final = "errors.json"
RUN: Final = "run.json"
PROFILES: Final = "profiles"
ABOUT_FORMAT: Final = "greytare-series"
_SPARE: Final = re.compile(
    r"(errors\.json|run\.json|.+\.about\.json|.+\.html)\.\d{8}T\d{6}Z(-\d+)?\.old"
)
"""Older copies of derived files that a killed run had no time to delete."""


@dataclass(frozen=True, kw_only=True)
class Store:
    """Paths below the output folder."""

    out: Path

    @property
    def profiles(self) -> Path:
        """Folder of all profiles, in folders as the series lie."""
        return self.out / PROFILES

    @property
    def errors(self) -> Path:
        """The list of series that failed."""
        return self.out / ERRORS

    def profile(self, name: str) -> Path:
        """Path of a series' profile."""
        return self.profiles / f"{name}{PROFILE}"

    def report(self, name: str) -> Path:
        """Path of a series' report."""
        return self.out / "reports" / f"{name}.html"

    def archived(self, name: str) -> Path:
        """Path of the profile of a series that is there no more."""
        return self.out / "archive" / f"{name}{PROFILE}"

    def known_key(self, name: str, *, report: bool) -> str:
        """Return the content key under which a series is done and its files whole, else ''."""
        path = self.profile(name)
        about = read_about(path)
        if about is None or not path.is_file():
            return ""
        if hashlib.sha256(read_bytes(path)).hexdigest() != about.get("profile_sha256"):
            return ""
        if report and not self.report(name).is_file():
            return ""
        return str(about.get("key", ""))

    def keep(self, name: str, profile: str, report: str | None, about: dict[str, Any]) -> None:
        """Write profile, report, then what is known about them: the mark that all is there."""
        path = self.profile(name)
        path.parent.mkdir(parents=True, exist_ok=True)
        before = read_text(path) if path.is_file() else ""
        if _but_for_time(before) == _but_for_time(profile):
            profile = before  # written just before the run was killed
        else:
            write_whole(path, profile, replace=True)
        if report is not None:
            derived(self.report(name), report)
        digest = hashlib.sha256(profile.encode()).hexdigest()
        derived(about_path(path), about_json(about | {"profile_sha256": digest}))

    def mark_stale(self, name: str, why: str) -> None:
        """Write down why the files of a series can't be reached now; empty: that they can again."""
        path = self.profile(name)
        about = read_about(path)
        if about is None or (about.get("stale", "") == "") == (why == ""):
            return
        about.pop("stale", None)
        derived(about_path(path), about_json(about | ({"stale": why} if why else {})))

    def archive(self, name: str) -> Path:
        """Put the files of a series that is there no more into the archive; return its profile."""
        path = self.profile(name)
        target = self.archived(name)
        target.parent.mkdir(parents=True, exist_ok=True)
        for old, new in ((path, target), (about_path(path), about_path(target))):
            if new.is_file():
                stamp = datetime.fromtimestamp(new.stat().st_mtime, UTC).strftime("%Y%m%dT%H%M%SZ")
                new.replace(new.with_name(f"{new.name}.{stamp}.old"))
            if old.is_file():
                old.replace(new)
        self.report(name).unlink(missing_ok=True)
        return target

    def retire(self, name: str) -> None:
        """Put the files of a series that no longer measures out of the way; the profile is kept."""
        path = self.profile(name)
        if path.is_file():
            stamp = datetime.fromtimestamp(path.stat().st_mtime, UTC).strftime("%Y%m%dT%H%M%SZ")
            path.replace(path.with_name(f"{path.name}.{stamp}.old"))
        about_path(path).unlink(missing_ok=True)
        self.report(name).unlink(missing_ok=True)

    def claim(self, root: Path) -> None:
        """Write down whose results these are; GreytareError where they are of another folder."""
        path, own = self.out / RUN, str(root.resolve())
        if not path.is_file():
            derived(path, json.dumps({"format": "greytare-run", "version": 1, "root": own}) + "\n")
            return
        try:
            held = json.loads(read_text(path))
            known = str(held.get("root", own))
        except (OSError, ValueError, AttributeError) as error:
            raise GreytareError(
                "it can't be read", str(path), "Delete it, if these are results of this folder"
            ) from error
        if known != own:
            raise GreytareError(
                f"it holds the results of {known}, not of {own}",
                str(self.out),
                "Name another folder for the results; if the series were moved as a whole, "
                f"correct root in {path.name}",
                "out",
            )
        derived(path, json.dumps(held | {"root": own}) + "\n")

    def clean(self) -> int:
        """Delete what a killed run left over; return how many files that were."""
        count = 0
        for place, _, files in os.walk(self.out):
            for name in files:
                if name.endswith(".old") and _SPARE.fullmatch(name):
                    Path(place, name).unlink(missing_ok=True)
                    count += 1
            count += sweep(Path(place))
        return count


@contextmanager
def open_store(out: Path) -> Iterator[Store]:
    """Yield the store in `out`, made where needed, cleaned, and shut to other runs meanwhile."""
    try:
        out.mkdir(parents=True, exist_ok=True)
        lock = (out / ".lock").open("w")
    except OSError as error:
        raise GreytareError(
            f"the folder can't be written ({error.strerror})", str(out), "Name another folder"
        ) from error
    with lock:
        state = lock_state(lock.fileno())
        if state == "busy":
            raise GreytareError(
                "another run writes into it", str(out), "Wait for its end, or name another folder"
            )
        if state == "none":
            raise GreytareError(
                "its file system gives no locks, so that two runs could write into it at once",
                str(out),
                "Name a folder on a disk of this machine",
                "out",
            )
        store = Store(out=out)
        store.clean()
        store.profiles.mkdir(exist_ok=True)
        yield store


def profile_folder(folder: Path) -> Path:
    """Return where the profiles of a folder lie: below it, or in `profiles` of a run's output."""
    of_run = folder / PROFILES
    return of_run if (folder / RUN).is_file() and of_run.is_dir() else folder


def about_path(profile: Path) -> Path:
    """Return the path of what is known about a profile beyond what it says itself."""
    return profile.with_name(profile.name.removesuffix(PROFILE) + ABOUT)


def about_json(about: dict[str, Any]) -> str:
    """Return the text of that file."""
    whole = {"format": ABOUT_FORMAT, "version": 1} | about
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"


def read_about(profile: Path) -> dict[str, Any] | None:
    """Return what is known about a profile; None where there is no such file, or no whole one."""
    try:
        text = read_text(about_path(profile))
        data = json.loads(text)
    except (OSError, ValueError, RecursionError):
        return None
    good = isinstance(data, dict) and data.get("format") == ABOUT_FORMAT
    return data if good and isinstance(data.get("details", {}), dict) else None


def derived(path: Path, content: str | bytes) -> None:
    """Write a file that can be made again at any time: whole, no older one kept."""
    data = content.encode() if isinstance(content, str) else content
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.is_file() and read_bytes(path) == data:
        return
    kept = write_whole(path, data, replace=True)
    if kept is not None:
        kept.unlink(missing_ok=True)


def _but_for_time(profile: str) -> object:
    try:
        data = json.loads(profile)
        data["provenance"].pop("created")
    except (ValueError, KeyError, TypeError, AttributeError):
        return profile
    return data
