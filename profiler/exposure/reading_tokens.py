"""Splits the text of a meter reading into its quantities."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from profiler.errors import SheetError
from profiler.standards import READING_EV_LIMIT, READING_RANGE

FORMS: Final = (
    "EV 10.3; LV 10.3; EV 12.3 ISO 400; 650 lx; 6.5 klx; 60 fc; 41 cd/m2; 12 fL; "
    "f/8 1/125 ISO 100; f/5.6+3 1/60 ISO 400; f/5.6+1/3 1/60 ISO 400; f/11+2 ISO 100 (flash); "
    "T2.8 180deg 24fps EI 800; dark"
)
WRITE_ONE: Final = f"Write the reading in one of these forms: {FORMS}"


@dataclass(frozen=True, kw_only=True)
class Token:
    """One quantity of a reading: its kind, its number, and how it was typed.

    kind: ev, lux, candela, iso, angle, fps, f, t, time or dark; unit: canonical unit or word, LV
    of an EV that is one at ISO 100, empty for a time without its unit. more: part of a stop that
    an aperture lets in less than its mark; parts: how many parts of a stop that was counted in.
    """

    kind: str
    value: float = 0.0
    unit: str = ""
    typed: str = ""
    more: Fraction = Fraction(0)
    parts: int = 0


_NUMBER = r"\d[\d.,]*|[.,]\d[\d.,]*"
_SIGNED = rf"[+-]?\s*(?:{_NUMBER})"
_SECONDS = r"(?:seconds|second|sec|s)"
_MORE = rf"(?:\s*\+\s*(?P<t>\d+\s*/\s*\d+|{_NUMBER}))?"
_END = r"(?![a-z0-9²])"
_PATTERNS: Final = tuple(
    (kind, re.compile(pattern, re.ASCII))
    for kind, pattern in (
        ("dark", rf"dark{_END}"),
        ("ev", rf"(?P<u>[el]v)\s*[:=]?\s*(?P<n>{_SIGNED})"),
        ("ev", rf"(?P<n>{_SIGNED})\s*(?P<u>[el]v){_END}"),
        (
            "iso",
            rf"(?:(?:at|@)\s*)?(?P<u>iso|asa|ei)\s*[:=]?\s*(?P<n>[+-]?{_NUMBER})(?:/\d+\s*°)?",
        ),
        ("time", rf"1\s*/\s*(?P<n>{_NUMBER})(?:\s*(?P<u>{_SECONDS}{_END}|\"))?"),
        ("angle", rf"(?P<n>{_NUMBER})\s*(?:degrees|degree|deg|°){_END}"),
        ("fps", rf"(?P<n>{_NUMBER})\s*fps{_END}"),
        (
            "lux",
            rf"(?P<n>{_SIGNED})\s*(?P<u>k?lux|k?lx|foot-?candles?|ft-?candles?|ft-?cd?|fc){_END}",
        ),
        (
            "candela",
            rf"(?P<n>{_SIGNED})\s*(?P<u>cd\s*/\s*m\^?2|nits?|f(?:oo)?t-?l(?:amberts?)?|fl){_END}",
        ),
        ("seconds", rf"(?:bulb\s*)?(?P<n>{_NUMBER})\s*(?P<u>{_SECONDS}{_END}|\")"),
        (
            "minutes",
            rf"(?:bulb\s*)?(?P<n>{_NUMBER})\s*(?P<u>minutes|minute|min){_END}"
            rf"(?:\s*(?P<s>{_NUMBER})\s*(?:{_SECONDS}{_END}|\"))?",
        ),
        ("f", rf"f\s*/?\s*(?P<n>{_NUMBER}){_MORE}"),
        ("t", rf"t\s*/?\s*(?P<n>{_NUMBER}){_MORE}"),
    )
)
_BARE = re.compile(rf"(?P<n>{_SIGNED})\s*", re.ASCII)
_PART = re.compile(r"2\s*/\s*3(?!\d)", re.ASCII)
_UNITS: Final = {
    "lux": "lx",
    "klux": "klx",
    "fl": "fL",
    "iso": "ISO",
    "asa": "ISO",
    "ei": "EI",
    "lv": "LV",
    "ev": "",
}
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
_SMALL_DIGITS: Final = re.compile(
    r"([ft]\s*/?\s*[\d.,]*\d)([₀-₉]+|[⁰¹²³⁴-⁹]+)", re.IGNORECASE | re.ASCII
)
"""The tenths of a stop that meters show as small digits beside the f-number."""
_PARTS: Final = (Fraction(1, 2), Fraction(1, 3), Fraction(2, 3))


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
    tenths = _SMALL_DIGITS.sub(r"\1+\2", text.translate(_SPELLINGS))
    plain = unicodedata.normalize("NFKC", tenths).translate(_SPELLINGS)
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
    if _PART.match(rest):
        raise SheetError(
            "'2/3' isn't a time; it may be two thirds of a stop",
            where,
            "Write them with a plus at the aperture, such as f/8+2/3, or the time that is meant",
        )
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
        if kind == "minutes":
            value = 60.0 * value + number(groups["s"] or "0", where)
        kind = "time"
    elif kind == "time":
        _check(kind, value, f"1/{typed}", where)
        value = 1.0 / value
    shown = match[0].strip()
    _check(kind, value, shown, where)
    word = (groups.get("u") or "").replace(" ", "").replace("-", "").replace("^", "")
    if kind == "lux" and word.startswith("f"):
        word = "fc"
    if kind == "candela":
        word = "fl" if word.startswith("f") else "cd/m2"
    if kind == "time":
        word = "s" if word else ""
    more, parts = _more(groups, where)
    unit = _UNITS.get(word, word)
    return Token(kind=kind, value=value, unit=unit, typed=typed, more=more, parts=parts)


def _more(groups: dict[str, str | None], where: str) -> tuple[Fraction, int]:
    """The part of a stop behind a plus, and how many parts of a stop it was counted in."""
    typed = (groups.get("t") or "").replace(" ", "")
    if not typed:
        return Fraction(0), 0
    over, _, under = typed.partition("/")
    if not under and re.fullmatch(r"\d", typed, re.ASCII):
        return Fraction(int(typed), 10), 10
    part = Fraction(int(over), int(under)) if under.strip("0") else None
    if part not in _PARTS:
        raise SheetError(
            f"'+{typed}' isn't a part of a stop",
            where,
            "Write tenths as one digit, as in f/5.6+3, or thirds and halves, as in f/5.6+1/3",
        )
    return part, part.denominator


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
