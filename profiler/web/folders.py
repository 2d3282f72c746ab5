"""Paths below the start folder, and nothing beyond it."""

from __future__ import annotations

import os
import re
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from profiler.errors import FrameError, GreytareError
from profiler.files.regular import is_text, read_text
from profiler.frames.folder import is_frame_name, is_picture, list_frames

PROFILE_SUFFIX: Final = ".profile.json"
SHEET_NAME: Final = "sheet.csv"
RUN_NAME: Final = "run.json"
_LARGEST_BYTES: Final = 1_000_000
_DEEPEST: Final = 5
_MOST_FOLDERS: Final = 2000


@dataclass(frozen=True, kw_only=True)
class FolderEntry:
    """A folder in the browser: its name, its path below the start folder, what it holds."""

    name: str
    path: str
    frames: int
    has_sheet: bool


def inside(start: Path, text: str) -> Path:
    """Return the real path of `text`, links followed; GreytareError where it leads out of start.

    start must be a real path itself.
    """
    shown = text if len(text) <= 120 else f"{text[:120]}..."
    outside = GreytareError(
        "it leads out of the folder that this page may use",
        shown or "the start folder",
        "Choose a folder below it, or start the page again with another start folder",
    )
    if "\0" in text or os.path.isabs(text):
        raise outside
    try:
        real = (start / text).resolve()
    except (OSError, RuntimeError) as error:
        raise outside from error
    if real != start and not real.is_relative_to(start):
        raise outside
    if not real.exists():
        raise GreytareError("there is no such file or folder", shown, "Choose one from the list")
    return real


def relative(start: Path, path: Path) -> str:
    """Return a path below start as the page writes it; empty for start itself."""
    text = path.relative_to(start).as_posix()
    return "" if text == "." else text


def folder_inside(start: Path, text: str) -> Path:
    """Return the real path of a folder below start."""
    folder = inside(start, text)
    if not folder.is_dir():
        raise GreytareError("this isn't a folder", text, "Choose a folder from the list")
    return folder


def frames_of(start: Path, folder: Path) -> list[Path]:
    """Return the frames in a folder, none of them a link that leads out of start."""
    frames = list_frames(folder)
    if all(is_picture(path) for path in frames):
        raise FrameError(
            "the folder holds no raw frame", folder.name, "Copy the camera's raw files into it"
        )
    for path in frames:
        inside(start, relative(start, path))
    return frames


def is_inside(start: Path, path: Path) -> bool:
    """Return whether a path, links followed, lies below start."""
    try:
        return path.resolve().is_relative_to(start)
    except (OSError, RuntimeError):
        return False


def sheet_of(start: Path, folder: Path) -> Path:
    """Return where the sheet of a series lies, or will lie."""
    path = folder / SHEET_NAME
    if path.exists() or path.is_symlink():
        inside(start, relative(start, path))
    return path


def subfolders(start: Path, folder: Path) -> list[FolderEntry]:
    """Return the folders in a folder, sorted by name; hidden ones and links that lead out aren't.

    A folder that can't be read is shown as empty.
    """
    found = []
    for entry in _entries(folder):
        if entry.name.startswith(".") or not entry.is_dir():
            continue
        real = _real(start, entry)
        if real is None:
            continue
        inner = _entries(real)
        found.append(
            FolderEntry(
                name=entry.name,
                path=relative(start, real),
                frames=sum(_is_frame(each) for each in inner),
                has_sheet=any(each.name == SHEET_NAME for each in inner),
            )
        )
    return sorted(found, key=lambda each: each.name.lower())


def find_files(start: Path, suffix: str) -> list[str]:
    """Return the files below start with an ending, newest first, as the page writes them."""
    found: list[tuple[float, str]] = []
    for folder in _walk(start):
        for entry in _entries(folder):
            if not entry.name.endswith(suffix) or entry.name.startswith("."):
                continue
            real = _real(start, entry)
            if real is not None and real.is_file():
                found.append((real.stat().st_mtime, relative(start, Path(entry.path))))
    return [path for _, path in sorted(found, key=lambda each: (-each[0], each[1]))]


def find_tables(start: Path, name: str) -> list[str]:
    """Return the TOML files below start that seem to hold a table, readable or not, newest first.

    name: of the table, as a regular expression.
    """
    head = re.compile(rf"^\s*\[+\s*{name}\b", re.MULTILINE)
    return [path for path in find_files(start, ".toml") if head.search(_small_text(start, path))]


def _small_text(start: Path, path: str) -> str:
    """The text of a file; empty where it is large or can't be read."""
    try:
        file = inside(start, path)
        return read_text(file) if file.stat().st_size <= _LARGEST_BYTES else ""
    except (OSError, UnicodeDecodeError, GreytareError):
        return ""


def find_runs(start: Path) -> list[str]:
    """Return the folders below start that a batch wrote its results into, as the page has them."""
    return [
        relative(start, folder)
        for folder in _walk(start)
        if (folder / RUN_NAME).is_file() and (folder / "profiles").is_dir()
    ]


def folders_with_frames(start: Path) -> list[str]:
    """Return the folders below start that hold frames, as the page writes them."""
    return [
        relative(start, folder)
        for folder in _walk(start)
        if any(_is_frame(entry) for entry in _entries(folder))
    ]


def _is_frame(entry: os.DirEntry[str]) -> bool:
    """Whether a file is a frame by its name, and no picture such as a plot beside the frames."""
    return is_frame_name(entry.name) and not is_picture(Path(entry.path))


def _walk(start: Path, *, deepest: int = _DEEPEST, most: int = _MOST_FOLDERS) -> Iterator[Path]:
    """Start and the folders below it, links and hidden ones left out, not endlessly many."""
    waiting = deque([(start, 0)])
    for _ in range(most):
        if not waiting:
            return
        folder, depth = waiting.popleft()
        yield folder
        if depth < deepest:
            waiting += [
                (Path(entry.path), depth + 1)
                for entry in _entries(folder)
                if entry.is_dir(follow_symlinks=False) and not entry.name.startswith(".")
            ]


def _real(start: Path, entry: os.DirEntry[str]) -> Path | None:
    """Where an entry really lies; None where a link leads out of start, or round in circles."""
    try:
        real = Path(entry.path).resolve()
    except (OSError, RuntimeError):
        return None
    return real if real == start or real.is_relative_to(start) else None


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    """What lies in a folder, nothing where it can't be read; only names that are text."""
    try:
        with os.scandir(folder) as entries:
            return [entry for entry in entries if is_text(entry.name)]
    except OSError:
        return []
