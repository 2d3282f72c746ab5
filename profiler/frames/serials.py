"""Which fields called "serial number" hold the number of the body."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from profiler.frames.exif import CRW, Exif
from profiler.frames.fields import text_or_none

_OWN_SOFTWARE: Final = "the maker's own software shows this number (Exiv2, pull request 2809)"
_AS_EXIF: Final = "the same as Exif's number where a file has both (Exiv2, pull request 2809)"
_INTERNAL: Final = (
    "unique, but not the number on the body (ExifTool's and Exiv2's notes on the tag)"
)


@dataclass(frozen=True, kw_only=True)
class SerialTag:
    """Whether one field holds the body's number, in which files, and who says so.

    makers: words that the make begins with, none for all; model: pattern found in the model's
    name; kind: media type of the file; each empty for any.
    """

    key: str
    real: bool
    reason: str
    makers: tuple[str, ...] = ()
    model: str = ""
    kind: str = ""

    def applies(self, make: str, model: str, kind: str) -> bool:
        """Whether the line speaks of such a file."""
        return (
            (not self.makers or make.upper().startswith(self.makers))
            and re.search(self.model, model, re.IGNORECASE) is not None
            and self.kind in ("", kind)
        )


_CANON: Final = "Exif.Canon.SerialNumber"
EXIF_KEY: Final = "Exif.Photo.BodySerialNumber"

SERIAL_TAGS: Final = (
    SerialTag(
        key=_CANON,
        makers=("CANON",),
        model=r"\bEOS\b",
        kind=CRW,
        real=True,
        reason="ExifTool's table of this file kind calls it a serial for these models",
    ),
    SerialTag(
        key=_CANON,
        makers=("CANON",),
        kind=CRW,
        real=False,
        reason="compact bodies: no serial (ExifTool's table of this file kind); two owners' "
        "cameras hold the same number, and one camera several",
    ),
    SerialTag(key=_CANON, makers=("CANON",), model=r"\bEOS\b", real=True, reason=_OWN_SOFTWARE),
    SerialTag(
        key=_CANON,
        makers=("CANON",),
        real=False,
        reason="compact bodies: no source says what it holds; it isn't a serial in their CRW files",
    ),
    SerialTag(key=EXIF_KEY, real=True, reason="Exif 2.3, tag 42033: serial number of the body"),
    SerialTag(
        key="Exif.Image.CameraSerialNumber",
        real=True,
        reason="DNG 1.7.1, tag 50735: serial number of the body that took the picture",
    ),
    SerialTag(
        key="Exif.Nikon3.SerialNumber",
        makers=("NIKON",),
        model="NIKON D|NIKON Z",
        real=True,
        reason=_AS_EXIF,
    ),
    SerialTag(
        key="Exif.Nikon3.SerialNO",
        makers=("NIKON",),
        model="NIKON D|NIKON Z",
        real=True,
        reason=_AS_EXIF,
    ),
    SerialTag(
        key="Exif.OlympusEq.SerialNumber", makers=("OLYMPUS", "OM "), real=True, reason=_AS_EXIF
    ),
    SerialTag(
        key="Exif.Pentax.SerialNumber", makers=("PENTAX", "RICOH"), real=True, reason=_AS_EXIF
    ),
    SerialTag(
        key="Exif.PentaxDng.SerialNumber", makers=("PENTAX", "RICOH"), real=True, reason=_AS_EXIF
    ),
    SerialTag(key="Exif.Sigma.SerialNumber", makers=("SIGMA",), real=True, reason=_AS_EXIF),
    SerialTag(key="Exif.Fujifilm.SerialNumber", real=False, reason=_INTERNAL),
    SerialTag(key="Exif.Panasonic.InternalSerialNumber", real=False, reason=_INTERNAL),
    SerialTag(key="Exif.Canon.InternalSerialNumber", real=False, reason=_INTERNAL),
    SerialTag(
        key="Exif.Olympus.SerialNumber2",
        real=False,
        reason="seen in compact bodies only (ExifTool's note); no source says what it holds",
    ),
    SerialTag(
        key="Exif.Sony1.SerialNumber",
        real=False,
        reason="meant for one firmware of one body (ExifTool's note); later ones write Exif's",
    ),
    SerialTag(
        key="Exif.Sony2.SerialNumber",
        real=False,
        reason="meant for one firmware of one body (ExifTool's note); later ones write Exif's",
    ),
)
"""One line a field; of several lines with one key the first that applies counts. The maker's own
field of EOS bodies stands before Exif's, which in some of their files holds another number (Exiv2,
issue 2792). A field that isn't here is no serial: rather none than a false one."""


def serials(exif: Exif, make: str, model: str) -> list[tuple[str, str | None]]:
    """Return the fields that hold the body's number, as text, the one to believe first."""
    judged: dict[str, bool] = {}
    for tag in SERIAL_TAGS:
        if tag.applies(make, model, exif.kind):
            judged.setdefault(tag.key, tag.real)
    found = [(key, serial_or_none(exif.raw(key))) for key, real in judged.items() if real]
    return _longest_text_first([(key, text) for key, text in found if text is not None])


def serial_or_none(text: str) -> str | None:
    """Return a serial number; None for none, for zeros, for a negative number.

    Of two plain numbers the first counts, the second is the next field; "NO=" before a number is
    left off.
    """
    pair = re.fullmatch(r"(\d+) \d+", text)
    bare = re.sub(r"^NO=\s*", "", pair.group(1) if pair else text, flags=re.IGNORECASE)
    number = text_or_none(bare)
    return None if number is None or not number.strip("0") or number.startswith("-") else number


def _longest_text_first(found: list[tuple[str, str]]) -> list[tuple[str, str | None]]:
    """Return the fields with those that hold the first one's number with more zeros before it."""
    if not found:
        return []
    first = found[0][1]
    same = [item for item in found if item[1].lstrip("0") == first.lstrip("0")]
    best = max(same, key=lambda item: len(item[1]))
    return [best, *(item for item in found if item is not best)]
