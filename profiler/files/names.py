"""Names of files as people and programs spell them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable


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
