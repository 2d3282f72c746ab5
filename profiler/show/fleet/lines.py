"""The results of a fleet with their verdicts, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from profiler.fleet.lines import Line
from profiler.fleet.rows import Row
from profiler.show.calibration.identity import full_name
from profiler.show.fleet.decide import count_words
from profiler.show.fleet.words import (
    QUANTITY_NAMES,
    gear_words,
    model_words,
    share_words,
    short_name,
    state_of,
    value_words,
)
from profiler.show.words import count, three_figures


@dataclass(frozen=True, kw_only=True)
class LineWords:
    """One result: who and when, the figures, the verdict with its chance and expiry.

    silent: what stands in place of a verdict.
    """

    name: str
    body: str
    gear: str
    iso: int
    mode: str
    date: str
    state: str
    offset: str
    ei: str
    headroom: str
    verdict: str
    kind: str
    chance: str
    silent: str
    expired: str
    doubts: tuple[str, ...]


def line_words(line: Line) -> LineWords:
    """Return one result in words."""
    row, worst, verdict = line.row, line.worst, line.verdict
    if worst is not None and verdict != "in":
        verdict += f": {QUANTITY_NAMES[worst.quantity]}"
    chance = None if worst is None else worst.probability
    return LineWords(
        name=short_name(row),
        body=model_words(row),
        gear=gear_words(row),
        iso=row.iso,
        mode=f"{row.mode}, {row.light}",
        date=row.date,
        state=state_of(row),
        offset=value_words(row.value("offset_ev")),
        ei=("at most " if row.lower_bound else "") + three_figures(row.exposure_index),
        headroom=value_words(row.value("clip_headroom_ev"), sign=False),
        verdict=verdict,
        kind=line.verdict,
        chance="" if chance is None else share_words(chance),
        silent="not measured" if line.held else "no tolerance",
        expired=worst.expires if line.expired and worst is not None else "",
        doubts=tuple(row.doubts),
    )


def lines_headline(
    found: Sequence[Line], worst: Mapping[tuple[str, str, str], tuple[str, bool]] | None
) -> str:
    """Return how many results of how many bodies there are, and how many of those are in.

    worst: verdict of each body and whether it has expired; None where nothing is judged.
    """
    bodies = {line.row.body for line in found}
    results = f"{count(len(found), 'result')} of {count(len(bodies), 'body', 'bodies')}"
    if worst is None or not found:
        return f"{results}."
    held = Counter(worst[body][0] for body in bodies)
    return f"{results}: {count_words(held, sum(worst[body][1] for body in bodies))}."


def model_of(row: Row) -> str:
    """Return make and model of a body."""
    return full_name(row.camera_make, row.camera_model) or "not named"
