"""What is doubted of a calibration, in one line beside each answer that rests on it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from profiler import flags
from profiler.exposure.wording import format_ev
from profiler.records import Flag
from profiler.show import words
from profiler.show.answer import Note

if TYPE_CHECKING:
    from profiler.results import Result


def doubt_notes(found: Iterable[Flag]) -> tuple[Note, ...]:
    """Return a warning for each flag that puts offset or headroom in doubt, each text once."""
    texts = [
        f"the calibration is in doubt: {short_doubt(flag)}: {flags.kind_of(flag).look}"
        for flag in found
        if flags.moves_answers(flag)
    ]
    return tuple(Note(text=text, warns=True) for text in dict.fromkeys(texts))


def doubts_of(result: Result) -> list[Flag]:
    """Return the flags of a result that put its offset or headroom in doubt."""
    return [flag for flag in result.flags if flags.moves_answers(flag)]


def short_doubt(flag: Flag) -> str:
    """Return `offset unusually large, +2.72 EV`."""
    return f"{flags.kind_of(flag).doubt}, {size_words(flag)}"


def size_words(flag: Flag) -> str:
    """Return how large a doubt is, with its unit."""
    if flag.unit == "EV":
        return format_ev(flag.size)
    return f"{words.three_figures(flag.size)} {flag.unit}"
