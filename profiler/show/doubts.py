"""What is doubted of a calibration or of a reading, in one line beside each answer."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from profiler import flags
from profiler.exposure.wording import format_ev
from profiler.records import Flag
from profiler.show import words
from profiler.show.answer import Note

if TYPE_CHECKING:
    from profiler.onset.metered import Coarse
    from profiler.results import Result


def doubt_notes(found: Iterable[Flag]) -> tuple[Note, ...]:
    """Return a warning for each flag that puts offset or headroom in doubt, each text once."""
    texts = [
        f"the calibration is in doubt: {short_doubt(flag)}: {flags.kind_of(flag).look}"
        for flag in found
        if flags.moves_answers(flag)
    ]
    return tuple(Note(text=text, warns=True) for text in dict.fromkeys(texts))


def with_doubt(headline: str, found: Iterable[Flag]) -> str:
    """Return a headline that says so where the calibration that it rests on is in doubt."""
    doubted = any(flags.moves_answers(flag) for flag in found)
    return f"{headline} The calibration is in doubt." if doubted else headline


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


def coarse_notes(typed: Iterable[Coarse | None]) -> tuple[Note, ...]:
    """Return that a reading in whole EV widened the interval, once whatever many there are."""
    first = next((each for each in typed if each is not None), None)
    if first is None:
        return ()
    text = (
        f"{first.text} was taken as shown in whole steps, which widens the interval: if your "
        f"meter shows tenths, type them, as in {first.finer}."
    )
    return (Note(text=text, warns=True),)
