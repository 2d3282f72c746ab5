"""The samples of a patch, each channel apart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.frames.cfa import Cfa, channels, period, phases
from profiler.frames.gaps import codes_in_use

Values = NDArray[np.uint16]
Planes = dict[tuple[int, int], Values]
"""By row and column in a period of the colour filter array, from left to right in each row."""


@dataclass(frozen=True, kw_only=True)
class Samples:
    """One channel: its samples in DN, the codes in use and how often each of them occurs."""

    planes: Planes
    codes: NDArray[np.int64]
    times: NDArray[np.int64]

    def flat_dn(self) -> Values:
        """All samples in one dimension; a single plane isn't copied for it."""
        return _flat(self.planes)

    def clipped(self, least: int, most: int) -> Planes:
        """The planes with what lies below or above set to the limits."""
        return {at: np.clip(plane, least, most) for at, plane in self.planes.items()}


def split_channels(values_dn: Values, cfa: Cfa) -> dict[str, Samples]:
    """Return the samples of each channel; values_dn begins at the array's first pixel.

    Those of each place in a period are copied into a plane of their own: every statistic then runs
    along the memory, in half the time, and nothing of a frame is held that the patch is a part of.
    """
    high, wide = period(cfa)
    if values_dn.ndim != 2 or values_dn.shape[0] < high or values_dn.shape[1] < wide:
        raise ValueError(f"{values_dn.shape} doesn't hold a period of {high} x {wide} pixels")
    found = {}
    for channel in channels(cfa):
        planes = {(i, j): values_dn[i::high, j::wide].copy() for i, j in phases(cfa, channel)}
        codes, times = codes_in_use(_flat(planes))
        found[channel] = Samples(planes=planes, codes=codes, times=times)
    return found


def laid_out_alike(a: Mapping[str, Samples], b: Mapping[str, Samples]) -> bool:
    """Whether two patches have the same size and the same colour filter array."""
    return _layout(a) == _layout(b)


def by_row(planes: Planes) -> dict[int, list[Values]]:
    """Return the planes that share a row of the period, from left to right."""
    rows: dict[int, list[Values]] = {}
    for (i, _), plane in planes.items():
        rows.setdefault(i, []).append(plane)
    return rows


def neighbours(planes: Planes) -> Iterator[tuple[Values, Values]]:
    """Yield pairs of planes whose samples lie next to each other in a row of their channel."""
    for in_row in by_row(planes).values():
        for left, right in zip(in_row, [*in_row[1:], in_row[0][:, 1:]], strict=True):
            shared = min(left.shape[1], right.shape[1])
            yield left[:, :shared], right[:, :shared]


def _flat(planes: Planes) -> Values:
    parts = [plane.ravel() for plane in planes.values()]
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def _layout(patch: Mapping[str, Samples]) -> dict[str, dict[tuple[int, int], tuple[int, ...]]]:
    return {
        channel: {at: plane.shape for at, plane in samples.planes.items()}
        for channel, samples in patch.items()
    }
