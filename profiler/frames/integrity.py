"""Signs in the values that a decoder filled a frame with something other than its pixels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.errors import FrameError
from profiler.frames.gaps import codes_in_use, top_code

_FIRST_LOOK_PX = 16  # one value in so many shows most frames to have no run at all
_COPY_AGAIN = "Copy the file from the card again, or leave the frame out"


def white_is_known(white_dn: float) -> bool:
    """True where the white level says something; 65535 is what LibRaw gives when it knows none."""
    return 0.0 < white_dn < 65535.0


def check_values(
    values_dn: NDArray[np.uint16],
    cfa_period: tuple[int, int],
    black_dn: float,
    white_dn: float,
    where: str,
) -> None:
    """Raise FrameError where parts of the frame hold something else than pixels.

    Looks at about 256 rows. Noise makes a run of equal values of one channel unlikely, so a long
    run is either clipped (it sits on the channel's top code) or filled in by the decoder. Values
    that the white level's number of bits can't hold are garbage where they don't form areas.
    Noise of 8-bit values may leave neighbours equal: there only a frame of one value is refused.
    """
    step = max(1, values_dn.shape[0] // standards.INTEGRITY_ROWS)
    step += (step + 1) % 2 if cfa_period[0] > 1 else 0  # odd, so that every row of the CFA shows
    rows = values_dn[::step]
    _check_fill(rows, np.arange(0, values_dn.shape[0], step), cfa_period, black_dn, white_dn, where)
    _check_garbage(rows, cfa_period[1], white_dn, where)


def _check_fill(
    rows: NDArray[np.uint16],
    row_numbers: NDArray[np.int64],
    cfa_period: tuple[int, int],
    black_dn: float,
    white_dn: float,
    where: str,
) -> None:
    """FrameError where runs of one value are neither clipped pixels nor a dark frame's black."""
    high, wide = cfa_period
    cell = min(standards.INTEGRITY_RUN_PX, rows.shape[1] - wide) // wide * wide
    if cell <= 0:
        return
    cells = (rows.shape[1] - wide) // cell
    here = rows[:, : cells * cell].reshape(len(rows), cells, cell)
    following = rows[:, wide : wide + cells * cell].reshape(len(rows), cells, cell)
    some = here[:, :, ::_FIRST_LOOK_PX] == following[:, :, ::_FIRST_LOOK_PX]
    if not some.all(axis=2).any():
        return
    flat = (here == following).all(axis=2)
    if white_dn <= 255.0 and not (flat.all() and (rows == rows[0, 0]).all()):
        return
    first = here[:, :, :wide]
    bad = flat & ~_is_clip(rows, row_numbers % high, first, black_dn, white_dn)
    if _is_dark(rows, black_dn):
        near = np.abs(first - black_dn) <= standards.BLACK_DISAGREEMENT_DN
        below = first.max(axis=2) < black_dn - standards.BLACK_DISAGREEMENT_DN
        bad &= below | (bool(flat.all()) and not (black_dn > 0.0 and bool(near.all())))
    share = float(bad.mean())
    if share >= standards.INTEGRITY_FILL_SHARE:
        value = int(np.median(first[bad]))
        part = "all" if share == 1.0 else f"{max(1, round(100.0 * share))} %"
        raise FrameError(
            f"{part} of the frame holds the one value {value} instead of pixels", where, _COPY_AGAIN
        )


def _is_clip(
    rows: NDArray[np.uint16],
    row_phase: NDArray[np.int64],
    first: NDArray[np.uint16],
    black_dn: float,
    white_dn: float,
) -> NDArray[np.bool_]:
    """True for cells whose every channel sits on its own top code, high up in the range.

    The top is a code that holds pixels: one hot pixel above clipped ones isn't it.
    """
    wide = first.shape[2]
    usable = rows.shape[1] // wide * wide
    tops = np.empty((len(rows), wide), dtype=np.uint16)
    for phase in set(row_phase.tolist()):
        here = rows[row_phase == phase, :usable]
        tops[row_phase == phase] = [
            top_code(*codes_in_use(here[:, j::wide].ravel())) for j in range(wide)
        ]
    known = white_is_known(white_dn)
    range_dn = (white_dn if known else standards.SMALLEST_WHITE_DN) - black_dn
    highest = _bit_top(white_dn) if known else 65535
    clipped = (
        (first >= 0.99 * tops[:, None, :])
        & (first <= highest)
        & (first >= black_dn + standards.LOWEST_CLIP_SHARE * range_dn)
    )
    whole: NDArray[np.bool_] = np.logical_and.reduce(clipped, axis=2)
    return whole


def _is_dark(rows: NDArray[np.uint16], black_dn: float) -> bool:
    """True where hardly a pixel lies above black, as with a lens cap on."""
    lit = rows[::4, ::4] > black_dn + standards.DARK_FRAME_DN
    return float(lit.mean()) <= 0.001


def _check_garbage(rows: NDArray[np.uint16], wide: int, white_dn: float, where: str) -> None:
    """FrameError where values beyond the white level's bits leap from pixel to pixel.

    A white level that is merely wrong gives values beyond it too, but in areas and not in leaps.
    """
    if not white_is_known(white_dn):
        return
    if int(rows.max()) <= _bit_top(white_dn):
        return
    beyond = rows[:, :-wide] > _bit_top(white_dn)
    count = int(np.count_nonzero(beyond))
    if count < standards.GARBAGE_SHARE * beyond.size:
        return
    here = rows[:, :-wide][beyond].astype(np.float64)
    leap = np.abs(here - rows[:, wide:][beyond]) > 0.25 * here
    if leap.mean() > standards.GARBAGE_LEAP_SHARE:
        raise FrameError(
            f"{100.0 * count / beyond.size:.2g} % of the values lie beyond what the white level "
            f"{white_dn:.0f} allows, scattered like noise",
            where,
            _COPY_AGAIN,
        )


def _bit_top(white_dn: float) -> int:
    """Highest code of the number of bits that the white level needs."""
    return (1 << int(white_dn).bit_length()) - 1


def gap_share(values_dn: NDArray[np.uint16]) -> float:
    """Share of codes left out between neighbours that are both in frequent use, irregularly.

    A linear recording uses every code, a digital push leaves out the same ones of each period; a
    curve or a lossy coding leaves codes out unevenly. 0 where most steps from one code in use to
    the next are 1, or all are multiples of one step.
    """
    codes, times = codes_in_use(values_dn.ravel())
    steps = np.diff(codes)
    often = np.minimum(times[:-1], times[1:]) >= standards.GAP_MIN_COUNT
    steps = steps[often & (steps <= standards.GAP_LONGEST_DN)]
    if steps.size < standards.GAP_MIN_STEPS or np.median(steps) <= 1:
        return 0.0
    if np.gcd.reduce(steps) > 1:
        return 0.0
    return float(1.0 - steps.size / steps.sum())
