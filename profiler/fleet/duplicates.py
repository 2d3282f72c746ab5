"""Series that hold the same frames, so that none is counted twice."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from profiler.fleet.columns import METER, Rows, column
from profiler.results import ProfileData

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_KEY: Final = (*METER, "lens_model", "mode", "light", "iso", "aim_stops")


@dataclass(frozen=True, kw_only=True)
class Shots:
    """The frames of each series: how many it has, and a number for each."""

    counts: dict[str, int]
    hashes: NDArray[np.int64]

    @classmethod
    def of(cls, series: Mapping[str, Sequence[int]]) -> Shots:
        """Return the frames of each series, one series after the other."""
        import numpy as np

        return cls(
            counts={name: len(hashes) for name, hashes in series.items()},
            hashes=np.array([each for hashes in series.values() for each in hashes], np.int64),
        )

    @classmethod
    def joined(cls, parts: Sequence[Shots]) -> Shots:
        """Return those of all parts."""
        import numpy as np

        counts: dict[str, int] = {}
        for part in parts:
            counts |= part.counts
        return cls(counts=counts, hashes=np.concatenate([part.hashes for part in parts]))

    def only(self, names: set[str]) -> Shots:
        """Return those of some series."""
        import numpy as np

        mask = np.repeat([name in names for name in self.counts], list(self.counts.values()))
        return Shots(
            counts={name: n for name, n in self.counts.items() if name in names},
            hashes=self.hashes[mask.astype(bool)],
        )


def shots_of(profile: ProfileData) -> tuple[int, ...]:
    """Return a number for each frame that a profile rests on, from its SHA-256, sorted."""
    hashes = {frame.sha256 for frame in profile.provenance.frames if frame.sha256}
    return tuple(sorted(_number(each) for each in hashes))


def _number(sha256: str) -> int:
    """63 bits of a hash."""
    digest = hashlib.blake2b(sha256.encode(errors="replace"), digest_size=8).digest()
    return int.from_bytes(digest) >> 1


def without_duplicates(rows: Rows, shots: Shots) -> Rows:
    """Return the rows, those told that repeat another series: they bear its name.

    Two series are one where at least half of the frames of the smaller one are in the other; dark
    frames that several series share are less. Of results of one meter, lens, mode, light, ISO label
    and aim the first counts: one whose files were reached, then by name.
    """
    groups = list(_groups(shots))
    if not groups:
        return rows
    number = {name: k for k, group in enumerate(groups) for name in group}
    series = rows.text("series")
    member = [number.get(name, -1) for name in series.values]
    import numpy as np

    group = np.array(member, dtype=np.int64)[series.codes]
    key, stale = rows.key(*_KEY), ~rows.text("stale").are("")
    firsts: dict[tuple[int, int], tuple[bool, str]] = {}
    places = [int(place) for place in np.flatnonzero(group >= 0)]
    for place in places:
        slot = (int(group[place]), int(key[place]))
        mine = (bool(stale[place]), series.values[series.codes[place]])
        firsts[slot] = min(firsts.get(slot, mine), mine)
    told = rows.text("duplicate_of").array.copy()
    for place in places:
        first = firsts[(int(group[place]), int(key[place]))][1]
        if series.values[series.codes[place]] != first:
            told[place] = first
    return rows.replaced(duplicate_of=column("duplicate_of", told.tolist()))


def _groups(shots: Shots) -> Iterable[set[str]]:
    """The sets of series that hold the same frames."""
    import numpy as np

    names, counts = list(shots.counts), np.array(list(shots.counts.values()), dtype=np.int64)
    owner = np.repeat(np.arange(len(names)), counts)
    order = np.argsort(shots.hashes, kind="stable")
    hashes, owner = shots.hashes[order], owner[order]
    alike = np.flatnonzero(hashes[1:] == hashes[:-1])
    shared: dict[tuple[int, int], int] = defaultdict(int)
    for place in alike.tolist():
        shared[(int(owner[place]), int(owner[place + 1]))] += 1
    group_of: dict[int, set[int]] = {}
    for (a, b), n in shared.items():
        if 2 * n >= min(counts[a], counts[b]):
            whole = group_of.get(a, {a}) | group_of.get(b, {b})
            group_of |= dict.fromkeys(whole, whole)
    seen: set[int] = set()
    for member, whole in sorted(group_of.items()):
        if member not in seen:
            seen |= whole
            yield {names[k] for k in whole}
