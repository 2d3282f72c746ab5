"""Values of 8 bits, by themselves or spread over more."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.errors import FrameError
from profiler.records import Flag


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
    codes = np.flatnonzero(np.bincount(values_dn[::rows, ::columns].ravel()))
    if codes.size < standards.SPREAD_MIN_CODES:
        return 1
    return int(np.gcd.reduce(np.diff(codes)))
