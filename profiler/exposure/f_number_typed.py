"""An f-number that no meter's scale has, asked back."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from profiler.errors import SheetError
from profiler.exposure.marks import F_SCALE
from profiler.exposure.stops import series_with_f_number

_FULL: Final = {f"{marks[0]:g}": exact for marks, exact in F_SCALE["full"]}
_LOWEST, _HIGHEST = F_SCALE["third"][0][0][0], F_SCALE["third"][-1][0][0]
_MOST_DECIMALS: Final = 2


def check_f_number(typed: str, value: float, where: str) -> None:
    """Raise SheetError where an f-number may be a mark with tenths written behind it.

    f/8.5 stands in no full, half or third series, and f/5.63 looks like f/5.6 with 3 tenths. A
    number with one decimal more than that says that it is meant: f/8.50, f/5.630.

    >>> check_f_number("6.3", 6.3, "reading"), check_f_number("8.50", 8.5, "reading")
    (None, None)
    """
    doubt = _doubt(typed.replace(",", "."), value)
    if doubt is not None:
        raise SheetError(
            f"f/{typed.replace(',', '.')} isn't a mark of full stops, halves or thirds",
            where,
            doubt,
        )


def f_number_text(value: float) -> str:
    """Return an f-number in digits that are taken for that very number.

    >>> f_number_text(5.6), f_number_text(8.5), f_number_text(8.0), f_number_text(5.63)
    ('5.6', '8.50', '8', '5.630')
    """
    plain = str(round(value)) if value == round(value) else format(Decimal(repr(value)), "f")
    return plain if _doubt(plain, value) is None else _meant(plain)


def _meant(shown: str) -> str:
    return f"{shown}0" if "." in shown else f"{shown}.00"


def _doubt(shown: str, value: float) -> str | None:
    """How to write what is meant; None where nothing is in doubt."""
    whole, _, decimals = shown.partition(".")
    if len(decimals) == _MOST_DECIMALS:
        mark, tenths = shown[:-1], decimals[-1]
        if tenths == "0" or mark not in _FULL or f"{_FULL[mark]:.2f}" == shown:
            return None
    elif len(decimals) < _MOST_DECIMALS:
        mark, tenths = whole, decimals
        if not _LOWEST <= value <= _HIGHEST or series_with_f_number(value):
            return None
    else:
        return None
    if mark in _FULL and tenths:
        mend = f"Write f/{mark}+{tenths} for f/{mark} and {tenths} tenths of a stop"
    else:
        mend = "Write the mark with its tenths, such as f/5.6+3"
    return f"{mend}, or f/{_meant(shown)} if that very f-number is meant"
