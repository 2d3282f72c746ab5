"""Measured frames cached by file content, so that nothing is decoded twice."""

from __future__ import annotations

import hashlib
import json
import logging
import os
import sqlite3
import threading
import time
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final

from profiler import standards
from profiler.errors import FrameError
from profiler.files.regular import open_regular
from profiler.records import ChannelMeasure, Flag, FrameMeasure, FrameTags, Masked, Place, Tag

MEASURE_VERSION = 14
"""Raise it whenever the measuring code would give other numbers for the same file."""

_NAME: Final = "measured.sqlite"
_TABLES: Final = """
CREATE TABLE IF NOT EXISTS content (path TEXT PRIMARY KEY, signature TEXT, read_ns INTEGER,
                                    sha256 TEXT, checksum TEXT);
CREATE INDEX IF NOT EXISTS likeness
    ON content (json_extract(signature, '$[1]'), json_extract(signature, '$[2]'));
CREATE TABLE IF NOT EXISTS measured (key TEXT PRIMARY KEY, value TEXT, checksum TEXT);
"""
_LIKE_IT: Final = """
SELECT * FROM content
    WHERE json_extract(signature, '$[1]') = ? AND json_extract(signature, '$[2]') = ? LIMIT 1
"""
_COLUMNS: Final = {
    "content": ("path", "signature", "read_ns", "sha256", "checksum"),
    "measured": ("key", "value", "checksum"),
}
_PASSING: Final = frozenset(
    (
        *(sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_READONLY),
        *(sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN),
    )
)
"""Kinds of failure that say nothing against the file; it only saves no time then."""

log = logging.getLogger("greytare")

Signature = tuple[int, int, int, int]


def cache_folder() -> Path:
    """Folder of the cache: GREYTARE_CACHE, else XDG_CACHE_HOME/greytare, else ~/.cache/greytare."""
    own = os.environ.get("GREYTARE_CACHE")
    if own:
        return Path(own)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "greytare"


def signature_of(stat: os.stat_result) -> Signature:
    """Return what changes when a file does: inode, size, time of change of content and of node.

    The last one can't be set back by hand.
    """
    return (stat.st_ino, stat.st_size, stat.st_mtime_ns, stat.st_ctime_ns)


