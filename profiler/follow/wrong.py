"""What is wrong with a series while it can still be mended."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from profiler import standards
from profiler.follow.records import Point, Wrong

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from profiler.calibration.exposures import Exposure
    from profiler.frames.blocks import LightShape

_LINE_FRAMES: Final = 3
"""So many frames on the line at least tell which of them is the odd one."""
_SCATTERS: Final = 4.0
_CELL_EV: Final = 0.12
"""A cell of the frame that changes by more than this isn't as it was; noise stays far below."""
_EDGE_EV: Final = 0.3
"""A cell that the edge of the card has crossed changes by more."""
_MOVED_PART: Final = 0.03
"""Share of the cells around the patch; a card that moved by a fiftieth of the frame changes it."""
_GLARE_PART: Final = 0.35
"""A reflection lies on a part of the card; light that falls otherwise changes most of it."""


def off_the_line(
    points: Sequence[Point], scatter_ev: float, own_ev: Mapping[str, float]
) -> list[Wrong]:
    """Return the frames that lie off the line, in the order in which they came.

    own_ev: file -> EV of a reading that this frame alone has. Frames that end the series and are
    off alike are one change of the light; a single one whose own reading leaps by as much as it is
    off was typed wrongly.
    """
    judged = [point for point in points if point.deviation_ev is not None]
    if len(judged) < _LINE_FRAMES:
        return []
    limit = max(standards.SLIP_EV, _SCATTERS * scatter_ev)
    off = [point for point in judged if abs(point.deviation_ev or 0.0) > limit]
    if len(off) > len(judged) // 2:
        return []
    tail: list[Point] = []
    for point in reversed(judged):
        near = max(0.5 * limit, 0.3 * abs(_mean(tail))) if tail else 0.0
        alike = not tail or abs((point.deviation_ev or 0.0) - _mean(tail)) <= near
        if point not in off or not alike:
            break
        tail.insert(0, point)
    found = []
    if len(tail) >= 2:
        found.append(Wrong(kind="light", files=_names(tail), size_ev=_mean(tail)))
        off = [point for point in off if point not in tail]
    usual = float(np.median(list(own_ev.values()))) if own_ev else 0.0
    for point in off:
        size = point.deviation_ev or 0.0
        leap = own_ev.get(point.file, usual) - usual
        # a reading too high by a stop puts the frame's placement a stop too high
        typed = abs(leap) > 0.5 * abs(size) and abs(leap + size) < max(limit, 0.3 * abs(size))
        found.append(Wrong(kind="reading" if typed else "light", files=(point.file,), size_ev=size))
    return found


def other_apertures(exposures: Sequence[Exposure]) -> list[Wrong]:
    """Return the lit frames at another aperture than most."""
    lit = [e for e in exposures if not e.dark and e.use and e.t_stop is None and e.f_number]
    if len({e.f_number for e in lit}) < 2:
        return []
    counts = Counter(e.f_number for e in lit)
    most, often = counts.most_common(1)[0]
    if often <= len(lit) // 2:  # a tie: the aperture that came first is the plan's
        most = lit[0].f_number
    odd = [e for e in lit if e.f_number != most]
    return [
        Wrong(
            kind="aperture",
            files=tuple(e.file for e in odd),
            size_ev=2.0 * float(np.log2((odd[-1].f_number or 1.0) / (most or 1.0))),
            detail=f"{odd[-1].f_number:g} {most:g}",
        )
    ]


def changed_shapes(shapes: Mapping[str, LightShape]) -> list[Wrong]:
    """Return the frames over which the light lies otherwise than over those before.

    A reflection brightens a part of the card and nothing else, a card that has moved changes the
    cells along its edges, a shadow or another direction of the light changes the card as a whole.
    """
    found: list[Wrong] = []
    steady: list[LightShape] = []
    for file, shape in shapes.items():
        alike = [each for each in steady if each.stops.shape == shape.stops.shape]
        wrong = _changed(file, shape, alike) if alike else None
        if wrong is None:
            steady.append(shape)
        else:
            found.append(wrong)
    if len(found) > len(steady):  # the first frames were the odd ones, or everything moves
        return found[-1:]
    return found


def _changed(file: str, shape: LightShape, before: Sequence[LightShape]) -> Wrong | None:
    change = shape.stops - _median(np.array([each.stops for each in before]))
    known = np.isfinite(change)
    inside, outside = known & shape.inside, known & ~shape.inside
    if not inside.any():
        return None
    most = float(np.ptp(np.percentile(change[inside], (5.0, 95.0))))
    edge = np.abs(change) > _EDGE_EV
    crossed = _share(edge, outside)
    darker = bool((known & (change < -_EDGE_EV)).any())
    brighter = known & (change > _CELL_EV)
    share = _share(brighter, known)
    touches = bool((brighter & _grown(shape.inside)).any())
    elsewhere = float(np.median(np.abs(change[known])))
    if crossed >= _MOVED_PART and darker and elsewhere < _CELL_EV:
        return Wrong(kind="moved", files=(file,), size_ev=most)
    if touches and share < _GLARE_PART and not darker:
        return Wrong(kind="glare", files=(file,), size_ev=float(np.max(change[brighter])))
    if most > _CELL_EV:
        return Wrong(kind="shadow", files=(file,), size_ev=most)
    return None


def _share(cells: NDArray[np.bool_], of: NDArray[np.bool_]) -> float:
    """The part of some cells that is among others."""
    return float(np.mean(cells[of])) if of.any() else 0.0


def _median(stack: NDArray[np.float64]) -> NDArray[np.float64]:
    """The median over frames of each cell that is known in one at least, else NaN."""
    known = np.isfinite(stack)
    out = np.full(stack.shape[1:], np.nan)
    some = known.any(axis=0)
    out[some] = np.nanmedian(stack[:, some], axis=0)
    return out


def _grown(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The cells with their neighbours."""
    wide = np.pad(cells, 1)
    out = np.zeros_like(cells)
    rows, columns = cells.shape
    for i in range(3):
        for j in range(3):
            out |= wide[i : i + rows, j : j + columns]
    return out


def _mean(points: Sequence[Point]) -> float:
    return float(np.mean([point.deviation_ev or 0.0 for point in points]))


def _names(points: Sequence[Point]) -> tuple[str, ...]:
    return tuple(point.file for point in points)
