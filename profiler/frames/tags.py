"""What a frame's metadata say of body, lens, exposure, with every source kept."""

from __future__ import annotations

import math
import re
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

from profiler.frames.tagkeys import (
    APERTURE_KEYS,
    DRIVE_KEYS,
    ISO_KEYS,
    LENS_KEYS,
    MODEL_KEYS,
    SERIAL_KEYS,
    TAKEN_KEYS,
    TIME_KEYS,
)
from profiler.records import FrameTags, Tag

_lock = threading.Lock()
"""One reader at a time: the metadata library isn't stated to be safe in threads."""

LIBRAW: Final = "LibRaw"

_DIRECTORIES: Final = ("Image", "SubImage1", "SubImage2", "SubImage3", "SubImage4")
_SENSOR_PHOTOMETRIC: Final = {"32803", "34892"}  # colour filter array, linear raw (DNG 1.7.1)
_LOSSY_COMPRESSION: Final = {"34892": "lossy JPEG", "52546": "JPEG XL"}  # DNG 1.7.1
_MISSING_TEXT: Final = {"", "undef", "n/a", "none", "unknown", "inf", "nan", "(null)", "----"}
_MISSING_16_BIT: Final = 65535.0
_MISSING_32_BIT: Final = 4294967295.0
"""All bits set: in a tag that stands for "not here"."""


@dataclass(frozen=True, kw_only=True)
class NativeTags:
    """What the raw decoder read by itself while it decoded; None where it found nothing."""

    iso: float | None = None
    time_s: float | None = None
    aperture: float | None = None
    taken_at: str | None = None
    lens: str | None = None
    bits: int | None = None


def read_tags(path: str | Path, native: NativeTags | None = None) -> FrameTags:
    """Body, lens and exposure as the file tells them; time in s, ISO label and f-number as numbers.

    Values that mean "missing" (0, 65535, inf, nan, undef, n/a, empty) are passed over. The first
    source left is the value; the further ones, agreeing or not, stay in Tag.others. An unreadable
    file gives empty fields and no error. taken_at is ISO 8601 text. native: see merge_native.
    """
    with _open_exif(path) as exif:
        tags = FrameTags(
            make=_tag([*exif.texts(("Exif.Image.Make",)), *exif.found("make", _text)]),
            model=_tag([*exif.texts(MODEL_KEYS), *exif.found("model", _text)]),
            serial=_tag(_serials(exif)),
            lens=_tag([*exif.texts(LENS_KEYS), *exif.found("lensName", _text, words=True)]),
            iso=_tag(_isos(exif)),
            time_s=_tag(_times(exif)),
            aperture=_tag(_apertures(exif)),
            taken_at=_tag(_dates(exif)),
            bits=_tag(_bits(exif)),
            drive=_tag(exif.printed(DRIVE_KEYS)),
        )
    return tags if native is None else merge_native(tags, native)


def merge_native(tags: FrameTags, native: NativeTags) -> FrameTags:
    """The tags with the raw decoder's own readings behind those of the metadata.

    The decoder only tells once it has unpacked the values, so what open_mosaic hands out is added
    here rather than read again: unpacking a 24 MP frame takes 0.6 s, the metadata 1 ms.
    """
    return replace(
        tags,
        lens=_add(tags.lens, LIBRAW, _text(native.lens or "")),
        iso=_add(tags.iso, LIBRAW, _iso(native.iso)),
        time_s=_add(tags.time_s, LIBRAW, _measured(native.time_s)),
        aperture=_add(tags.aperture, LIBRAW, _measured(native.aperture)),
        taken_at=_add(tags.taken_at, LIBRAW, native.taken_at),
        bits=_add(tags.bits, f"{LIBRAW} white level", native.bits),
    )


def lossy_coding(path: str | Path) -> str:
    """Name of the lossy coding that the metadata admit to, "" for none."""
    with _open_exif(path) as exif:
        for directory in exif.sensor_directories():
            compression = exif.raw(f"Exif.{directory}.Compression")
            if compression in _LOSSY_COMPRESSION:
                return _LOSSY_COMPRESSION[compression]
        if exif.print("Exif.Nikon3.NEFCompression").startswith("Lossy"):
            return "a lossy tone curve"
        if exif.print("Exif.CanonCs.Quality") == "CRAW":
            return "a lossy raw option"
    return ""


class _Exif:
    """Exif data of one file; without data it answers every question with nothing."""

    def __init__(self, library: Any, data: Any) -> None:
        self._library, self._data = library, data

    def _datum(self, key: str) -> Any:
        if self._data is None:
            return None
        found = self._data.findKey(self._library.ExifKey(key))
        return None if found == self._data.end() else found

    def raw(self, key: str) -> str:
        """The stored value as text, "" where there is none."""
        datum = self._datum(key)
        return "" if datum is None else _clean(datum.toString())

    def print(self, key: str) -> str:
        """The value in words, "" where there is none."""
        datum = self._datum(key)
        return "" if datum is None else _clean(datum.print(self._data))

    def texts(self, keys: Sequence[str]) -> list[tuple[str, str | None]]:
        return [(key, _text(self.raw(key))) for key in keys]

    def printed(self, keys: Sequence[str]) -> list[tuple[str, str | None]]:
        return [(key, _text(self.print(key))) for key in keys]

    def numbers(self, keys: Sequence[str]) -> list[tuple[str, float | None]]:
        return [(key, _number(self.raw(key))) for key in keys]

    def found(
        self, name: str, read: Callable[[str], Any], words: bool = False
    ) -> list[tuple[str, Any]]:
        """What the library's own search over all makers' fields for that quantity finds."""
        if self._data is None:
            return []
        datum = getattr(self._library, name)(self._data)
        if datum is None or datum == self._data.end():
            return []
        text = datum.print(self._data) if words else datum.toString()
        return [(datum.key(), read(_clean(text)))]

    def sensor_directories(self) -> list[str]:
        """Directories that hold the sensor's values rather than a preview or a mask."""
        return [
            name
            for name in _DIRECTORIES
            if self.raw(f"Exif.{name}.PhotometricInterpretation") in _SENSOR_PHOTOMETRIC
        ]


