"""The one answer to a question, in words and numbers, that every front end renders."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from profiler.show.marks import Picture, Scale


@dataclass(frozen=True, kw_only=True)
class Fact:
    """A name with what is said of it."""

    name: str
    text: str


Cell = str | tuple[str, str]
"""Text, or text with a smaller remark to it."""


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table: caption, column names with unit, rows, sums below; a row's first cell names it.

    numbers: columns set to the right. bars: a part 0 to 1 per row, drawn beside its last cell. dim:
    rows of what was left out. long: it may run over pages.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    foot: tuple[tuple[Cell, ...], ...] = ()
    numbers: tuple[int, ...] = ()
    bars: tuple[float, ...] = ()
    dim: frozenset[int] = frozenset()
    long: bool = False

    def __post_init__(self) -> None:
        for row in (*self.rows, *self.foot):
            if len(row) != len(self.head):
                raise ValueError(f"{self.caption}: {len(row)} cells under {len(self.head)} names")


@dataclass(frozen=True, kw_only=True)
class Note:
    """A flag on the answer; warns where something should be changed."""

    text: str
    warns: bool = False


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What is answered, in the order in which it is read.

    headline: all of it in one sentence. topic: which part this is, where several stand together.
    lead: sentences under it. figures: the few numbers to act on. tables: with their rows. rows:
    what the figures rest on. notes: flags. steps: what to do, in order. parts: answers that it is
    made of. closing: how to read it. marks: what the scale of it shows; pictures: what smaller
    drawings show. missing: what the answer lacks, and what would give it.
    """

    headline: str
    topic: str = ""
    lead: tuple[str, ...] = ()
    figures: tuple[Fact, ...] = ()
    tables: tuple[Table, ...] = ()
    rows: tuple[Fact, ...] = ()
    notes: tuple[Note, ...] = ()
    steps: tuple[str, ...] = ()
    parts: tuple[Answer, ...] = ()
    closing: tuple[str, ...] = ()
    marks: Scale | None = None
    pictures: tuple[Picture, ...] = ()
    missing: tuple[str, ...] = ()

    @property
    def waits(self) -> bool:
        """Whether nothing is answered yet: the headline says what to give first."""
        return self.missing == (self.headline,)


def asking(what: str) -> Answer:
    """Return the request for what must be given before there is an answer."""
    return Answer(headline=what, missing=(what,))


def facts(pairs: Iterable[tuple[str, str]]) -> tuple[Fact, ...]:
    """Return the pairs of name and text whose text isn't empty."""
    return tuple(Fact(name=name, text=text) for name, text in pairs if text)


def main_of(cell: Cell) -> str:
    """Return a cell's text without its remark."""
    return cell if isinstance(cell, str) else cell[0]


def remark_of(cell: Cell) -> str:
    """Return a cell's remark, empty where it has none."""
    return "" if isinstance(cell, str) else cell[1]
