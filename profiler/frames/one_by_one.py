"""The frames of a series that grows, each measured when it comes.

What measuring needs is loaded at once, so that the first frame doesn't wait for it.
"""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from profiler import standards
from profiler.errors import MeasureError
from profiler.frames import find_patch, statistics, tags  # noqa: F401
from profiler.frames.blocks import LightShape, light_shape
from profiler.frames.decode import open_mosaic
from profiler.frames.decoder import DecoderDied, decode_apart, room_for, start_decoder, undecodable
from profiler.frames.measure import frame_key, pair_key
from profiler.frames.measure_units import cut_patch, with_statistics
from profiler.frames.pairs import candidates
from profiler.frames.pairs import variances as variances_of
from profiler.frames.series_patch import AUTO, PatchPlace, patch_key, series_key, well_lit

if TYPE_CHECKING:
    from profiler.frames.cache import MeasureCache
    from profiler.frames.samples import Samples
    from profiler.frames.series_patch import Shot
    from profiler.records import FrameMeasure


@dataclass(frozen=True, kw_only=True)
class Arrived:
    """A frame that was measured; shape: None where too little of it can be compared."""

    frame: FrameMeasure
    shape: LightShape | None


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """A measured frame, the pixels of its patch, and what it makes of the patch's place."""

    frame: FrameMeasure
    samples: dict[str, Samples]
    shape: LightShape | None
    patch: str
    settled: bool


def _look(
    tell: object, shot: Shot, fractions: str, patch: str, settled: bool, allow_8bit: bool
) -> _Seen | None:
    """Measure a frame where the patch is, or may be found in it; None where it isn't known."""
    with open_mosaic(shot.path, shot.cfa or None, allow_8bit=allow_8bit) as mosaic:
        if not settled and shot.light > 0.0 and (not patch or well_lit(mosaic)):
            place = PatchPlace((shot,), AUTO, None, allow_8bit)
            with suppress(MeasureError):
                place.of(mosaic, shot)
                patch, settled = place.pixels, well_lit(mosaic)
        if not patch:
            return None
        place = PatchPlace((shot,), fractions, patch, allow_8bit)
        bare, samples, cfa_height = cut_patch(mosaic, shot, place)
        shape = None if shot.light == 0.0 else light_shape(mosaic, bare.place)
    frame = with_statistics(bare, samples, cfa_height, shot)
    return _Seen(frame=frame, samples=samples, shape=shape, patch=patch, settled=settled)


class OneByOne:
    """Measures frames as they come and leaves in the cache what a whole measurement looks for.

    The patch is that of the first well-lit frame. Until one has come, the first patch that can be
    found at all holds; `patch` then changes once, and frames under the earlier one are stale.
    """

    def __init__(self, cache: MeasureCache, *, patch: str = AUTO, allow_8bit: bool = False) -> None:
        self._cache, self._fractions, self._allow_8bit = cache, patch, allow_8bit
        self._settled = patch != AUTO
        self._lately: OrderedDict[str, tuple[Shot, FrameMeasure, dict[str, Samples]]] = (
            OrderedDict()
        )
        self._lock = threading.Lock()
        self.patch = "" if patch == AUTO else patch
        start_decoder()

    @property
    def settled(self) -> bool:
        """Whether the patch won't change any more; frames may then be measured side by side."""
        return self._settled

    def remember(self, digests: Sequence[str]) -> None:
        """Take over the patch under which frames of these contents were measured before."""
        pixels = self._cache.text(series_key(digests)) if digests else None
        if pixels and not self._settled:
            self.patch, self._settled = pixels, True

    def keep_patch(self, digests: Sequence[str]) -> None:
        """Let the patch hold for the measurement of the whole series of these contents."""
        if self.patch and self._fractions == AUTO:
            self._cache.keep_text(series_key(digests), self.patch)

    def measure(self, shot: Shot) -> Arrived | None:
        """Return the frame, None while no patch is known that a frame so dark could tell.

        FrameError where the file can't be measured, changes meanwhile, or ends the decoder.
        """
        shot = replace(shot, path=shot.path.absolute())
        args = (shot, self._fractions, self.patch, self._settled, self._allow_8bit)
        try:
            seen = decode_apart(_look, *args, room_bytes=room_for([shot.path], 1))
        except DecoderDied as died:
            raise undecodable(shot.file, died.how) from died
        if seen is None:
            return None
        if seen.patch != self.patch:
            self._lately.clear()
        self.patch, self._settled = seen.patch, seen.settled
        key = patch_key(self._fractions, self.patch) or ""
        self._cache.keep_frame(seen.frame, frame_key(key, shot))
        self._keep_pairs(shot, seen.frame, seen.samples, key)
        return Arrived(frame=seen.frame, shape=seen.shape)

    def _keep_pairs(
        self, shot: Shot, frame: FrameMeasure, samples: dict[str, Samples], key: str
    ) -> None:
        """Works out the pairs that the frame may make with those just before it."""
        with self._lock:
            self._lately[shot.file] = (shot, frame, samples)
            while len(self._lately) > standards.PAIR_WINDOW:
                self._lately.popitem(last=False)
            alike = [
                each for each in self._lately.values() if shot.alike and each[0].alike == shot.alike
            ]
        patches: Mapping[str, dict[str, Samples]] = {f.sha256: part for _, f, part in alike}
        frames = [f for _, f, _ in alike]
        if not any(frame in pair for pair in candidates(frames)):
            return
        for two, found in variances_of(frames, patches).items():
            self._cache.keep_text(pair_key(two, key, shot), json.dumps(found))
