"""The raw frames in a folder, told by their suffix."""

from __future__ import annotations

import os
import stat
import struct
from collections.abc import Sequence
from pathlib import Path
from typing import BinaryIO, Final

from profiler.errors import FrameError
from profiler.files.regular import no_folder, open_regular, what_it_is

PLANE_SUFFIXES: Final = frozenset({".tif", ".tiff", ".png"})
"""Files of one linear plane that don't say their own colour filter array."""

_RAW: Final = """
    3fr ari arw bay cap cr2 cr3 crw dcr dcs dng drf eip erf fff gpr iiq k25 kdc mdc mef mos mrw nef
    nrw orf pef ptx pxn r3d raf raw rw2 rwl rwz sr2 srf srw x3f
"""
RAW_SUFFIXES: Final = frozenset(f".{suffix}" for suffix in _RAW.split())
"""Suffixes of camera raw files in use (common practice, no source)."""

_FRAME_SUFFIXES: Final = RAW_SUFFIXES | PLANE_SUFFIXES

_BITS_PER_SAMPLE, _SAMPLES_PER_PIXEL = 258, 277
_PICTURE_BITS: Final = 8

PREVIEW_SUFFIX: Final = ".patch.png"
"""Ending of the small pictures that show where the patch lies; never taken for a frame."""


def list_frames(folder: str | Path) -> list[Path]:
    """The frames in folder, sorted by name; hidden files and our own previews are left out.

    Beside raw files so are pictures, such as a plot: see pictures_in.

    Raises FrameError where the folder is missing or holds no frame.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise FrameError(
            no_folder(folder), str(folder), "Give the folder that holds the raw frames"
        )
    found = sorted(entry for entry in folder.iterdir() if is_frame_name(entry.name))
    frames = [path for path in found if not path.is_dir()]
    for path in frames:
        check_frame(path)
    frames = without_pictures(frames)
    if not frames:
        below = sorted(
            entry.name
            for entry in folder.iterdir()
            if entry.is_dir() and any(is_frame_name(p.name) for p in entry.iterdir())
        )
        if below:
            raise FrameError(
                f"the frames lie in folders below it ({', '.join(below[:3])})",
                str(folder),
                "Measure each folder as a series of its own, or bring the frames together under "
                "names of their own",
            )
        raise FrameError(
            "the folder holds no raw frame",
            str(folder),
            "Copy the camera's raw files (or 16-bit linear TIFF or PNG mosaics) into it",
        )
    return frames


def without_pictures(frames: Sequence[Path]) -> list[Path]:
    """Return the frames, where raw files of a camera are among them without the pictures."""
    raw = any(path.suffix.lower() in RAW_SUFFIXES for path in frames)
    return [path for path in frames if not (raw and is_picture(path))]


def pictures_in(folder: Path) -> list[str]:
    """Return the names of what list_frames leaves out, as pictures beside raw files."""
    named = sorted(path for path in folder.iterdir() if is_frame_name(path.name))
    kept = set(without_pictures(named))
    return [path.name for path in named if path not in kept]


def is_picture(path: Path) -> bool:
    """Return whether a PNG or TIFF holds other than one plane of 16 bits, as no mosaic does.

    False for what can't be read or isn't understood.
    """
    suffix = path.suffix.lower()
    if suffix not in PLANE_SUFFIXES:
        return False
    try:
        with open_regular(path) as file:
            if suffix == ".png":
                head = file.read(26)
                # after signature and chunk name: width, height, bit depth, colour type (0: grey)
                return head[:8] == b"\x89PNG\r\n\x1a\n" and head[24:26] != b"\x10\x00"
            return _is_tiff_picture(file)
    except (OSError, struct.error):
        return False


def _is_tiff_picture(file: BinaryIO) -> bool:
    """Whether the first image of a TIFF (6.0, section 2) has several planes, or 8 bits."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(file.read(4))
    if order is None:
        return False
    (at,) = struct.unpack(f"{order}I", file.read(4))
    file.seek(at)
    (entries,) = struct.unpack(f"{order}H", file.read(2))
    found = {}
    for _ in range(entries):
        tag, _, count, value = struct.unpack(f"{order}HHIH2x", file.read(12))
        found[tag] = (count, value)
    planes = found.get(_SAMPLES_PER_PIXEL, (1, 1))[1]
    count, bits = found.get(_BITS_PER_SAMPLE, (1, 1))
    return bool(planes > 1 or (count == 1 and bits <= _PICTURE_BITS))


def check_frame(path: Path) -> None:
    """Nothing, or FrameError where a frame isn't a regular file, or its name isn't plain text.

    A pipe would be waited for, a name with control characters acts on the terminal that shows it.
    """
    if not path.name.isprintable():  # which a byte that isn't UTF-8 makes it as well
        shown = path.name.encode("unicode_escape", "surrogatepass").decode()
        raise FrameError(
            "the name holds bytes or control characters that aren't text",
            shown,
            "Rename the file, in letters that the sheet can hold",
        )
    try:
        kind = path.stat().st_mode
    except OSError as error:
        raise FrameError(
            f"the file can't be read ({error.strerror})",
            path.name,
            "Check the card or the link, or take the frame out of the folder",
        ) from error
    if not stat.S_ISREG(kind):
        raise FrameError(
            f"this is {what_it_is(kind)}, not a file",
            path.name,
            "Take it out of the folder, or copy the frame itself into it",
        )


def is_frame_name(name: str) -> bool:
    """True for the name of a raw file or of a linear plane, in whatever case."""
    lowered = name.lower()
    if lowered.startswith(".") or lowered.endswith(PREVIEW_SUFFIX):
        return False
    return os.path.splitext(lowered)[1] in _FRAME_SUFFIXES
