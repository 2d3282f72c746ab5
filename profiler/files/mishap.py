"""An unforeseen error told in one sentence, with its details in a file."""

from __future__ import annotations

import os
import platform
import sys
import traceback
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from profiler import __version__
from profiler.errors import GreytareError

_KEPT: Final = 20
_LONGEST: Final = 200


def mishap(error: BaseException, doing: str) -> GreytareError:
    """Return what to tell the user about an error that nobody foresaw.

    A fault of disk, rights or memory is named for what it is; anything else is greytare's own, and
    its traceback goes into a file that the sentence names. doing: what was asked for.
    """
    at_hand = file_at_hand(error)
    if isinstance(error, PermissionError):
        return GreytareError(
            "it may not be read or written",
            at_hand or doing,
            "Change its rights, or name another place",
        )
    if isinstance(error, OSError) and error.strerror:
        return GreytareError(
            f"the system can't do it ({error.strerror})",
            at_hand or doing,
            "Check that it exists, its rights, the length of its name and the disk's free space",
        )
    if isinstance(error, MemoryError):
        return GreytareError(
            "there isn't enough memory", at_hand or doing, "Ask for less, or for smaller frames"
        )
    kept = write_details(error, doing)
    where = f"The details are in {kept}" if kept else "Its details couldn't be written"
    return GreytareError(
        f"something went wrong in greytare itself ({type(error).__name__})",
        at_hand or doing,
        f"{where}; report them, and try without what you asked for last",
    )


def file_at_hand(error: BaseException) -> str:
    """Return the name of the file that was being worked on, empty where none is to be seen.

    That is the file of an OSError, else the innermost path among the variables at the time.
    """
    if isinstance(error, OSError) and error.filename is not None:
        return _short(os.fsdecode(error.filename) if _is_path(error.filename) else "")
    found = ""
    trace = error.__traceback__
    while trace is not None:
        values = list(trace.tb_frame.f_locals.values())
        paths = [value for value in values if isinstance(value, Path)]
        paths += [v.path for v in values if isinstance(getattr(v, "path", None), Path)]
        found = str(paths[-1]) if paths else found
        trace = trace.tb_next
    return _short(found)


def write_details(error: BaseException, doing: str) -> Path | None:
    """Write the traceback where only the user can read it; return the path, None if nowhere."""
    now = datetime.now(UTC)
    text = "".join(
        (
            f"greytare {__version__}, Python {platform.python_version()}, {platform.platform()}\n",
            f"{now.isoformat()}  {doing}\n\n",
            *traceback.format_exception(error),
        )
    )
    folder = details_folder()
    path = folder / f"{now:%Y%m%dT%H%M%S%f}-{os.getpid()}.txt"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8", errors="backslashreplace") as stream:
            stream.write(text)
        for old in sorted(folder.glob("*.txt"))[:-_KEPT]:
            old.unlink(missing_ok=True)
    except (OSError, ValueError):
        return None
    return path


def details_folder() -> Path:
    """Folder of the details: GREYTARE_CACHE/errors, else greytare/errors in the user's state."""
    own = os.environ.get("GREYTARE_CACHE")
    if own:
        return Path(own) / "errors"
    base = os.environ.get("XDG_STATE_HOME")
    return (Path(base) if base else Path.home() / ".local" / "state") / "greytare" / "errors"


def command_line() -> str:
    """Return the command as it was typed, shortened."""
    return _short(" ".join(["greytare", *sys.argv[1:]]))


def _is_path(name: object) -> bool:
    return isinstance(name, str | bytes | os.PathLike)


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."
