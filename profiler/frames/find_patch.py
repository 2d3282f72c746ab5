"""Where in the frame the grey target lies."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.errors import MeasureError
from profiler.frames.blocks import Blocks, average_blocks
from profiler.frames.cfa import period
from profiler.records import Mosaic, Patch

_MEND = "Give it by hand: {patch} X,Y,W,H as fractions of the frame, such as 0.4,0.4,0.2,0.2"

Box = tuple[int, int, int, int]
"""First row, row after the last, first column, column after the last."""


def find_patch(mosaic: Mosaic) -> Patch:
    """The largest even rectangle near the middle of the frame, in pixels of the visible area.

    The frame is averaged into at most 64 x 48 blocks. From blocks as bright as their neighbours
    rectangles are grown over the blocks that stay within 3 % in every channel (7.5 % if that finds
    nothing). The largest near the middle wins; one with edges goes before one that fades or runs
    out of the frame, one of middling level before a dark or clipped one. A tenth is left off at
    each edge, and at most a quarter of the frame's width and height is kept, where it lies nearest
    to the middle.

    Raises MeasureError where nothing even of 32 x 32 pixels is found.
    """
    blocks = average_blocks(mosaic)
    for tolerance in standards.PATCH_TOLERANCES:
        patch = _best_patch(blocks, tolerance, mosaic)
        if patch is not None:
            return patch
    raise MeasureError(
        "no even area was found: the target is too small, has a texture or is lit unevenly",
        "the frame",
        _MEND,
    )


def patch_from_fractions(text: str, mosaic: Mosaic) -> Patch:
    """The patch that "X,Y,W,H" names: left, top, width, height as fractions of the frame.

    Aligned to the colour filter array; raises MeasureError for text that names none.
    """
    height, width = mosaic.values_dn.shape
    try:
        x, y, w, h = (float(part) for part in text.split(","))
    except ValueError as exc:
        raise MeasureError(f"'{text}' isn't four numbers X,Y,W,H", "", _MEND, "patch") from exc
    inside = x >= 0.0 and y >= 0.0 and x + w <= 1.0 + 1e-9 and y + h <= 1.0 + 1e-9
    if not (inside and w > 0.0 and h > 0.0):
        raise MeasureError(f"'{text}' doesn't lie inside the frame, 0 to 1", "", _MEND, "patch")
    patch = _align((y * height, (y + h) * height, x * width, (x + w) * width), mosaic)
    if patch is None:
        raise MeasureError(
            f"'{text}' is smaller than {standards.PATCH_MIN_PX} x {standards.PATCH_MIN_PX} pixels",
            "",
            _MEND,
            "patch",
        )
    return patch


def _best_patch(blocks: Blocks, tolerance: float, mosaic: Mosaic) -> Patch | None:
    """The best of the patches grown from seeds, those nearest to the middle first."""
    rows, columns = blocks.level_dn.shape[1:]
    row, column = np.mgrid[:rows, :columns]
    distance = np.hypot((row + 0.5) / rows - 0.5, (column + 0.5) / columns - 0.5)
    untried = np.ones((rows, columns), dtype=bool)
    best, best_score = None, 0.0
    tried = 0
    for seed in np.argsort(distance, axis=None, kind="stable"):
        at = int(seed) // columns, int(seed) % columns
        if not untried[at]:
            continue
        even = _like(blocks, at, tolerance)
        if even is None:
            continue
        box = _grow(even, at)
        untried[box[0] : box[1], box[2] : box[3]] = False
        patch = _trim(box, blocks, mosaic)
        if patch is not None and not _is_steep(box, blocks):
            score = _score(patch, box, blocks, mosaic)
            if score > best_score:
                best, best_score = patch, score
        tried += 1
        if tried == standards.PATCH_SEEDS:
            break
    return best


def _like(blocks: Blocks, at: tuple[int, int], tolerance: float) -> NDArray[np.bool_] | None:
    """True for the blocks as bright as the neighbourhood of one, and smooth inside.

    None where that one isn't itself.
    """
    row, column = at
    near = (slice(None), slice(max(0, row - 1), row + 2), slice(max(0, column - 1), column + 2))
    level = _median(blocks.level_dn[near].reshape(len(blocks.level_dn), -1))
    noise_dn = blocks.noise_dn[near]
    chance = standards.PATCH_NOISE_SIGMAS * (
        noise_dn.sum(axis=(1, 2)) / noise_dn[0].size + standards.PATCH_ROW_NOISE_DN
    )
    part = tolerance * np.maximum(level, 0.0)
    allowed = part + chance / math.sqrt(blocks.strips)
    allowed_range = part + 2.0 * chance
    seed = (slice(None), row, column)
    near_level = np.abs(blocks.level_dn[seed] - level) <= allowed
    if not (near_level & (blocks.range_dn[seed] <= allowed_range)).all():
        return None
    apart = np.abs(blocks.level_dn - level[:, None, None])
    smooth = blocks.range_dn <= allowed_range[:, None, None]
    both: NDArray[np.bool_] = np.logical_and.reduce(
        (apart <= allowed[:, None, None]) & smooth, axis=0
    )
    return both


def _median(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median of each row; for a few values ten times as fast as NumPy's."""
    ordered = np.sort(values, axis=1)
    n = values.shape[1]
    middle: NDArray[np.float64] = (ordered[:, (n - 1) // 2] + ordered[:, n // 2]) / 2.0
    return middle


def _grow(even: NDArray[np.bool_], at: tuple[int, int]) -> Box:
    """The rectangle of most area among those that hold the block and only even ones.

    For each row the run of even blocks through the seed's column is measured; a rectangle from row
    t to row b is as wide as the narrowest of the runs between them.
    """
    row, column = at
    left = _runs(even[:, column::-1])
    right = _runs(even[:, column:])
    left_up, left_down = (np.minimum.accumulate(part) for part in (left[row::-1], left[row:]))
    right_up, right_down = (np.minimum.accumulate(part) for part in (right[row::-1], right[row:]))
    lefts = np.minimum(left_up[:, None], left_down[None, :])
    rights = np.minimum(right_up[:, None], right_down[None, :])
    tall = np.arange(len(left_up))[:, None] + np.arange(len(left_down))[None, :] + 1
    area = np.where(np.minimum(lefts, rights) > 0, tall * (lefts + rights - 1), 0)
    up, down = (int(k) for k in np.unravel_index(int(area.argmax()), area.shape))
    return (
        row - up,
        row + down + 1,
        column - int(lefts[up, down]) + 1,
        column + int(rights[up, down]),
    )


def _is_steep(box: Box, blocks: Blocks) -> bool:
    """True where the level of a channel certainly changes by over 15 % from edge to edge.

    Single blocks of a faint frame are too noisy to show that; a line over all of them does.
    """
    level_dn = blocks.level_dn[:, box[0] : box[1], box[2] : box[3]]
    noise_dn = blocks.noise_dn[:, box[0] : box[1], box[2] : box[3]]
    mean = level_dn.mean(axis=(1, 2))
    u = noise_dn.mean(axis=(1, 2)) * math.sqrt(12.0 / (level_dn[0].size * blocks.strips))
    allowed = 2.0 * max(standards.PATCH_TOLERANCES) * np.maximum(mean, 0.0)
    allowed += standards.PATCH_NOISE_SIGMAS * u + standards.PATCH_ROW_NOISE_DN
    changes = (_edge_to_edge(level_dn.mean(axis=k)) for k in (1, 2))
    return any(bool((np.abs(change) > allowed).any()) for change in changes)


def _edge_to_edge(level_dn: NDArray[np.float64]) -> NDArray[np.float64]:
    """Change of a least-squares line per channel over a row of levels (channel, place)."""
    places = level_dn.shape[1]
    if places < 2:
        return np.zeros(level_dn.shape[0])
    x = (np.arange(places) - (places - 1) / 2.0) / places
    change: NDArray[np.float64] = level_dn @ x / float(x @ x)
    return change


def _runs(even: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Length of the run of true values at the start of each row."""
    runs: NDArray[np.int64] = np.minimum.accumulate(even, axis=1).sum(axis=1, dtype=np.int64)
    return runs


def _trim(box: Box, blocks: Blocks, mosaic: Mosaic) -> Patch | None:
    """The part of a box that is measured; None where it is too small."""
    frame_height, frame_width = mosaic.values_dn.shape
    top, bottom = _inner(box[0] * blocks.height, box[1] * blocks.height, frame_height)
    left, right = _inner(box[2] * blocks.width, box[3] * blocks.width, frame_width)
    return _align((top, bottom, left, right), mosaic)


def _inner(start: float, stop: float, frame: int) -> tuple[float, float]:
    """A stretch without a tenth at either end, at most a quarter of the frame long, nearest to
    the frame's middle."""
    margin = standards.PATCH_EDGE_SHARE * (stop - start)
    start, stop = start + margin, stop - margin
    most = max(standards.PATCH_MOST_SHARE * frame, 1.25 * standards.PATCH_MIN_PX)
    length = min(stop - start, most)
    begin = min(max(start, (frame - length) / 2.0), stop - length)
    return begin, begin + length


def _align(edges: tuple[float, float, float, float], mosaic: Mosaic) -> Patch | None:
    """The patch of whole CFA periods inside top, bottom, left and right; None if under 32 px."""
    high, wide = period(mosaic.cfa)
    height, width = mosaic.values_dn.shape
    top, bottom, left, right = edges
    y, x = math.ceil(top / high - 1e-6) * high, math.ceil(left / wide - 1e-6) * wide
    end_y = min(math.floor(bottom / high + 1e-6), height // high) * high
    end_x = min(math.floor(right / wide + 1e-6), width // wide) * wide
    if min(end_y - y, end_x - x) < standards.PATCH_MIN_PX:
        return None
    return Patch(x=x, y=y, width=end_x - x, height=end_y - y)


def _score(patch: Patch, box: Box, blocks: Blocks, mosaic: Mosaic) -> float:
    """Area of the patch as a part of the largest, less the further it lies from the middle.

    Counts more where the box ends at edges: a target has some, a background fades or runs out.
    """
    height, width = mosaic.values_dn.shape
    area = patch.width * patch.height / (standards.PATCH_MOST_SHARE**2 * width * height)
    off = math.hypot(
        (patch.x + patch.width / 2.0) / width - 0.5, (patch.y + patch.height / 2.0) / height - 0.5
    )
    nearness = math.exp(-((off / standards.PATCH_CENTRE_SCALE) ** 2))
    edged = standards.PATCH_EDGED_WEIGHT if _edges(box, blocks) >= 3 else 1.0
    return float(area * nearness * edged) * _likelihood(box, blocks, mosaic)


def _edges(box: Box, blocks: Blocks) -> int:
    """Number of sides of the box beyond which the level is another by more than 15 %.

    Looked at two blocks away, the next one may hold the edge itself.
    """
    top, bottom, left, right = box
    rows, columns = blocks.level_dn.shape[1:]
    inside = blocks.level_dn[:, top:bottom, left:right].mean(axis=(1, 2))
    noise = blocks.noise_dn[:, top:bottom, left:right].mean(axis=(1, 2))
    least = 2.0 * max(standards.PATCH_TOLERANCES) * np.maximum(inside, 0.0)
    least += standards.PATCH_NOISE_SIGMAS * (noise + standards.PATCH_ROW_NOISE_DN)
    beyond = [
        blocks.level_dn[:, max(0, top - 2), left:right] if top > 0 else None,
        blocks.level_dn[:, min(rows - 1, bottom + 1), left:right] if bottom < rows else None,
        blocks.level_dn[:, top:bottom, max(0, left - 2)] if left > 0 else None,
        blocks.level_dn[:, top:bottom, min(columns - 1, right + 1)] if right < columns else None,
    ]
    return sum(
        bool((np.abs(_median(level) - inside) > least).any())
        for level in beyond
        if level is not None
    )


def _likelihood(box: Box, blocks: Blocks, mosaic: Mosaic) -> float:
    """Weight of an area by its level above black: 1 for a likely one, 1/4 for dark or clipped."""
    if not mosaic.white_tag_dn:
        return 1.0
    level_dn = blocks.level_dn[:, box[0] : box[1], box[2] : box[3]].mean(axis=(1, 2)).max()
    black = min(mosaic.black_tag_dn.values(), default=0.0)
    part = float(level_dn) / (max(mosaic.white_tag_dn.values()) - black)
    low, high = standards.PATCH_LEVELS
    return 1.0 if low < part < high else standards.PATCH_UNLIKELY_WEIGHT
