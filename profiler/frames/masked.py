"""Level of the pixels at the border of the sensor that see no light."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.frames.cfa import Cfa, channels, period, phases
from profiler.frames.integrity import white_is_known
from profiler.records import Masked


class Active(NamedTuple):
    """The image inside the whole readout: first row and column, height and width, in pixels."""

    top: int
    left: int
    height: int
    width: int


def masked_levels(
    readout_dn: NDArray[np.uint16], active: Active, cfa: Cfa, black_dn: float, white_dn: float
) -> dict[str, Masked]:
    """Count, mean and standard deviation of the masked pixels per channel, in DN.

    Each border at least 8 px wide is sampled, away from the image, into which light leaks, and
    from the outermost pixels. A border of constant filling, or as bright as an image, is passed
    over; of those left the ones that agree with the lowest are pooled. Empty where none is left.
    """
    image_dn = _image_median(readout_dn, active)
    borders = []
    for border in _borders(readout_dn.shape, active):
        samples = {
            channel: _sample(readout_dn, border, active, phases(cfa, channel), period(cfa))
            for channel in channels(cfa)
        }
        values = np.concatenate(list(samples.values()))
        if _plausible(values, image_dn, black_dn, white_dn):
            borders.append({c: _without_outliers(s) for c, s in samples.items()})
    if not borders:
        return {}
    means = [float(np.mean([s.mean() for s in samples.values()])) for samples in borders]
    limit = min(means) + standards.MASKED_SPREAD_DN
    kept = [samples for samples, mean in zip(borders, means, strict=True) if mean <= limit]
    return {c: _masked(np.concatenate([samples[c] for samples in kept])) for c in channels(cfa)}


def _borders(shape: tuple[int, ...], active: Active) -> list[tuple[int, int, int, int]]:
    """First row, row after the last, then columns, of each border wide enough, guards taken off."""
    outer, guard = standards.MASKED_OUTER_PX, standards.MASKED_GUARD_PX
    bottom, right = active.top + active.height, active.left + active.width
    wide = standards.MASKED_MIN_MARGIN_PX
    found = []
    if active.left >= wide:
        found.append((active.top, bottom, outer, active.left - guard))
    if shape[1] - right >= wide:
        found.append((active.top, bottom, right + guard, shape[1] - outer))
    if active.top >= wide:
        found.append((outer, active.top - guard, active.left, right))
    if shape[0] - bottom >= wide:
        found.append((bottom + guard, shape[0] - outer, active.left, right))
    return found


def _sample(
    readout_dn: NDArray[np.uint16],
    border: tuple[int, int, int, int],
    active: Active,
    offsets: list[tuple[int, int]],
    cfa_period: tuple[int, int],
) -> NDArray[np.uint16]:
    """Values of one channel in a border, whole periods left out where it is long.

    Python's modulo keeps the phase right on either side of the image's first pixel.
    """
    high, wide = cfa_period
    row0, row1, column0, column1 = border
    row_step = high * max(1, (row1 - row0) // (high * standards.MASKED_SAMPLES))
    column_step = wide * max(1, (column1 - column0) // (wide * standards.MASKED_SAMPLES))
    parts = []
    for i, j in offsets:
        first_row = row0 + (i - (row0 - active.top)) % high
        first_column = column0 + (j - (column0 - active.left)) % wide
        parts.append(readout_dn[first_row:row1:row_step, first_column:column1:column_step].ravel())
    return np.concatenate(parts)


def _image_median(readout_dn: NDArray[np.uint16], active: Active) -> float:
    """Median of about 10 000 pixels of the image, in DN."""
    rows = slice(active.top, active.top + active.height, max(1, active.height // 101))
    columns = slice(active.left, active.left + active.width, max(1, active.width // 101))
    return _median(*_codes(readout_dn[rows, columns].ravel()))


def _plausible(
    values: NDArray[np.uint16], image_dn: float, black_dn: float, white_dn: float
) -> bool:
    """True for the values of pixels in the dark, False for filling and for parts of the image.

    Near the black tag they are taken at once; a higher level, in case the tag is wrong, only where
    it is clearly below the image's.
    """
    low, high = int(values.min()), int(values.max())
    if low == high and (low == 0 or abs(low - black_dn) > standards.MASKED_SPREAD_DN):
        return False
    if black_dn > standards.MASKED_SPREAD_DN and np.mean(values == 0) > 0.5:
        return False
    median = _median(*_codes(values))
    if median <= 1.5 * black_dn + standards.MASKED_SPREAD_DN:
        return True
    top_dn = white_dn if white_is_known(white_dn) else 65535.0
    return median <= min(standards.MASKED_HIGHEST_SHARE * top_dn, 0.8 * image_dn)


def _without_outliers(values: NDArray[np.uint16]) -> NDArray[np.float64]:
    """The values within 6 robust standard deviations (at least 1 DN each) of their median."""
    codes, times = _codes(values)
    middle = _median(codes, times)
    distance = np.abs(codes - middle)
    outwards = np.argsort(distance)
    sigma = max(1.0, 1.4826 * _median(distance[outwards], times[outwards]))
    kept = np.abs(values - middle) <= standards.OUTLIER_SIGMAS * sigma
    exact: NDArray[np.float64] = values[kept].astype(np.float64)
    return exact


def _codes(values: NDArray[np.uint16]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The codes in use in rising order, and how often each occurs."""
    counts = np.bincount(values)
    codes = np.flatnonzero(counts)
    return codes, counts[codes]


def _median(values: NDArray[Any], times: NDArray[np.int64]) -> float:
    """Median of values in rising order that occur so many times each; no sorting of samples."""
    reached = np.cumsum(times)
    n = int(reached[-1])
    low, high = values[np.searchsorted(reached, [(n - 1) // 2, n // 2], side="right")]
    return (float(low) + float(high)) / 2.0


def _masked(values: NDArray[np.float64]) -> Masked:
    """Statistics of one channel's masked pixels."""
    sd = float(values.std(ddof=1)) if values.size > 1 else 0.0
    return Masked(n=int(values.size), mean_dn=float(values.mean()), sd_dn=sd)
