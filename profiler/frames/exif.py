"""The metadata of one file as its reader gives them, without the values that the reader invents."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from profiler.frames.fields import clean, number, text_or_none

_lock = threading.Lock()
"""One reader at a time: the metadata library isn't stated to be safe in threads."""

CRW: Final = "image/x-canon-crw"
"""Kind of a CIFF file."""

_DIRECTORIES: Final = ("Image", "SubImage1", "SubImage2", "SubImage3", "SubImage4")
_SENSOR_PHOTOMETRIC: Final = {"32803", "34892"}  # colour filter array, linear raw (DNG 1.7.1)


class Exif:
    """Exif data of one file; without data it answers every question with nothing.

    kind: media type of the file, told by its content; empty where the reader knows none.
    """

    def __init__(self, library: Any, data: Any, kind: str) -> None:
        self._library, self._data, self.kind = library, data, kind

    def _datum(self, key: str) -> Any:
        if self._data is None:
            return None
        found = self._data.findKey(self._library.ExifKey(key))
        return None if found == self._data.end() else found

    def raw(self, key: str) -> str:
        """Return the stored value as text, "" where there is none."""
        datum = self._datum(key)
        return "" if datum is None else clean(datum.toString())

    def print(self, key: str) -> str:
        """Return the value in words, "" where there is none."""
        datum = self._datum(key)
        return "" if datum is None else clean(datum.print(self._data))

    def texts(self, keys: Sequence[str]) -> list[tuple[str, str | None]]:
        """Return each key with its text."""
        return [(key, text_or_none(self.raw(key))) for key in keys]

    def printed(self, keys: Sequence[str]) -> list[tuple[str, str | None]]:
        """Return each key with its value in words."""
        return [(key, text_or_none(self.print(key))) for key in keys]

    def numbers(self, keys: Sequence[str]) -> list[tuple[str, float | None]]:
        """Return each key with its first number."""
        return [(key, number(self.raw(key))) for key in keys]

    def found(
        self, name: str, read: Callable[[str], Any], words: bool = False
    ) -> list[tuple[str, Any]]:
        """Return what the library's own search over all makers' fields for a quantity finds.

        A field that holds nothing but zero is empty, whatever its words make of it.
        """
        if self._data is None:
            return []
        datum = getattr(self._library, name)(self._data)
        if datum is None or datum == self._data.end():
            return []
        stored = clean(datum.toString())
        if not stored.strip("0 "):
            return []
        return [(datum.key(), read(clean(datum.print(self._data)) if words else stored))]

    def sensor_directories(self) -> list[str]:
        """Return the directories that hold the sensor's values, not a preview or a mask."""
        return [
            name
            for name in _DIRECTORIES
            if self.raw(f"Exif.{name}.PhotometricInterpretation") in _SENSOR_PHOTOMETRIC
        ]


@contextmanager
def open_exif(path: str | Path) -> Iterator[Exif]:
    """Yield the file's Exif data, empty where the library can't read them."""
    import exiv2

    with _lock:
        exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)
        kind = ""
        try:
            image = exiv2.ImageFactory.open(str(path))
            kind = image.mimeType()
            image.readMetadata()
            data = image.exifData()
        except exiv2.Exiv2Error:
            data = None
        yield Exif(exiv2, data, kind)


TIME_KEY: Final = "Exif.CanonSi.ShutterSpeedValue"
APERTURE_KEY: Final = "Exif.CanonSi.ApertureValue"
_EMPTY: Final = {0, 0x7FFF, 0xFFE0, 0xFFFF}
"""Zero, and what LibRaw (0.22) passes over too: greatest value, minus 32, all bits set."""


def crw_time_s(exif: Exif) -> float | None:
    """Return the time of a long exposure, 2^(-T_v) s, in s; None where the reader's is right.

    T_v is kept in 32nds with a sign, which the reader (Exiv2 0.28) forgets: 1/1 s for any longer.
    """
    stored = _stored(exif, TIME_KEY)
    if stored is None or stored < 0x8000:
        return None
    return float(2.0 ** ((0x10000 - stored) / 32.0))


def crw_has_time(exif: Exif) -> bool:
    """Whether a time is stored: zero is 1 s or nothing, and the reader makes 1/1 s of both."""
    stored = _stored(exif, TIME_KEY)
    return stored is not None and stored not in {0, 0x7FFF}


def crw_has_aperture(exif: Exif) -> bool:
    """Whether an aperture is stored: the reader makes f/1 of zero."""
    stored = _stored(exif, APERTURE_KEY)
    return stored is not None and stored not in _EMPTY


def _stored(exif: Exif, key: str) -> int | None:
    text = exif.raw(key)
    return int(text) if text.isdigit() else None
