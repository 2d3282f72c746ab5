"""Whether a DNG file holds all the strips or tiles that it lists."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import Final

# TIFF 6.0 and DNG 1.7.1 tags
_COMPRESSION, _PHOTOMETRIC, _SUB_IFDS, _DNG_VERSION = 259, 262, 330, 50706
_OFFSETS: Final = (273, 324)  # of strips, of tiles
_BYTE_COUNTS: Final = (279, 325)
_SENSOR: Final = (32803, 34892)  # colour filter array, linear raw
_LOSSLESS_JPEG: Final = 7
_JPEG_START: Final = b"\xff\xd8"
_FORMAT: Final = {1: "B", 3: "H", 4: "I", 13: "I"}  # byte, short, long, directory
_MOST_DIRECTORIES: Final = 64
_MOST_ENTRIES: Final = 1024
_MOST_VALUES: Final = 1 << 16
"""More than the strips or tiles of any frame: a TIFF of 200 kB may claim billions of values."""
_WANTED: Final = {
    *(_COMPRESSION, _PHOTOMETRIC, _SUB_IFDS, _DNG_VERSION),
    *(*_OFFSETS, *_BYTE_COUNTS),
}

Directory = dict[int, tuple[int, ...]]


def missing_share(content: bytes) -> float:
    """Return the share of the sensor data's bytes that is missing; 0 for files that aren't DNG.

    A byte is missing beyond the file's end, or in a tile that should be a JPEG and isn't one.

    LibRaw (0.22) skips such parts without an error and leaves in their place whatever the memory
    held, which may well be the frame that was decoded before.
    """
    if content[:4] not in (b"II*\0", b"MM\0*"):
        return 0.0
    try:
        directories = list(_directories(content))
    except (struct.error, IndexError):  # damaged beyond reading: LibRaw says so itself
        return 0.0
    if not any(_DNG_VERSION in directory for directory in directories):
        return 0.0
    parts = [
        (_missing(content, offset, count, directory), count)
        for directory in directories
        if _first(directory, _PHOTOMETRIC, 0) in _SENSOR
        for offset, count in _parts(directory)
    ]
    total = sum(count for _, count in parts)
    return sum(missing for missing, _ in parts) / total if total else 0.0


def _parts(directory: Directory) -> Iterator[tuple[int, int]]:
    """Offset and length in bytes of each strip or tile."""
    for offsets, counts in zip(_OFFSETS, _BYTE_COUNTS, strict=True):
        yield from zip(directory.get(offsets, ()), directory.get(counts, ()), strict=False)


def _first(directory: Directory, tag: int, usual: int) -> int:
    """The first value of a tag; the usual one where it has none."""
    return (directory.get(tag) or (usual,))[0]


def _missing(content: bytes, offset: int, count: int, directory: Directory) -> int:
    """Bytes of the part beyond the file's end; all where it doesn't begin as its coding asks."""
    lossless = _first(directory, _COMPRESSION, 1) == _LOSSLESS_JPEG
    if lossless and not content.startswith(_JPEG_START, offset):
        return count
    return min(count, max(0, offset + count - len(content)))


def _directories(data: bytes) -> Iterator[Directory]:
    """The file's directories with those below them; whole numbers only."""
    order = "<" if data[:2] == b"II" else ">"
    waiting = list(struct.unpack_from(order + "I", data, 4))
    seen: set[int] = set()
    while waiting and len(seen) < _MOST_DIRECTORIES:
        at = waiting.pop()
        if at == 0 or at in seen:
            continue
        seen.add(at)
        (entries,) = struct.unpack_from(order + "H", data, at)
        directory = dict(
            _entry(data, order, at + 2 + 12 * k) for k in range(min(entries, _MOST_ENTRIES))
        )
        waiting += directory.get(_SUB_IFDS, ())[:_MOST_DIRECTORIES]
        waiting += struct.unpack_from(order + "I", data, at + 2 + 12 * entries)
        yield directory


def _entry(data: bytes, order: str, at: int) -> tuple[int, tuple[int, ...]]:
    """Tag and values of one entry; no values for tags and kinds that aren't wanted, or too many."""
    tag, kind, count = struct.unpack_from(order + "HHI", data, at)
    code = _FORMAT.get(kind)
    if tag not in _WANTED or code is None or count > _MOST_VALUES:
        return tag, ()
    layout = f"{order}{count}{code}"
    inline = struct.calcsize(layout) <= 4
    where = at + 8 if inline else struct.unpack_from(order + "I", data, at + 8)[0]
    return tag, struct.unpack_from(layout, data, where)
