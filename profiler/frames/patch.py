"""Statistics of the patch, per channel."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.frames.cfa import Cfa, channels, period, phases
from profiler.frames.gaps import code_gaps
from profiler.records import ChannelMeasure

Values = NDArray[np.uint16]


def measure_patch(values_dn: Values, cfa: Cfa) -> dict[str, ChannelMeasure]:
    """Level, spread, gradient, top codes, gaps and banding per channel; levels in DN, black in.

    values_dn: (height, width), its first pixel at the array's first. Quantiles and top codes are
    exact, from the count of each code; so are mean and variance, over the n samples that aren't
    hot or dead (see ordinary_codes). Gradient: |a| + |b| of the plane mean (1 + a x + b y),
    with x and y running over 1 from edge to edge, fitted to an 8 x 8 grid of means. Banding: see
    row_banding. Neighbour variance: mean((v - v')^2)/2 over each sample and the next one of its
    channel in the row.
    """
    _check_shape(values_dn, cfa)
    return {channel: _measure_channel(values_dn, cfa, channel) for channel in channels(cfa)}


def _measure_channel(values_dn: Values, cfa: Cfa, channel: str) -> ChannelMeasure:
    counts = code_counts(values_dn, cfa, channel)
    codes = np.flatnonzero(counts)
    used = counts[codes]
    low, median, high = (_quantile(codes, used, p) for p in (0.01, 0.50, 0.99))
    least, most = ordinary_codes(low, high)
    kept = (codes >= least) & (codes <= most)
    plain, times = codes[kept], used[kept]
    n = int(times.sum())
    # integers up to here: exact for any patch that fits into memory
    total, squares = int((plain * times).sum()), int((plain * plain * times).sum())
    mean = total / n
    variance = (squares - total * total / n) / (n - 1) if n > 1 else 0.0
    period_of_gaps, share_of_gaps = code_gaps(counts)
    top_share = float(used[-1]) / int(used.sum())
    if n < int(used.sum()):
        values_dn = np.clip(values_dn, least, most)
    return ChannelMeasure(
        n=n,
        mean_dn=mean,
        variance_dn2=max(0.0, variance),
        neighbour_variance_dn2=neighbour_variance(values_dn, cfa, channel),
        gradient=gradient(values_dn, cfa, channel),
        top_dn=float(codes[-1]),
        top_share=top_share,
        low_edge_dn=low,
        median_dn=median,
        high_edge_dn=high,
        gap_period=period_of_gaps,
        gap_share=share_of_gaps,
        row_banding=row_banding(values_dn, cfa, channel, variance),
    )


def ordinary_codes(low_edge_dn: float, high_edge_dn: float) -> tuple[int, int]:
    """Lowest and highest code that isn't hot or dead: 1 and 99 % points moved apart by their span.

    For normal noise that is 7 standard deviations either way; 2 DN more for noise below one code.
    """
    span = high_edge_dn - low_edge_dn
    return max(0, int(low_edge_dn - span) - 2), min(65535, int(high_edge_dn + span) + 2)


def code_counts(values_dn: Values, cfa: Cfa, channel: str) -> NDArray[np.int64]:
    """How often each code occurs in one channel, from code 0 up to the highest in use."""
    high, wide = period(cfa)
    samples = [values_dn[i::high, j::wide].ravel() for i, j in phases(cfa, channel)]
    return np.bincount(np.concatenate(samples))


def top_codes(values_dn: Values, cfa: Cfa, n: int = 8) -> dict[str, tuple[tuple[int, float], ...]]:
    """The n highest codes in use, highest first, each with its share of the channel's samples."""
    _check_shape(values_dn, cfa)
    found = {}
    for channel in channels(cfa):
        counts = code_counts(values_dn, cfa, channel)
        codes = np.flatnonzero(counts)[: -n - 1 : -1]
        found[channel] = tuple((int(c), float(counts[c] / counts.sum())) for c in codes)
    return found


def pair_variance(a_dn: Values, b_dn: Values, cfa: Cfa) -> dict[str, tuple[int, float]]:
    """Count of sample pairs and temporal variance in DN^2 per channel, of two equal frames.

    sigma^2 = mean((A - B)^2)/2 - (mean A - mean B)^2/2 (EMVA 1288 Release 4.0 Linear, eq. 18, via
    emva1288 1.0.2): the second term takes out a change of light between the two. Samples beyond 6
    robust standard deviations (half the way from the 15.9 to the 84.1 % point, half a code added
    for rounding) of A, of B or of A - B are left out in both: hot, dead and blinking pixels.
    """
    if a_dn.shape != b_dn.shape:
        raise ValueError(f"the two patches differ in shape: {a_dn.shape}, {b_dn.shape}")
    _check_shape(a_dn, cfa)
    high, wide = period(cfa)
    found = {}
    for channel in channels(cfa):
        at = phases(cfa, channel)
        a = np.concatenate([a_dn[i::high, j::wide].ravel() for i, j in at]).astype(np.int32)
        b = np.concatenate([b_dn[i::high, j::wide].ravel() for i, j in at]).astype(np.int32)
        difference = a - b
        kept = [mask for mask in (_inliers(a), _inliers(b)) if mask is not None]
        if kept:
            difference = difference[np.logical_and.reduce(kept)]
        found[channel] = _half_variance(difference)
    return found


def _half_variance(difference: NDArray[np.int32]) -> tuple[int, float]:
    """Count and half the variance (about the mean, ddof 0) of integers, outliers left out."""
    low = int(difference.min())
    counts = np.bincount(difference - low)
    least, most = _ordinary(counts)
    values = np.arange(least, most + 1) + low
    times = counts[least : most + 1]
    n, total = int(times.sum()), int((values * times).sum())
    mean = total / n
    return n, float((values * values * times).sum()) / (2.0 * n) - mean * mean / 2.0


def neighbour_variance(values_dn: Values, cfa: Cfa, channel: str) -> float:
    """Half the mean squared difference of next neighbours of one channel in a row, in DN^2."""
    total, n = 0.0, 0
    for left, right in _neighbours(values_dn, cfa, channel):
        difference = right.astype(np.float32) - left  # exact: both are below 2^16
        flat = difference.ravel()
        total += float(np.einsum("i,i", flat, flat, dtype=np.float64))
        n += difference.size
    return total / (2.0 * n) if n else 0.0


def gradient(values_dn: Values, cfa: Cfa, channel: str, grid: int = 8) -> float:
    """Change of level from corner to corner as a part of the mean, by a fitted plane."""
    high, wide = period(cfa)
    maps = []
    for i, j in phases(cfa, channel):
        plane = values_dn[i::high, j::wide]
        rows, columns = min(grid, plane.shape[0]), min(grid, plane.shape[1])
        height, width = plane.shape[0] // rows, plane.shape[1] // columns
        blocks = plane[: rows * height, : columns * width].reshape(rows, height, columns, width)
        sums = blocks.sum(axis=3, dtype=np.uint32).sum(axis=1, dtype=np.float64)
        maps.append(sums / (height * width))
        covered = rows * height / plane.shape[0], columns * width / plane.shape[1]
    means = np.mean(maps, axis=0)
    level = float(means.mean())
    if level <= 0.0:
        return 0.0
    down, across = (abs(_slope(means.mean(axis=k))) / covered[1 - k] for k in (1, 0))
    return float(down + across) / level


def row_banding(values_dn: Values, cfa: Cfa, channel: str, variance_dn2: float) -> float:
    """Standard deviation of the row means beyond noise and a straight slope, as a part of the mean.

    sqrt(var(row means, slope taken off) - variance inside rows / samples in a row) / mean; 0 where
    noise explains all of it.
    """
    high, wide = period(cfa)
    per_row: dict[int, list[int]] = {}
    for i, j in phases(cfa, channel):
        per_row.setdefault(i, []).append(j)
    at, means, samples = [], [], []
    for i, offsets in per_row.items():
        planes = [values_dn[i::high, j::wide] for j in offsets]
        n = sum(plane.shape[1] for plane in planes)
        sums = sum(plane.sum(axis=1, dtype=np.int64) for plane in planes)
        means.append(sums / n)
        at.append(i + high * np.arange(len(planes[0])))
        samples.append(np.full(len(planes[0]), n))
    position, mean, n_row = (np.concatenate(part) for part in (at, means, samples))
    rows, total = len(mean), float(n_row.sum())
    level = float((mean * n_row).sum() / total)
    if rows < 8 or level <= 0.0:
        return 0.0
    between = float((n_row * (mean - level) ** 2).sum())
    within = max(0.0, variance_dn2 * (total - 1.0) - between) / (total - rows)
    x = position - position.mean()
    rest = mean - mean.mean() - x * float(x @ mean) / float(x @ x)
    excess = float(rest @ rest) / (rows - 2) - within * float(np.mean(1.0 / n_row))
    return float(np.sqrt(max(0.0, excess))) / level


def _check_shape(values_dn: Values, cfa: Cfa) -> None:
    high, wide = period(cfa)
    if values_dn.ndim != 2 or values_dn.shape[0] < high or values_dn.shape[1] < wide:
        raise ValueError(f"{values_dn.shape} doesn't hold a period of {high} x {wide} pixels")


def _neighbours(values_dn: Values, cfa: Cfa, channel: str) -> Iterator[tuple[Values, Values]]:
    """Pairs of planes whose samples lie next to each other in a row, both of the channel."""
    high, wide = period(cfa)
    for i, row in enumerate(cfa):
        offsets = [j for j, name in enumerate(row) if name == channel]
        next_offsets = [*offsets[1:], *(j + wide for j in offsets[:1])]
        for j, following in zip(offsets, next_offsets, strict=True):
            left, right = values_dn[i::high, j::wide], values_dn[i::high, following::wide]
            shared = min(left.shape[1], right.shape[1])
            yield left[:, :shared], right[:, :shared]


def _quantile(codes: NDArray[np.int64], used: NDArray[np.int64], share: float) -> float:
    """The lowest code with at least that share of the samples at or below it."""
    reached = np.cumsum(used)
    return float(codes[np.searchsorted(reached, share * reached[-1] * (1.0 - 1e-12))])


def _slope(means: NDArray[np.float64]) -> float:
    """Change of a least-squares line over block means from edge to edge."""
    n = len(means)
    if n < 2:
        return 0.0
    x = (np.arange(n) - (n - 1) / 2.0) / n
    return float(x @ means) / float(x @ x)


def _inliers(values: NDArray[np.int32]) -> NDArray[np.bool_] | None:
    """True within 6 robust standard deviations of the median; None where all values are."""
    low = int(values.min())
    counts = np.bincount(values - low)
    least, most = _ordinary(counts)
    if least == 0 and most == counts.size - 1:
        return None
    return (values >= least + low) & (values <= most + low)


def _ordinary(counts: NDArray[np.int64]) -> tuple[int, int]:
    """First and last index of counts within 6 robust standard deviations of the median."""
    indices = np.arange(counts.size)
    below, median, above = (_quantile(indices, counts, p) for p in (0.159, 0.5, 0.841))
    limit = standards.OUTLIER_SIGMAS * ((above - below) / 2.0 + 0.5)
    least = max(0, int(np.ceil(median - limit)))
    return least, min(counts.size - 1, int(median + limit))