class MeasureCache:
    """Table of measured frames; a folder that can't be written only costs speed.

    Each entry carries a checksum; one that doesn't fit is taken for absent. A file that is no such
    table is set aside and a new one begun. May be used by several threads.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._lock = threading.RLock()
        folder = cache_folder() if folder is None else folder
        self._path: Path | None = folder / _NAME
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except (OSError, ValueError):
            self._path = None
        self._base = self._opened()

    def _opened(self) -> sqlite3.Connection:
        """The table on disk; a new one where that is damaged, one in memory where there is none."""
        if self._path is None:
            return _open(":memory:")
        try:
            return _open(str(self._path))
        except sqlite3.Error as error:
            if _passing(error) or not _set_aside(self._path):
                self._path = None
            return self._opened()

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._base.close()

    def digests(self, paths: Sequence[Path]) -> list[str | None]:
        """Return the SHA-256 of files where it is known; None where the file is still to be read.

        One of the size and time of change of a known one is read now: it is most likely that one
        under another name, and decoding takes ten times as long.
        """
        signatures = [signature_of(path.stat()) for path in paths]
        found: list[str | None] = []
        to_read: list[int] = []
        for path, signature in zip(paths, signatures, strict=True):
            found.append(self._known_sha256(str(path.resolve()), signature))
            if found[-1] is None and self._row(_LIKE_IT, *signature[1:3]) is not None:
                to_read.append(len(found) - 1)
        if to_read:
            with ThreadPoolExecutor(2) as pool:
                read = pool.map(lambda i: self.digest(paths[i], signatures[i]), to_read)
                for i, digest in zip(to_read, read, strict=True):
                    found[i] = digest
        return found

    def sha256(self, path: Path) -> str:
        """Return the SHA-256 of one file, read only where it may have changed."""
        return self.digests([path])[0] or self.digest(path)

    def digest(self, path: Path, signature: Signature | None = None) -> str:
        """Return the SHA-256 of a file, read now; FrameError where it changed meanwhile."""
        signature = signature or signature_of(path.stat())
        read_ns = time.time_ns()
        digest = sha256_of(path)
        check_unchanged(path, signature)
        self.keep_digest(path, signature, read_ns, digest)
        return digest

    def keep_digest(self, path: Path, signature: Signature, read_ns: int, digest: str) -> None:
        """Store the SHA-256 of a file that was read no earlier than read_ns, unchanged since."""
        row = (str(path.resolve()), json.dumps(signature), read_ns, digest)
        self._write("content", (*row, _checksum(*row)))

    def _known_sha256(self, path: str, signature: Signature) -> str | None:
        """The digest of an unchanged file; None for one that was written just before it was read.

        A second change within one tick of the clock would show in no time stamp.
        """
        row = self._row("SELECT * FROM content WHERE path = ?", path)
        if row is None or row[1] != json.dumps(signature):
            return None
        settled_ns = int(row[2]) - round(standards.CLOCK_TICK_S * 1e9)
        return str(row[3]) if max(signature[2:]) < settled_ns else None

    def frame(self, sha256: str, patch: str) -> FrameMeasure | None:
        """Return the measure of a file's content at a patch, under an empty file name."""
        text = self.text(f"frame/{sha256}/{patch}")
        return None if text is None else frame_from_dict(json.loads(text))

    def keep_frame(self, frame: FrameMeasure, patch: str) -> None:
        """Store a frame's measure by its content and the patch."""
        value = asdict(replace(frame, file=""))
        self.keep_text(f"frame/{frame.sha256}/{patch}", json.dumps(value))

    def keep_tags(self, digest: str, tags: FrameTags) -> None:
        """Store what a file says of itself by its content."""
        self.keep_text(f"tags/{digest}", json.dumps(asdict(tags)))

    def text(self, key: str) -> str | None:
        """Return what `keep_text` stored for this version of the measuring code."""
        row = self._row("SELECT * FROM measured WHERE key = ?", f"{MEASURE_VERSION}/{key}")
        return None if row is None else str(row[1])

    def keep_text(self, key: str, value: str) -> None:
        """Store a text under a key."""
        row = (f"{MEASURE_VERSION}/{key}", value)
        self._write("measured", (*row, _checksum(*row)))

    def _row(self, question: str, *key: object) -> tuple[Any, ...] | None:
        """The row under a key where its checksum, the last column, fits."""
        with self._lock:
            try:
                row = self._base.execute(question, key).fetchone()
            except sqlite3.Error as error:
                self._mend(error)
                return None
        return row if row is not None and row[-1] == _checksum(*row[:-1]) else None

    def _write(self, table: str, values: tuple[object, ...]) -> None:
        marks = ", ".join("?" * len(values))
        with self._lock:
            try:
                with self._base:
                    self._base.execute(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", values)
            except sqlite3.Error as error:
                self._mend(error)

    def _mend(self, error: sqlite3.Error) -> None:
        """Begin a new table, unless the old one is only busy, full or read-only."""
        if _passing(error) or self._path is None:
            return
        self._base.close()
        if not _set_aside(self._path):
            self._path = None
        self._base = self._opened()


def _open(name: str) -> sqlite3.Connection:
    base = sqlite3.connect(name, timeout=30.0, check_same_thread=False)
    try:
        # a commit then waits for no disk; what is lost with the power is only measured again
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("PRAGMA synchronous = NORMAL")
        base.executescript(_TABLES)
        for table, columns in _COLUMNS.items():
            found = tuple(row[1] for row in base.execute(f"PRAGMA table_info({table})"))
            if found != columns:
                raise sqlite3.DatabaseError(f"the table {table} isn't one of greytare's")
    except BaseException:
        base.close()
        raise
    return base


def _passing(error: sqlite3.Error) -> bool:
    code = getattr(error, "sqlite_errorcode", None)  # of a kind of failure the low byte
    return code is not None and code & 0xFF in _PASSING


def _set_aside(path: Path) -> bool:
    """Rename a damaged table, and say so; False where that can't be done."""
    aside = path.with_name(f"{path.name}.damaged")
    try:
        path.replace(aside)
    except FileNotFoundError:
        return True
    except OSError:
        log.warning("The cache %s is damaged and can't be renamed; nothing is kept.", path)
        return False
    for ending in ("-wal", "-shm"):
        with suppress(OSError):
            path.with_name(path.name + ending).unlink(missing_ok=True)
    log.warning(
        "The cache %s was damaged, or another program's. It is kept as %s; frames are measured "
        "anew.",
        path,
        aside.name,
    )
    return True


def _checksum(*values: object) -> str:
    return hashlib.sha256(json.dumps(values).encode()).hexdigest()[:32]


def check_unchanged(path: Path, signature: Signature) -> None:
    """Nothing, or FrameError where the file isn't any more what it was."""
    try:
        now = signature_of(path.stat())
    except OSError:
        now = (0, 0, 0, 0)
    if now != signature:
        raise FrameError(
            "the file changed while it was measured",
            path.name,
            "Wait until it is copied to the end, then measure again",
        )


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file's content, in hex."""
    with open_regular(path) as stream:
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
        place=None if data["place"] is None else Place(**data["place"]),
        flags=tuple(Flag(**flag) for flag in data["flags"]),
        cfa=data["cfa"],
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


def read_all_tags(paths: Sequence[Path], cache: MeasureCache) -> list[FrameTags]:
    """Return the tags of each file, from the cache where its content is known."""
    digests = cache.digests(paths)
    return [tags_of(path, each, cache) for path, each in zip(paths, digests, strict=True)]


def tags_of(path: Path, sha256: str | None, cache: MeasureCache) -> FrameTags:
    """Return the tags of a file with this content, from the cache where it knows them."""
    text = None if sha256 is None else cache.text(f"tags/{sha256}")
    if text is not None:
        return tags_from_dict(json.loads(text))
    from profiler.frames.tags import read_tags

    tags = read_tags(path)
    if sha256 is not None:
        cache.keep_tags(sha256, tags)
    return tags
