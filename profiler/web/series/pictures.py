"""Small grey pictures of raw frames as PNG."""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from profiler.frames.cache import Signature, signature_of
from profiler.frames.decoder import decode_one
from profiler.frames.folder import PLANE_SUFFIXES

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from profiler.records import Mosaic

THUMBNAIL_PX: Final = 120
PREVIEW_PX: Final = 900
EVEN_EV: Final = 0.1
"""Difference across the patch that is worth a look (our choice, no source)."""
_KEPT: Final = 600


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A PNG with the even patch found on its frame, as fractions X,Y,W,H (empty: none found).

    even: how even the light on it is, in words.
    """

    png: bytes
    patch: str
    even: str


class Pictures:
    """Pictures of frames, decoded two at a time and kept while the page runs."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._two = threading.Semaphore(2)
        self._kept: OrderedDict[tuple[str, Signature, int], Picture] = OrderedDict()

    def get(self, path: Path, widest_px: int, cfa: str = "") -> Picture:
        """Return the picture of a frame; FrameError where it can't be read.

        A thumbnail's white is the file's white level, its dark end lifted, so that a bracket is
        seen to brighten and a dark frame is told from a lens cap; in a preview the middle of the
        frame is shown as grey as a grey card, clipped pixels striped.
        """
        key = (str(path), signature_of(path.stat()), widest_px)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        with self._two:
            picture = decode_one(_draw, path, widest_px, cfa)
        with self._lock:
            self._kept[key] = picture
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return picture


def _draw(tell: object, path: Path, widest_px: int, cfa: str) -> Picture:
    from profiler.errors import MeasureError
    from profiler.frames.decode import open_mosaic
    from profiler.frames.find_patch import find_patch
    from profiler.frames.preview import evenness, png_bytes

    unsaid = "MONO" if path.suffix.lower() in PLANE_SUFFIXES else None
    with open_mosaic(path, cfa or unsaid, allow_8bit=True) as mosaic:
        preview = widest_px > THUMBNAIL_PX
        png = png_bytes(_grey(mosaic, widest_px, grey_middle=preview))
        patch, even = "", ""
        if preview:
            height, width = mosaic.values_dn.shape
            try:
                found = find_patch(mosaic)
                parts = (
                    found.x / width,
                    found.y / height,
                    found.width / width,
                    found.height / height,
                )
                patch = ",".join(f"{part:.4f}" for part in parts)
                even = even_words(evenness(mosaic, found))
            except MeasureError:
                pass
    return Picture(png=png, patch=patch, even=even)


def even_words(ratio: NDArray[np.float64]) -> str:
    """Return how far the light on a patch differs from its darkest cell to its brightest."""
    span = math.log2(max(float(ratio.max()), 1e-9) / max(float(ratio.min()), 1e-9))
    said = f"Light on it: {span:.2f} stop from its darkest to its brightest part."
    return f"{said} Look for glare or a lamp on one side." if span > EVEN_EV else said


def _grey(mosaic: Mosaic, widest_px: int, *, grey_middle: bool) -> NDArray[np.uint8]:
    """The frame in 8 bits; white is the file's, or such that the middle looks like a grey card."""
    import numpy as np

    from profiler.frames.preview import (
        black_of,
        clipped_blocks,
        eight_bits,
        lifted,
        shrink,
        stripe,
        white_for_card,
    )

    mean, _ = shrink(mosaic, widest_px)
    black, white = black_of(mosaic), max(mosaic.white_tag_dn.values(), default=65535.0)
    if not grey_middle:
        return lifted(mean, black, white)
    rows, columns = mean.shape
    middle = mean[rows // 3 : -(-2 * rows // 3), columns // 3 : -(-2 * columns // 3)]
    grey = eight_bits(mean, black, white_for_card(float(np.median(middle)), black))
    stripe(grey, clipped_blocks(mosaic, widest_px))
    return grey