@contextmanager
def _open_exif(path: str | Path) -> Iterator[_Exif]:
    """The file's Exif data, empty where the library can't read them."""
    import exiv2

    with _lock:
        exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)
        try:
            image = exiv2.ImageFactory.open(str(path))
            image.readMetadata()
            data = image.exifData()
        except exiv2.Exiv2Error:
            data = None
        yield _Exif(exiv2, data)


def _tag(candidates: Sequence[tuple[str, Any]]) -> Tag | None:
    """The first candidate with a value, with the others behind it; each source once."""
    tag: Tag | None = None
    for source, value in candidates:
        tag = _add(tag, source, value)
    return tag


def _add(tag: Tag | None, source: str, value: Any) -> Tag | None:
    """The tag with one more source; unchanged for one without a value or heard before."""
    if value is None:
        return tag
    if tag is None:
        return Tag(value=value, source=source)
    if source == tag.source or source in {name for name, _ in tag.others}:
        return tag
    return replace(tag, others=(*tag.others, (source, value)))


def _serials(exif: _Exif) -> list[tuple[str, str | None]]:
    found = [(key, _serial(exif.raw(key))) for key in SERIAL_KEYS]
    return [*found, *exif.found("serialNumber", _serial)]


def _isos(exif: _Exif) -> list[tuple[str, float | None]]:
    found = [*exif.numbers(ISO_KEYS), *exif.found("isoSpeed", _number, words=True)]
    return [(key, _iso(value)) for key, value in found]


def _times(exif: _Exif) -> list[tuple[str, float | None]]:
    apex = "Exif.Photo.ShutterSpeedValue"
    value = _number(exif.raw(apex), signed=True)
    found = [
        *exif.numbers(TIME_KEYS),
        *exif.found("exposureTime", _number),
        (apex, None if value is None else 2.0**-value),
    ]
    return [(key, _measured(time_s)) for key, time_s in found]


def _apertures(exif: _Exif) -> list[tuple[str, float | None]]:
    apex = "Exif.Photo.ApertureValue"
    value = _number(exif.raw(apex))
    found = [
        *exif.numbers(APERTURE_KEYS),
        *exif.found("fNumber", _number),
        (apex, None if value is None or value > 40.0 else 2.0 ** (value / 2.0)),
    ]
    return [(key, _measured(aperture)) for key, aperture in found]


def _dates(exif: _Exif) -> list[tuple[str, str | None]]:
    fraction = exif.raw("Exif.Photo.SubSecTimeOriginal")
    zone = exif.raw("Exif.Photo.OffsetTimeOriginal")
    dates = [(key, _date(exif.raw(key))) for key in TAKEN_KEYS]
    key, original = dates[0]
    if original:
        original += f".{fraction}" if fraction.isdigit() else ""
        original += zone if re.fullmatch(r"[+-]\d\d:\d\d", zone) else ""
    return [(key, original), *dates[1:]]


def _bits(exif: _Exif) -> list[tuple[str, int | None]]:
    keys = [f"Exif.{name}.BitsPerSample" for name in exif.sensor_directories()]
    return [(key, None if n is None else int(n)) for key, n in exif.numbers(keys)]


def _clean(text: str) -> str:
    """The text without padding and without bytes that are no text."""
    whole = text.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    return whole.replace("\0", " ").strip()


def _text(text: str) -> str | None:
    """The text as it stands (leading zeros kept), None where it says that there is none."""
    text = text.strip()
    if text.lower() in _MISSING_TEXT or re.fullmatch(r"\(\d+\)", text):
        return None
    return text


def _serial(text: str) -> str | None:
    """A serial number; of two plain numbers the first, the second being the next field."""
    pair = re.fullmatch(r"(\d+) \d+", text)
    number = _text(pair.group(1) if pair else text)
    return None if number is None or not number.strip("0") else number


def _number(text: str, signed: bool = False) -> float | None:
    """The first number of a field, rational or decimal, None for what means "missing"."""
    words = text.split()
    if not words:
        return None
    try:
        value = float(Fraction(words[0]))
    except (ValueError, ZeroDivisionError, OverflowError):
        return None
    if signed:
        return value if value != 0.0 and abs(value) < 40.0 else None
    return value if value > 0.0 else None


def _measured(value: float | None) -> float | None:
    """A time or f-number where it can be one: above zero, finite, below 65535."""
    if value is None or not math.isfinite(value) or not 0.0 < value < _MISSING_16_BIT:
        return None
    return float(value)


def _iso(value: float | None) -> float | None:
    """An ISO label where it can be one: above zero, finite, neither 65535 nor all ones."""
    if value is None or not math.isfinite(value) or not 0.0 < value < _MISSING_32_BIT:
        return None
    return None if value == _MISSING_16_BIT else float(value)


def _date(text: str) -> str | None:
    """ISO 8601 text for Exif's "2026:05:04 10:00:00"; None for blanks and zeros."""
    match = re.fullmatch(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d:\d\d:\d\d)", text)
    if match is None or match.group(1) == "0000" or match.group(2) == "00":
        return None
    year, month, day, clock = match.groups()
    return f"{year}-{month}-{day}T{clock}"
