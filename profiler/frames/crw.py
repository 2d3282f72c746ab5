"""Time and aperture of a CIFF file, whose reader makes numbers of empty fields."""

from __future__ import annotations

from typing import Final

from profiler.frames.exif import Exif

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
