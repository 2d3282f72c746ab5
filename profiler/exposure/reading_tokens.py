"""Splits the text of a meter reading into its quantities."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Final

from profiler.errors import SheetError
from profiler.standards import READING_EV_LIMIT, READING_RANGE

FORMS: Final = (
    "EV 10.3; EV 12.3 ISO 400; 650 lx; 60 fc; 41 cd/m2; 12 fL; f/8 1/125 ISO 100; "
    "f/5.6+3 1/60 ISO 400; f/11+2 ISO 100 (flash); T2.8 180deg 24fps EI 800; dark"
)
WRITE_ONE: Final = f"Write the reading in one of these forms: {FORMS}"


@dataclass(frozen=True, kw_only=True)
class Token:
    """One quantity of a reading: its kind, its number, and how it was typed.

    kind: ev, lux, candela, iso, angle, fps, f, t, time or dark; unit: canonical unit or word.
    """

    kind: str
    value: float = 0.0
    unit: str = ""
    typed: str = ""
    tenths: int | None = None


_NUMBER = r"\d[\d.,]*|[.,]\d[\d.,]*"
_SIGNED = rf"[+-]?\s*(?:{_NUMBER})"
_END = r"(?![a-z0-9²])"
_PATTERNS: Final = tuple(
    (kind, re.compile(pattern, re.ASCII))
    for kind, pattern in (
        ("dark", rf"dark{_END}"),
        ("ev", rf"ev\s*[:=]?\s*(?P<n>{_SIGNED})"),
        ("ev", rf"(?P<n>{_SIGNED})\s*ev{_END}"),
        ("iso", rf"(?P<u>iso|ei)\s*[:=]?\s*(?P<n>[+-]?{_NUMBER})(?:/\d+\s*°)?"),
        ("time", rf"1\s*/\s*(?P<n>{_NUMBER})(?:\s*(?:seconds|second|sec|s){_END}|\s*\")?"),
        ("angle", rf"(?P<n>{_NUMBER})\s*(?:degrees|degree|deg|°){_END}"),
        ("fps", rf"(?P<n>{_NUMBER})\s*fps{_END}"),
        ("lux", rf"(?P<n>{_SIGNED})\s*(?P<u>lux|lx|foot-?candles?|fc){_END}"),
        ("candela", rf"(?P<n>{_SIGNED})\s*(?P<u>cd\s*/\s*m\^?2|nits?|foot-?lamberts?|fl){_END}"),
        ("seconds", rf"(?P<n>{_NUMBER})\s*(?:(?:seconds|second|sec|s){_END}|\")"),
        ("minutes", rf"(?P<n>{_NUMBER})\s*(?:minutes|minute|min){_END}"),
        ("f", rf"f\s*/?\s*(?P<n>{_NUMBER})(?:\s*\+\s*(?P<t>{_NUMBER}))?"),
        ("t", rf"t\s*/?\s*(?P<n>{_NUMBER})(?:\s*\+\s*(?P<t>{_NUMBER}))?"),
    )
)
_BARE = re.compile(rf"(?P<n>{_SIGNED})\s*", re.ASCII)
_UNITS: Final = {"lux": "lx", "lx": "lx", "fc": "fc", "fl": "fL", "iso": "ISO", "ei": "EI"}
_NAMES: Final = {
    "ev": "EV",
    "lux": "illuminance",
    "candela": "luminance",
    "iso": "ISO",
    "time": "time",
    "angle": "shutter angle",
    "fps": "frame rate",
    "f": "f-number",
    "t": "T-stop",
}
_SPELLINGS: Final = str.maketrans(
    {"ƒ": "f", "″": '"', "”": '"', "“": '"', "−": "-", "–": "-", "㏓": "lx", "⁄": "/", "º": "°"}
)


def tokens(text: str, where: str) -> dict[str, Token]:
    """Quantities of a reading by kind; SheetError where one is unknown, doubled or impossible.

    >>> sorted(tokens("f/5.6+3 1/60 ISO 400", "reading"))
    ['f', 'iso', 'time']
    """
    rest = normalised(text)
    found: dict[str, Token] = {}
    while rest:
        token, length = _next(rest, where)
        if token.kind in found:
            raise SheetError(
                f"two values of {_NAMES.get(token.kind, token.kind)}", where, WRITE_ONE
            )
        found[token.kind] = token
        rest = rest[length:].strip()
    return found


def normalised(text: str) -> str:
    """The text in plain small letters, with separators between quantities as single blanks.

    >>> normalised("F8,  1/125 s; ISO 100.")
    'f8 1/125 s iso 100'
    """
    plain = unicodedata.normalize("NFKC", text.translate(_SPELLINGS)).translate(_SPELLINGS)
    plain = re.sub(r"[,;]+(?=\s|$)", " ", " ".join(plain.split()).lower())
    return " ".join(plain.split()).removesuffix(".")


def number(typed: str, where: str) -> float:
    """The number that was typed; a decimal comma is taken where it can't be a thousands comma.

    >>> number("10,3", "reading")
    10.3
    """
    plain = typed.replace(" ", "")
    digits = plain.lstrip("+-")
    if "," in digits:
        whole, _, part = digits.partition(",")
        if "." in part or "." in whole or "," in part:
            raise SheetError(
                f"'{typed}' has more than one separator",
                where,
                "Write the number with one decimal point and no thousands separator",
            )
        if len(part) == 3 and whole not in ("", "0"):
            raise SheetError(
                f"'{typed}' may be {whole}{part} or {whole}.{part}",
                where,
                "Write the number with a decimal point and no thousands separator",
            )
        plain = plain.replace(",", ".")
    try:
        return float(plain)
    except ValueError:
        raise SheetError(
            f"'{typed}' is not a number", where, "Write it with digits and one decimal point"
        ) from None


def _next(rest: str, where: str) -> tuple[Token, int]:
    """The token that the text starts with, and its length."""
    for kind, pattern in _PATTERNS:
        match = pattern.match(rest)
        if match:
            return _token(kind, match, where), match.end()
    bare = _BARE.match(rest)
    if bare is None:
        word = rest.split(" ")[0]
        raise SheetError(f"'{word}' is not understood", where, WRITE_ONE)
    after = rest[bare.end() :]
    if after and not any(pattern.match(after) for _, pattern in _PATTERNS):
        word = after.split(" ")[0]
        shown = rest[: bare.end()] + word
        raise SheetError(f"'{shown}' has an unknown unit, '{word}'", where, WRITE_ONE)
    raise SheetError(f"'{bare['n'].strip()}' has no unit", where, WRITE_ONE)


def _token(kind: str, match: re.Match[str], where: str) -> Token:
    if kind == "dark":
        return Token(kind=kind, typed=match[0])
    groups = match.groupdict()
    typed = groups["n"]
    value = number(typed, where)
    if kind in ("seconds", "minutes"):
        value, kind = value * (60.0 if kind == "minutes" else 1.0), "time"
    elif kind == "time":
        _check(kind, value, f"1/{typed}", where)
        value = 1.0 / value
    shown = match[0].strip()
    _check(kind, value, shown, where)
    word = (groups.get("u") or "").replace(" ", "").replace("-", "").replace("^", "")
    if kind == "lux" and word.startswith("foot"):
        word = "fc"
    if kind == "candela":
        word = "fl" if word.startswith(("f", "foot")) else "cd/m2"
    unit = _UNITS.get(word, word)
    return Token(kind=kind, value=value, unit=unit, typed=typed, tenths=_tenths(groups, where))


def _tenths(groups: dict[str, str | None], where: str) -> int | None:
    typed = groups.get("t")
    if typed is None:
        return None
    if not re.fullmatch(r"\d", typed, re.ASCII):
        raise SheetError(
            f"'+{typed}' isn't a number of tenths",
            where,
            "Write the tenths of a stop as one digit, 0 to 9, as in f/5.6+3",
        )
    return int(typed)


def _check(kind: str, value: float, shown: str, where: str) -> None:
    """SheetError where a number can't be what its unit says."""
    name = _NAMES[kind]
    if kind == "ev":
        if not abs(value) <= READING_EV_LIMIT:
            raise SheetError(
                f"'{shown}' isn't an EV that a meter shows",
                where,
                f"Give an EV between {-READING_EV_LIMIT:g} and {READING_EV_LIMIT:g}",
            )
        return
    low, high = READING_RANGE
    if not value > 0.0:
        raise SheetError(
            f"the {name} in '{shown}' is not above 0",
            where,
            f"Give the {name} that the meter shows",
        )
    if not low <= value <= high:
        raise SheetError(
            f"the {name} in '{shown}' is beyond any meter", where, "Look for a slip of the keys"
        )
    if kind == "angle" and value > 360.0:
        raise SheetError(
            f"the shutter angle in '{shown}' is beyond a full turn",
            where,
            "Give an angle up to 360deg",
        )
