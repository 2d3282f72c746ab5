"""Each result of a fleet with its verdict, the worst of those on its quantities."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from profiler.fleet.columns import Rows
from profiler.fleet.decide import Judged, Verdicts, counted, holding, judge, latest
from profiler.fleet.rows import Row
from profiler.fleet.rules import WORST
from profiler.fleet.tolerances import Tolerances

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

UNJUDGED: Final = len(WORST)
"""Comes after the last of the verdicts, where nothing is judged."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One result with its verdict: the worst of those on its quantities, empty without any.

    held: whether a tolerance holds for it, be its quantity measured or not.
    """

    row: Row
    verdict: str
    worst: Judged | None
    expired: bool
    held: bool


@dataclass(frozen=True, kw_only=True)
class Lines:
    """All results with their verdicts, as columns.

    verdict: place in WORST of the worst one on a result's quantities, UNJUDGED without any; worst:
    its place in `judged`, -1 without; chance: its probability of conformance, 1 where none is
    known. held: as of a Line.
    """

    rows: Rows
    judged: Verdicts | None
    current: NDArray[np.bool_]
    verdict: NDArray[np.int64]
    worst: NDArray[np.int64]
    chance: NDArray[np.float64]
    expired: NDArray[np.bool_]
    held: NDArray[np.bool_]

    def chosen(self, places: NDArray[np.int64]) -> Iterator[Line]:
        """Yield the results at some places."""
        for row, k in zip(self.rows.take(places), places.tolist(), strict=True):
            worst = None
            if self.judged is not None and self.worst[k] >= 0:
                worst = self.judged[int(self.worst[k])]
            yield Line(
                row=row,
                verdict="" if worst is None else worst.verdict,
                worst=worst,
                expired=bool(self.expired[k]),
                held=bool(self.held[k]),
            )


@dataclass(frozen=True, kw_only=True)
class Count:
    """How many results of how many bodies; verdict -> bodies, None where nothing is judged."""

    results: int
    bodies: int
    held: dict[str, int] | None
    expired: int


def make_lines(rows: Sequence[Row], tolerances: Tolerances | None, today: date) -> Lines:
    """Return all results with their verdicts, in table order."""
    import numpy as np

    table = Rows.of(rows).sorted()
    n = len(table)
    current = counted(table)
    current[current] = latest(table.take(current))
    verdict, worst = np.full(n, UNJUDGED), np.full(n, -1)
    chance, expired, held = np.ones(n), np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
    judged = None
    if tolerances is not None:
        judged = judge(table, tolerances, today, none_holds=True)
        cells = judged.cells
        place = judged.places[cells.row]
        known = np.where(np.isnan(cells.probability), 1.0, cells.probability)
        order = np.lexsort([known, cells.verdict, place])
        first = order[np.diff(place[order], prepend=-1) != 0]
        verdict[place[first]], worst[place[first]] = cells.verdict[first], first
        chance[place[first]] = known[first]
        np.logical_or.at(expired, place, cells.expired)
        for tolerance in tolerances.tolerances:
            held |= holding(tolerance, table)
    return Lines(
        rows=table,
        judged=judged,
        current=current,
        verdict=verdict,
        worst=worst,
        chance=chance,
        expired=expired & current,
        held=held,
    )


def count_lines(lines: Lines, places: NDArray[np.int64]) -> Count:
    """Return how many results and bodies there are at some places.

    A body's verdict is the worst of all its latest results, whichever of them are chosen.
    """
    import numpy as np

    bodies = lines.rows.bodies
    codes = np.unique(bodies.codes[places])
    worst = np.full(len(bodies.values), UNJUDGED)
    np.minimum.at(worst, bodies.codes[lines.current], lines.verdict[lines.current])
    expired = np.zeros(len(bodies.values), dtype=bool)
    np.logical_or.at(expired, bodies.codes[lines.current], lines.expired[lines.current])
    held = {str(name): int((worst[codes] == k).sum()) for k, name in enumerate(WORST)}
    return Count(
        results=len(places),
        bodies=len(codes),
        held=None if lines.judged is None else held,
        expired=int(expired[codes].sum()),
    )
