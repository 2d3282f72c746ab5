"""Measured frames kept by file content, so that nothing is decoded twice."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from profiler.records import ChannelMeasure, Flag, FrameMeasure, FrameTags, Masked, Tag

MEASURE_VERSION = 11
"""Raise it whenever the measuring code would give other numbers for the same file."""

_TABLES = """
CREATE TABLE IF NOT EXISTS content (path TEXT PRIMARY KEY, size INTEGER, mtime_ns INTEGER,
                                    sha256 TEXT);
CREATE TABLE IF NOT EXISTS measured (key TEXT PRIMARY KEY, value TEXT);
"""


def cache_folder() -> Path:
    """Folder of the cache: GREYTARE_CACHE, else XDG_CACHE_HOME/greytare, else ~/.cache/greytare."""
    own = os.environ.get("GREYTARE_CACHE")
    if own:
        return Path(own)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "greytare"


class MeasureCache:
    """Table of measured frames; a folder that can't be written only costs speed."""

    def __init__(self, folder: Path | None = None) -> None:
        folder = cache_folder() if folder is None else folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._open(str(folder / "frames.sqlite"))
        except (OSError, sqlite3.Error):
            self._open(":memory:")

    def _open(self, name: str) -> None:
        self._base = sqlite3.connect(name, timeout=30.0)
        # a commit then waits for no disk; what is lost with the power is only measured again
        self._base.execute("PRAGMA journal_mode = WAL")
        self._base.execute("PRAGMA synchronous = NORMAL")
        self._base.executescript(_TABLES)

    def close(self) -> None:
        """Let go of the file."""
        self._base.close()

    def sha256_many(self, paths: Sequence[Path], pool: Executor) -> Iterator[str]:
        """Yield the SHA-256 of files in their order, read only where size or time has changed.

        The pool goes on reading the next ones while the caller works with the first.
        """
        keys = []
        for path in paths:
            stat = path.stat()
            keys.append((str(path.resolve()), stat.st_size, stat.st_mtime_ns))
        digests = [self._known_sha256(key) for key in keys]
        missing = [path for path, digest in zip(paths, digests, strict=True) if digest is None]
        read = pool.map(sha256_of, missing)
        for key, digest in zip(keys, digests, strict=True):
            if digest is None:
                digest = next(read)
                self._write("INSERT OR REPLACE INTO content VALUES (?, ?, ?, ?)", (*key, digest))
            yield digest

    def _known_sha256(self, key: tuple[str, int, int]) -> str | None:
        row = self._base.execute(
            "SELECT sha256 FROM content WHERE path = ? AND size = ? AND mtime_ns = ?", key
        ).fetchone()
        return None if row is None else str(row[0])

    def frame(self, sha256: str, patch: str) -> FrameMeasure | None:
        """Return the measure of a file's content at a patch, under an empty file name."""
        text = self.text(f"frame/{sha256}/{patch}")
        return None if text is None else frame_from_dict(json.loads(text))

    def keep_frame(self, frame: FrameMeasure, patch: str) -> None:
        """Store a frame's measure by its content and the patch."""
        value = asdict(replace(frame, file=""))
        self.keep_text(f"frame/{frame.sha256}/{patch}", json.dumps(value))

    def text(self, key: str) -> str | None:
        """Return what `keep_text` stored for this version of the measuring code."""
        row = self._base.execute(
            "SELECT value FROM measured WHERE key = ?", (f"{MEASURE_VERSION}/{key}",)
        ).fetchone()
        return None if row is None else str(row[0])

    def keep_text(self, key: str, value: str) -> None:
        """Store a text under a key."""
        self._write(
            "INSERT OR REPLACE INTO measured VALUES (?, ?)", (f"{MEASURE_VERSION}/{key}", value)
        )

    def _write(self, statement: str, values: tuple[object, ...]) -> None:
        try:
            with self._base:
                self._base.execute(statement, values)
        except sqlite3.OperationalError:  # read-only or full: the cache only saves time
            return


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file's content, in hex."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def frame_from_dict(data: Mapping[str, Any]) -> FrameMeasure:
    """Return the frame that `dataclasses.asdict` made `data` from."""
    return FrameMeasure(
        file=data["file"],
        sha256=data["sha256"],
        tags=tags_from_dict(data["tags"]),
        channels={name: ChannelMeasure(**value) for name, value in data["channels"].items()},
        black_tag_dn=dict(data["black_tag_dn"]),
        white_tag_dn=dict(data["white_tag_dn"]),
        masked={name: Masked(**value) for name, value in data["masked"].items()},
        pair=data["pair"],
        flags=tuple(Flag(**flag) for flag in data["flags"]),
    )


def tags_from_dict(data: Mapping[str, Any]) -> FrameTags:
    """Return the tags that `dataclasses.asdict` made `data` from."""
    return FrameTags(
        **{
            name: None
            if tag is None
            else Tag(
                value=tag["value"],
                source=tag["source"],
                others=tuple((source, value) for source, value in tag["others"]),
            )
            for name, tag in data.items()
        }
    )
