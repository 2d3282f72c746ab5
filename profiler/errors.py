"""Every error that greytare shows a user says what, where and how to mend."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager

#     GreytareError
#     ├── SheetError       the sheet, or a reading in it
#     ├── FrameError       a raw file that can't be measured
#     ├── MeasureError     the series as a whole: patch, black, clip, line
#     ├── ProfileError     a saved profile, or a request it can't answer
#     └── ExposureError    a quantity typed by the user: unit, mark, range


_TERM = re.compile(r"\{(greytare [a-z ]+|[a-z][a-z0-9_]*)\}")


def plain_name(term: str) -> str:
    """Return a data term as a script's user reads it.

    >>> plain_name("min_time")
    'min time'
    """
    return term.replace("_", " ")


class GreytareError(Exception):
    """What went wrong, where it was seen, how to mend it, and which input it is about.

    field: the input's data term, such as "iso" or "min_time", empty where no single input is at
    fault; `where` may then be empty too. `mend` names inputs and commands in braces ("Add {time}",
    "Use {greytare fit}"). Each front end says them in its own way: an option, the label of a form,
    a page.
    """

    def __init__(self, what: str, where: str, mend: str, field: str = "") -> None:
        super().__init__(what, where, mend, field)  # all four, so that it survives pickling
        self.what, self.where, self.mend, self.field = what, where, mend, field

    def said(self, name: Callable[[str], str]) -> str:
        """Return the error in one line; `name` turns a data term into a front end's words.

        >>> error = GreytareError("0 is too few", "", "Raise it, or leave {share} out", "pops")
        >>> error.said(str.upper)
        'POPS: 0 is too few. Raise it, or leave SHARE out.'
        """
        return f"{self.seen(self.place(name))}. {self.cure(name)}."

    def seen(self, place: str) -> str:
        """Return what went wrong at a place; the place once where the words begin with it."""
        return self.what if place and self.what.startswith(place) else f"{place}: {self.what}"

    def place(self, name: Callable[[str], str] = plain_name) -> str:
        """Return where it was seen; the input's own name where that is all there is."""
        return self.where or name(self.field)

    def cure(self, name: Callable[[str], str] = plain_name) -> str:
        """Return how to mend it, with the names of the inputs filled in."""
        return re.sub(
            r"\{(greytare [a-z ]+|[a-z][a-z0-9_]*)\}", lambda found: name(found[1]), self.mend
        )

    def plain(self, name: Callable[[str], str] = plain_name) -> dict[str, str]:
        """Return the error for a program: its kind, what, where, how to mend it, the field."""
        return {
            "kind": type(self).__name__,
            "what": self.what,
            "where": self.place(name),
            "mend": self.cure(name),
            "field": self.field,
        }

    def __str__(self) -> str:
        return self.said(plain_name)


class SheetError(GreytareError):
    """The sheet or a reading in it can't be used."""


class FrameError(GreytareError):
    """A raw file can't be measured."""


class MeasureError(GreytareError):
    """The series as a whole doesn't hold what a result needs."""


class ProfileError(GreytareError):
    """A saved profile can't be read, or doesn't hold what was asked of it."""


class ExposureError(GreytareError):
    """A quantity given by the user has no meaning as it stands."""


@contextmanager
def about(field: str) -> Iterator[None]:
    """Name the input that an error raised inside is about, unless the error names one itself.

    >>> with about("key"):
    ...     raise ExposureError("no time", "f/8", "Add one")
    Traceback (most recent call last):
    ...
    profiler.errors.ExposureError: f/8: no time. Add one.
    """
    try:
        yield
    except GreytareError as error:
        error.field = error.field or field
        raise
