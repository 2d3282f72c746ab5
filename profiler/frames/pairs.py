"""Which equal frames make a pair, and the temporal variance that each pair gives."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Protocol

from profiler import standards
from profiler.records import FrameMeasure

if TYPE_CHECKING:
    from profiler.frames.samples import Samples
    from profiler.frames.series_patch import Shot

Variances = dict[str, tuple[int, float]]
"""Channel -> count of sample pairs, temporal variance in DN^2; empty where two aren't a pair."""
Both = tuple[str, str]
"""The contents (SHA-256) of two frames, the smaller first."""


def same_light(a_ev: Mapping[str, float], b_ev: Mapping[str, float]) -> bool:
    """Return whether the readings (mode -> EV) of two frames can be of one light."""
    return a_ev.keys() == b_ev.keys() and all(
        abs(a_ev[mode] - b_ev[mode]) <= standards.PAIR_READINGS_EV for mode in a_ev
    )


class Taken(Protocol):
    """What decides whether two frames can be a pair."""

    @property
    def alike(self) -> str:
        """Text that frames of equal settings share; empty where they are unknown."""

    @property
    def metered_ev(self) -> Mapping[str, float]:
        """Mode -> EV at ISO 100 of the readings."""

    @property
    def use(self) -> bool:
        """Whether the frame is to be used."""


def may_pair(a: Taken, b: Taken) -> bool:
    """Return whether two frames can be an equal pair: same settings, use and light by the sheet."""
    settings = bool(a.alike) and a.alike == b.alike
    return settings and a.use == b.use and same_light(a.metered_ev, b.metered_ev)


def level_distance(a: FrameMeasure, b: FrameMeasure) -> float:
    """Return how far two levels lie apart at most, as a part of the higher one, black in.

    Of levels near zero, where black is off already, a part says nothing: 20 DN stand for them.
    """
    if a.channels.keys() != b.channels.keys():
        return math.inf
    return max(
        abs(one.mean_dn - other.mean_dn) / max(one.mean_dn, other.mean_dn, 20.0)
        for one, other in ((a.channels[name], b.channels[name]) for name in a.channels)
    )


def windows(shots: Sequence[Shot]) -> Iterator[tuple[Shot, ...]]:
    """Yield shots of the same settings a few at a time, so that memory holds few patches.

    Those of one light stand together, then those taken after each other.
    """
    timed = all(shot.tags.taken_at is not None for shot in shots)
    ordered = sorted(
        shots,
        key=lambda shot: (
            sorted(shot.metered_ev.items()),
            str(shot.tags.taken_at.value) if timed and shot.tags.taken_at is not None else "",
            shot.file,
        ),
    )
    size = standards.PAIR_WINDOW
    starts = range(0, max(len(ordered) - 1, 1), size)  # a last one alone joins those before it
    for start in starts:
        stop = len(ordered) if start == starts[-1] else start + size
        yield tuple(ordered[start:stop])


def both(a: FrameMeasure, b: FrameMeasure) -> Both:
    """Return the name of two contents."""
    return (a.sha256, b.sha256) if a.sha256 < b.sha256 else (b.sha256, a.sha256)


def candidates(frames: Sequence[FrameMeasure]) -> list[tuple[FrameMeasure, FrameMeasure]]:
    """Return the frames of a window two by two, where their levels are near.

    Each with the next two up in level: one of them is left if the sheet rules the other out.
    Copies of one file are no pair.
    """
    ordered = sorted(frames, key=lambda f: (sum(c.mean_dn for c in f.channels.values()), f.file))
    found = []
    for (i, a), (j, b) in combinations(enumerate(ordered), 2):
        next_in_level = j - i <= standards.PAIR_NEIGHBOURS and a.sha256 != b.sha256
        if next_in_level and level_distance(a, b) <= standards.PAIR_LEVEL_PART:
            found.append((a, b))
    return found


def variances(
    frames: Sequence[FrameMeasure], patches: Mapping[str, Mapping[str, Samples]]
) -> dict[Both, Variances]:
    """Return the temporal variances of the candidates; patches: SHA-256 -> samples."""
    from profiler.frames.samples import laid_out_alike
    from profiler.frames.statistics import variance_of_pair

    found = {}
    for a, b in candidates(frames):
        samples = patches[a.sha256], patches[b.sha256]
        found[both(a, b)] = variance_of_pair(*samples) if laid_out_alike(*samples) else {}
    return found


def choose(
    window: Sequence[Shot],
    frames: Mapping[str, FrameMeasure],
    known: Mapping[Both, Variances],
) -> list[tuple[FrameMeasure, FrameMeasure, Variances]]:
    """Return the pairs of a window, nearest levels first, each frame once at most."""
    shots = {shot.file: shot for shot in window}
    apart = [
        (level_distance(a, b), a, b, known[both(a, b)])
        for a, b in candidates([frames[shot.file] for shot in window])
        if may_pair(shots[a.file], shots[b.file])
    ]
    taken: set[str] = set()
    chosen = []
    for _, a, b, pair in sorted(apart, key=lambda each: (each[0], each[1].file, each[2].file)):
        if pair and a.file not in taken and b.file not in taken:
            taken |= {a.file, b.file}
            chosen.append((a, b, pair))
    return chosen
