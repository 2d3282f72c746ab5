"""Which codes the values of a frame use."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.errors import FrameError
from profiler.records import Flag


def codes_in_use(values: NDArray[Any]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the whole numbers that occur in values (n,), in rising order, and how often."""
    low = int(values.min()) if values.size else 0
    counts = np.bincount(values - values.dtype.type(low))
    used = counts.nonzero()[0]
    return used + low, counts[used]


def code_gaps(codes: NDArray[np.int64], times: NDArray[np.int64]) -> tuple[int, float]:
    """Smallest k > 1 for which only every k-th code is in use, else 1; share of codes unused.

    codes, times: see codes_in_use. A push by a whole factor k leaves k - 1 of k codes unused,
    one by a broken factor f above 2 uses a code in f: f, rounded, is returned. Between 1 and 2
    one code in f/(f - 1) is missing: that spacing, rounded, is returned (5 for 1.26). Only codes
    between the 5 and 95 % points count, at least 12 of them, and of the gaps those with 8 samples
    on either side, not left by chance.
    """
    low, high = _between(times, 0.05, 0.95)
    codes, times = codes[low:high], times[low:high]
    if codes.size < standards.GAP_MIN_CODES:
        return 1, 0.0
    steps = codes[1:] - codes[:-1]
    often = np.minimum(times[:-1], times[1:]) >= standards.GAP_MIN_COUNT
    steps = steps[often & (steps <= standards.GAP_LONGEST_DN)]
    if steps.size < standards.GAP_MIN_CODES:
        return 1, 0.0
    missing = float((steps - 1).sum()) / float(steps.sum())
    if np.count_nonzero(steps > 1) < standards.GAP_MIN_RUNS or missing < standards.GAP_MIN_SHARE:
        return 1, 0.0
    period = round(1.0 / missing) if missing < 0.5 else round(1.0 / (1.0 - missing))
    return period, missing


def top_code(codes: NDArray[np.int64], times: NDArray[np.int64]) -> int:
    """Return the highest code that holds pixels: more than a handful lie on it or above.

    codes, times: see codes_in_use. A hot pixel above clipped ones is no top, so as many as
    standards.TOP_SHARE of the pixels, and one in any case, are passed over.
    """
    above = times[::-1].cumsum()
    odd = max(1.0, standards.TOP_SHARE * float(above[-1]))
    return int(codes[-1 - above.searchsorted(min(odd, above[-1] - 1), side="right")])


def code_step(codes: NDArray[np.int64], times: NDArray[np.int64], top_dn: int) -> int:
    """Return the power of two that all codes are multiples of apart; 0 where too few are in use.

    codes, times: see codes_in_use. 1 for a recording that uses neighbouring codes, 4 for 12 bits in
    a file of 14. Only codes between the 1 and 99 % points of what lies below the top count: where
    clipped pixels lie is no matter of the step. In a hundred pixels one may differ, mended ones are
    means of others.
    """
    below = int(codes.searchsorted(top_dn))
    if below == 0:
        return 0
    low, high = _between(times[:below], 0.01, 0.99)
    codes, times = codes[low:high], times[low:high]
    if times.sum() < standards.STEP_MIN_PIXELS:
        return 0
    # codes that are both even and odd are multiples of no even step apart
    told = _rest(codes, times, 2) is not None
    for step in standards.CODE_STEPS:
        rest = _rest(codes, times, step) if told or step % 2 else None
        if rest is not None:
            seen = np.count_nonzero(codes % step == rest)
            return step if seen >= standards.STEP_MIN_CODES else 0
    return 1


def _rest(codes: NDArray[np.int64], times: NDArray[np.int64], step: int) -> int | None:
    """What nearly all samples leave over, divided by a step; None where they differ."""
    parts = np.bincount(codes % step, weights=times)
    rest = int(parts.argmax())
    return rest if parts[rest] >= (1.0 - standards.STEP_ODD_SHARE) * parts.sum() else None


def _between(times: NDArray[np.int64], low: float, high: float) -> tuple[int, int]:
    """Index of the first code, and after the last one, between two shares of the samples."""
    reached = times.cumsum()
    first, last = reached.searchsorted((low * reached[-1], high * reached[-1]))
    return int(first), int(last) + 1


def eight_bit_flags(
    values_dn: NDArray[np.uint16], top_dn: float, where: str, *, allow: bool
) -> tuple[Flag, ...]:
    """Return the flag "eight-bit" where the values have no more bits; none for finer ones.

    top_dn: highest code that the file can hold, which tells how many steps the codes make. Raises
    FrameError for 8 bits that aren't allowed, and for fewer.
    """
    codes = top_dn / code_spread(values_dn)
    if codes > 256.0:
        return ()
    if codes <= 64.0:
        raise FrameError(
            "the values have fewer than 7 bits, too coarse to measure", where, "Leave the frame out"
        )
    if not allow:
        raise FrameError(
            f"the values have 8 bits only (white level {top_dn:.0f}), too coarse to measure "
            "and mostly not linear",
            where,
            "Leave the frame out, record 10 bits or more, or add {allow_8bit} if you know that "
            "the values are linear",
        )
    return (Flag(name="eight-bit", size=8.0, unit="bit", where=where),)


def code_spread(values_dn: NDArray[np.uint16]) -> int:
    """Return the whole number that all codes in use are multiples of apart; 1 if they are few.

    257 for 8 bits spread over 16, since 255 x 257 = 65535.
    """
    rows, columns = (max(1, side // standards.SPREAD_SAMPLE) for side in values_dn.shape)
    codes, _ = codes_in_use(values_dn[::rows, ::columns].ravel())
    if codes.size < standards.SPREAD_MIN_CODES:
        return 1
    return int(np.gcd.reduce(np.diff(codes)))
