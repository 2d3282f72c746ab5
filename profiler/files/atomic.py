"""Writing a file whole or not at all."""

from __future__ import annotations

import errno
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO, Final

from profiler.errors import GreytareError
from profiler.files.lock import locked_folder, try_lock
from profiler.files.regular import open_regular, what_it_is

_PREFIX: Final = ".greytare-"
_SUFFIX: Final = ".part"
"""Names of files that are being written; short, so that every name that fits can be written."""
_NEW: Final = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)

_swept: set[Path] = set()
"""Folders that this process has cleaned already."""


def write_whole(path: Path, content: str | bytes, *, replace: bool = False) -> Path | None:
    """Write `content` to `path` at once; return where an older file was kept, if there was one.

    Without `replace` an existing file is never touched (GreytareError), not even one that another
    process makes meanwhile. With it the older file is first linked beside the new one under its own
    time, so that nothing is lost. A link is followed; a device, pipe or folder is refused.
    """
    data = content.encode() if isinstance(content, str) else content
    try:
        target = check_output(path, replace=replace)
        sweep_once(target.parent)
        with new_part(target.parent) as (part, stream):
            stream.write(data)
            kept = finish(part, stream, target, replace=replace)
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from error
    return kept


def check_output(path: Path, *, replace: bool) -> Path:
    """Return the file that an output goes to, links followed; GreytareError where it can't be.

    Called before long work, so that it isn't done in vain.
    """
    try:
        target = path.resolve() if path.is_symlink() else path
        if not target.parent.is_dir():
            raise GreytareError(
                f"the folder {path.parent} does not exist",
                path.name,
                "Make it, or name another place",
            )
        mode = target.stat().st_mode
    except FileNotFoundError:
        return target
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: links in a circle
        raise _unwritten(path, error) from error
    if not stat.S_ISREG(mode):
        raise GreytareError(
            f"this is {what_it_is(mode)}, and would be lost",
            str(path),
            "Name a file, or a new name",
        )
    if not replace:
        raise _exists(path)
    return target


def finish(part: Path, stream: BinaryIO, target: Path, *, replace: bool) -> Path | None:
    """Give a filled file its name for good; return where an older one was kept, if any."""
    stream.flush()
    os.fsync(stream.fileno())
    if os.name == "nt":  # which renames no open file
        stream.close()
    with locked_folder(target.parent) as folder:
        if replace and target.exists():
            part.chmod(stat.S_IMODE(target.stat().st_mode))
        kept = _put(part, target, replace=replace)
        if folder is not None:
            with suppress(OSError):  # some file systems can't; then the system chooses the moment
                os.fsync(folder)
    return kept


def _put(part: Path, target: Path, *, replace: bool) -> Path | None:
    if replace:
        kept = _keep(target) if target.exists() else None
        part.replace(target)
        return kept
    try:
        os.link(part, target)
    except FileExistsError:
        raise _exists(target) from None
    except OSError:  # a file system without links, as memory cards have: take the name first
        try:
            os.close(os.open(target, _NEW))
        except FileExistsError:
            raise _exists(target) from None
        part.replace(target)
    return None


def sweep(folder: Path) -> int:
    """Delete what killed writes left in a folder; return how many files that were.

    A file that is still being written is locked by its writer, and stays.
    """
    count = 0
    try:
        with os.scandir(folder) as entries:
            names = [e.name for e in entries if e.name.startswith(_PREFIX)]
    except OSError:
        return 0
    for name in names:
        left = folder / name
        if not name.endswith(_SUFFIX) or left.is_symlink() or not left.is_file():
            continue
        with suppress(OSError), open_regular(left) as stream:
            if try_lock(stream.fileno()):
                left.unlink()
                count += 1
    return count


def sweep_once(folder: Path) -> None:
    """Sweep a folder if this process hasn't yet."""
    if folder not in _swept:
        _swept.add(folder)
        sweep(folder)


@contextmanager
def new_part(folder: Path) -> Iterator[tuple[Path, BinaryIO]]:
    """Yield path and stream of a new file in `folder`, locked while it is open.

    Where `finish` hasn't moved it, it is gone afterwards.
    """
    while True:
        part = folder / f"{_PREFIX}{secrets.token_hex(8)}{_SUFFIX}"
        descriptor = os.open(part, _NEW, 0o666)
        # a sweep may have come between these two; then another one is made
        if try_lock(descriptor) and part.exists():
            break
        os.close(descriptor)
    try:
        with os.fdopen(descriptor, "r+b") as stream:
            yield part, stream
    finally:
        part.unlink(missing_ok=True)


def _keep(path: Path) -> Path:
    """Copy of `path` under a name with the time of its last change."""
    stamp = datetime.fromtimestamp(path.stat().st_mtime, UTC).strftime("%Y%m%dT%H%M%SZ")
    for number in range(1000):
        suffix = f".{stamp}.old" if number == 0 else f".{stamp}-{number}.old"
        kept = path.with_name(path.name + suffix)
        try:
            os.link(path, kept)
        except FileExistsError:
            continue
        except OSError:  # a file system without links
            if kept.exists():
                continue
            with new_part(path.parent) as (part, stream):
                stream.write(path.read_bytes())
                stream.close()
                part.replace(kept)
        return kept
    raise OSError(0, "too many older files of this name")


def _exists(path: Path) -> GreytareError:
    return GreytareError(
        "a file of this name exists", str(path), "Choose another name, or add {replace}"
    )


def _unwritten(path: Path, error: Exception) -> GreytareError:
    reason = error.strerror if isinstance(error, OSError) else "no file can have this name"
    shown = str(path) if len(str(path)) <= 200 else f"{str(path)[:200]}..."
    mend = "Check the disk's free space and your right to write there"
    if not isinstance(error, OSError) or error.errno in (errno.ENAMETOOLONG, errno.EINVAL):
        mend = "Choose another name"
    return GreytareError(f"the file can't be written ({reason})", shown, mend)
