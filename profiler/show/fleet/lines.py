"""The results of a fleet with their verdicts, in words."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.exposure.stops import nearest_iso_mark
from profiler.fleet.columns import Rows, Text
from profiler.fleet.lines import Count, Line
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
from profiler.show.words import count


@dataclass(frozen=True, kw_only=True)
class LineWords:
    """One result: who and when, the figures, the verdict with its chance and expiry.

    ei: the mark to set on a meter. silent: what stands in place of a verdict.
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
    mark = nearest_iso_mark(row.exposure_index).marked
    if worst is not None and verdict != "in":
        verdict += f": {QUANTITY_NAMES[worst.quantity]}"
    chance = None if worst is None else worst.probability
    return LineWords(
        name=short_name(row),
        body=model_words(row),
        gear=gear_words(row),
        iso=row.iso,
        mode=f"{row.mode}, {row.light}",
        date=row.date or "undated",
        state=state_of(row),
        offset=value_words(row.value("offset_ev")),
        ei=f"{'at most ' if row.lower_bound else ''}{mark:g}",
        headroom=value_words(row.value("clip_headroom_ev"), sign=False),
        verdict=verdict,
        kind=line.verdict,
        chance="" if chance is None else share_words(chance),
        silent="not measured" if line.held else "no tolerance",
        expired=worst.expires if line.expired and worst is not None else "",
        doubts=tuple(row.doubts),
    )


def lines_headline(counted: Count) -> str:
    """Return how many results of how many bodies there are, and how many of those are in."""
    bodies = count(counted.bodies, "body", "bodies")
    results = f"{count(counted.results, 'result')} of {bodies}"
    if counted.held is None or not counted.results:
        return f"{results}."
    return f"{results}: {count_words(counted.held, counted.expired)}."


def model_names(rows: Rows) -> Text:
    """Return make and model of each row's body."""
    import numpy as np

    make, model = rows.text("camera_make").array, rows.text("camera_model").array
    key = rows.key("camera_make", "camera_model")
    _, first, codes = np.unique(key, return_index=True, return_inverse=True)
    names = (full_name(make[k], model[k]) or "not named" for k in first)
    return Text(codes=codes, values=tuple(names))
