"""Writing a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from profiler.errors import GreytareError


def write_whole(path: Path, content: str | bytes, *, replace: bool = False) -> Path | None:
    """Write `content` to `path` at once; return where an older file was kept, if there was one.

    Without `replace` an existing file is never touched (GreytareError). With it the older file is
    first linked beside the new one under its own time, so that nothing is lost.
    """
    data = content.encode() if isinstance(content, str) else content
    if not path.parent.is_dir():
        raise GreytareError(
            f"the folder {path.parent} does not exist", path.name, "Make it, or name another place"
        )
    if path.exists() and not replace:
        raise GreytareError(
            "a file of this name exists", str(path), "Choose another name, or add {replace}"
        )
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        temporary = Path(name)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            temporary.chmod(0o666 & ~_umask())
            kept = _keep(path) if path.exists() else None
            temporary.replace(path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
    except OSError as error:
        raise GreytareError(
            f"the file can't be written ({error.strerror})",
            str(path),
            "Check the disk's free space and your right to write there",
        ) from error
    return kept


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
            kept.write_bytes(path.read_bytes())
        return kept
    raise OSError(0, "too many older files of this name")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
