"""Where the patch lies: given, remembered, or found in a well-lit frame while others decode."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from profiler.errors import MeasureError
from profiler.frames.cache import Signature
from profiler.records import FrameTags, Mosaic, Patch, Place

AUTO = "auto"


@dataclass(frozen=True, kw_only=True)
class Shot:
    """A file to measure, with what has to be known before it is decoded.

    alike: frames with the same text had the same settings; two of them make a pair where `use` and
    light are the same too. light: relative exposure of the frame, 0 for a dark one; metered_ev:
    mode -> EV at ISO 100 of the readings that hold for it; cfa: order of the colours where no file
    tells it; signature: what the file was when its tags were read.
    """

    path: Path
    file: str
    tags: FrameTags
    alike: str
    light: float
    signature: Signature
    metered_ev: Mapping[str, float] = field(default_factory=dict)
    use: bool = True
    cfa: str = ""


class PatchPlace:
    """The one patch of a series, shared by the threads that decode it.

    Found in the frame of the middle exposure when a thread comes by with it; a thread that comes
    earlier waits.
    """

    def __init__(
        self, shots: Sequence[Shot], patch: str, remembered: str | None, allow_8bit: bool
    ) -> None:
        self._allow_8bit = allow_8bit
        self._fractions = "" if patch == AUTO else patch
        self._found: Patch | None = None
        self._error: BaseException | None = None
        self._settled = threading.Event()
        told = bool(self._fractions) or remembered is not None
        self._candidates = [] if told else from_the_middle(shots)
        if self._fractions:
            self._settled.set()
        elif remembered is not None:
            x, y, width, height = (int(part) for part in remembered.split())
            self._settle(Patch(x=x, y=y, width=width, height=height))

    @property
    def pixels(self) -> str:
        """x, y, width and height in pixels, parted by blanks; empty where fractions were given."""
        found = self._found
        return "" if found is None else f"{found.x} {found.y} {found.width} {found.height}"

    @property
    def reference(self) -> Shot | None:
        """The frame to decode first, None where the patch is known."""
        return None if self._settled.is_set() else self._candidates[0]

    def of(self, mosaic: Mosaic, shot: Shot) -> Patch:
        """Return the patch in one frame; wait for it, or find it if this is the reference."""
        if self._fractions:
            from profiler.frames.find_patch import patch_from_fractions

            return patch_from_fractions(self._fractions, mosaic)
        if not self._settled.is_set() and shot is self._candidates[0]:
            self._find(mosaic)
        self._settled.wait()
        if self._error is not None:
            raise self._error
        if self._found is None:
            raise RuntimeError("the patch was settled without a place")
        rows, columns = mosaic.values_dn.shape
        if self._found.x + self._found.width > columns or self._found.y + self._found.height > rows:
            raise MeasureError(
                f"the patch found in another frame lies outside this one ({columns} x {rows})",
                shot.file,
                "Keep frames of one size in one folder",
            )
        return self._found

    def in_frame(self, patch: Patch, mosaic: Mosaic) -> Place | None:
        """Return where a patch lies in its frame, None for one that was given by hand."""
        if self._fractions:
            return None
        rows, columns = mosaic.values_dn.shape
        return Place(
            x=(patch.x + 0.5 * patch.width) / columns,
            y=(patch.y + 0.5 * patch.height) / rows,
            width=patch.width / columns,
            height=patch.height / rows,
        )

    def fail(self, error: BaseException) -> None:
        """Let waiting threads go, with the error that kept the patch from being found."""
        if not self._settled.is_set():
            self._error = error
            self._settled.set()

    def _find(self, mosaic: Mosaic) -> None:
        from profiler.frames.find_patch import find_patch

        try:
            if well_lit(mosaic):
                self._settle(find_patch(mosaic))
                return
            with first_well_lit(self._candidates[1:], self._allow_8bit) as better:
                self._settle(find_patch(mosaic if better is None else better))
        except BaseException as error:
            self.fail(error)
            raise

    def _settle(self, patch: Patch) -> None:
        self._found = patch
        self._settled.set()


def patch_key(patch: str, pixels: str | None) -> str | None:
    """Return the text that names a patch in the cache, None for one that isn't found yet."""
    if patch != AUTO:
        return f"fractions/{patch}"
    return None if pixels is None else f"pixels/{pixels}"


def series_key(digests: Iterable[str]) -> str:
    """Return the name under which the cache remembers the patch found for these contents."""
    return f"auto/{hashlib.sha256(' '.join(sorted(digests)).encode()).hexdigest()}"


def from_the_middle(shots: Sequence[Shot]) -> list[Shot]:
    """Return the lit frames, those of the middle exposure first; MeasureError without any."""
    lit = sorted((shot for shot in shots if shot.light > 0.0), key=lambda shot: shot.light)
    if not lit:
        raise MeasureError(
            "the series holds no lit frame", "the series", "Add frames of the grey target"
        )
    order = sorted(range(len(lit)), key=lambda i: abs(i - len(lit) // 2))
    return [lit[i] for i in order]


@contextmanager
def first_well_lit(candidates: Sequence[Shot], allow_8bit: bool) -> Iterator[Mosaic | None]:
    """Yield the first mosaic that is neither dark nor clipped, None where all are."""
    from profiler.frames.decode import open_mosaic

    for shot in candidates:
        with open_mosaic(shot.path, shot.cfa or None, allow_8bit=allow_8bit) as mosaic:
            if well_lit(mosaic):
                yield mosaic
                return
    yield None


def draw_patch(
    tell: object, path: Path, shots: Sequence[Shot], patch: str, pixels: str, allow_8bit: bool
) -> None:
    """Draw the patch of a measured series into a picture of a well-lit frame."""
    from profiler.frames.decode import open_mosaic
    from profiler.frames.preview import write_preview

    place = PatchPlace(shots, patch, pixels, allow_8bit)
    candidates = from_the_middle(shots)
    with first_well_lit(candidates, allow_8bit) as mosaic:
        if mosaic is not None:
            write_preview(path, mosaic, place.of(mosaic, candidates[0]))
            return
    shot = candidates[0]
    with open_mosaic(shot.path, shot.cfa or None, allow_8bit=allow_8bit) as mosaic:
        write_preview(path, mosaic, place.of(mosaic, shot))


def well_lit(mosaic: Mosaic) -> bool:
    """Whether the middle of the frame lies between a twentieth and four fifths of its range."""
    rows, columns = mosaic.values_dn.shape
    # an odd step meets every row and column of the colour filter array
    middle = mosaic.values_dn[rows // 3 : 2 * rows // 3 : 5, columns // 3 : 2 * columns // 3 : 5]
    tags = mosaic.white_tag_dn.values()
    white = max(tags) if tags else float(mosaic.values_dn.max())
    black = min(mosaic.black_tag_dn.values(), default=0.0)
    at = 99 * middle.size // 100
    brightest = float(np.partition(middle, at, axis=None)[at])
    return black + 0.05 * (white - black) < brightest < black + 0.8 * (white - black)
