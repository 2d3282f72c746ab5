"""Files that the user names, found by their name and read if regular."""

from __future__ import annotations

import errno
import os
import stat
import unicodedata
from collections.abc import Iterable
from io import BufferedReader
from pathlib import Path

from profiler import standards

_WAIT_FOR_NOBODY = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""Without the first, opening a pipe waits for somebody to write into it."""


class NotUsableError(OSError):
    """The path leads to something that can't be read as a file."""


def open_regular(path: Path) -> BufferedReader:
    """Return an open regular file; NotUsableError, an OSError, for pipes, devices and the like."""
    try:
        descriptor = os.open(path, os.O_RDONLY | _WAIT_FOR_NOBODY)
    except ValueError as error:  # a null byte, or text that no file system can hold
        raise NotUsableError(errno.EINVAL, "the name can't be that of a file") from error
    try:
        kind = os.fstat(descriptor).st_mode
        if not stat.S_ISREG(kind):
            raise NotUsableError(errno.EINVAL, f"it is {what_it_is(kind)}, not a file")
        return os.fdopen(descriptor, "rb")
    except BaseException:
        os.close(descriptor)
        raise


def read_bytes(path: Path, most: int = standards.LARGEST_TEXT_BYTES) -> bytes:
    """Return the content of a regular file of `most` bytes; OSError says what is wrong."""
    with open_regular(path) as stream:
        content = stream.read(most + 1)
    if len(content) > most:
        raise NotUsableError(errno.EFBIG, f"it is larger than {most >> 20} MiB")
    return content


def read_text(path: Path, encoding: str = "utf-8") -> str:
    """Return the text of a regular file; OSError or UnicodeDecodeError says what is wrong."""
    return read_bytes(path).decode(encoding)


def is_text(name: str) -> bool:
    """Return whether a name is text: a disk may hold one whose bytes aren't."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True


def no_folder(path: Path) -> str:
    """Return in words why a path that should lead to a folder doesn't."""
    try:
        return f"this is {what_it_is(path.stat().st_mode)}, not a folder"
    except (OSError, ValueError):
        return "there is no such folder"


def what_it_is(mode: int) -> str:
    """Return the kind of node that `st_mode` stands for, in words."""
    for test, words in (
        (stat.S_ISREG, "a file"),
        (stat.S_ISDIR, "a folder"),
        (stat.S_ISFIFO, "a pipe"),
        (stat.S_ISSOCK, "a socket"),
    ):
        if test(mode):
            return words
    return "a device"


def meant(typed: str, known: Iterable[str]) -> str | None:
    """Return the known name that a typed one means: itself, else the only one that reads alike.

    Names read alike where they differ in case only, or in how Unicode puts a letter together:
    a disk may give u with two dots as two signs, a spreadsheet as one.

    >>> meant("img_1.DNG", ["IMG_1.dng", "IMG_2.dng"]), meant("IMG_3.dng", ["IMG_1.dng"])
    ('IMG_1.dng', None)
    """
    names = list(known)
    if typed in names:
        return typed
    alike = [name for name in names if _plain(name) == _plain(typed)]
    return alike[0] if len(alike) == 1 else None


def _plain(name: str) -> str:
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
