"""A folder watched: frames measured when they are whole, and what is known of them so far."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from profiler.calibration.exposures import (
    Exposure,
    describe_missing,
    join,
    metered_ev100,
    missing_fields,
    shot_of,
)
from profiler.calibration.groups import Group, group_frames, label_data, shooting_order
from profiler.errors import GreytareError, about
from profiler.exposure.modes import is_flash
from profiler.exposure.readings import parse_reading
from profiler.files.sheet import COLUMNS, EVERY_FILE, Sheet, SheetRow, named_as, read_sheet
from profiler.follow.arrivals import Arrivals
from profiler.follow.line import live_line
from profiler.follow.missing import Setting, still_missing
from profiler.follow.records import FollowAsk, Growing, GrowingLabel, Point, Wrong
from profiler.follow.wrong import changed_shapes, off_the_line, other_apertures
from profiler.frames.cache import MeasureCache, Signature, signature_of, tags_of
from profiler.frames.one_by_one import Arrived, OneByOne
from profiler.frames.series_patch import AUTO
from profiler.onset.plan_frames import Expected, expected_headroom
from profiler.records import MODES, FrameMeasure, Meter

if TYPE_CHECKING:
    from numpy.typing import NDArray

_CAP_DN: Final = 4.0
"""A frame no further above black is taken for a lens-cap frame: the darkest planned one has 120 DN
in 14 bits."""
_CLIP_DOUBT_EV: Final = 0.2
"""As where an older profile tells the headroom."""
_AT_ONCE: Final = 2


@dataclass(frozen=True, kw_only=True)
class _Measured:
    """An arrived frame with the patch it was measured under and what its file was then."""

    arrived: Arrived
    patch: str
    digest: str
    signature: Signature


class Follow:
    """One growing series; `look` is called again and again, `state` says what is known.

    Both may be called from different threads.
    """

    def __init__(
        self,
        folder: Path,
        ask: FollowAsk,
        *,
        sheet: Path | None = None,
        patch: str = AUTO,
        meter: Meter | None = None,
        allow_8bit: bool = False,
        cache: MeasureCache | None = None,
        clock: Callable[[], float] = time.monotonic,
        may_use: Callable[[Path], bool] = lambda _: True,
    ) -> None:
        self.folder, self.ask = folder, ask
        self.sheet_path = folder / "sheet.csv" if sheet is None else sheet
        self._meter = meter or Meter()
        self._general = _general_row(ask)
        self._lock = threading.RLock()
        self._cache = cache or MeasureCache()
        self._one_by_one = OneByOne(self._cache, patch=patch, allow_8bit=allow_8bit)
        self._arrivals = Arrivals(folder, clock, may_use)
        self._measured: dict[str, _Measured] = {}
        self._held: set[str] = set()
        self._sheet = Sheet(name=self.sheet_path.name, columns=COLUMNS)
        self._sheet_signature: Signature | None = None
        self._sheet_error: GreytareError | None = None
        self._pool = ThreadPoolExecutor(_AT_ONCE, thread_name_prefix="greytare-follow")
        self._begun = False

    def close(self) -> None:
        """Let go of threads and cache."""
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._cache.close()

    def look(self) -> bool:
        """Look once, measure what is whole; return whether anything changed.

        FrameError where the folder can't be read.
        """
        with self._lock:
            before = self._seen()
            ready = sorted(self._arrivals.look(), key=lambda path: path.name in self._measured)
            for name, known in list(self._measured.items()):
                if self._arrivals.signature(name) != known.signature:
                    del self._measured[name]
            self._begin(ready)
            self._read_sheet()
        # one alone while it may still tell where the patch lies
        list(self._pool.map(self._try, ready[: _AT_ONCE if self._one_by_one.settled else 1]))
        with self._lock:
            self._look_back()
            return self._seen() != before

    def state(self) -> Growing:
        """Return what is known of the series."""
        with self._lock:
            frames = [each.arrived.frame for each in self._measured.values()]
            shapes = {
                each.arrived.frame.file: each.arrived.shape
                for each in self._measured.values()
                if each.arrived.shape is not None
            }
            sheet, caps = self._whole_sheet()
            wrong = self._troubles()
            waiting, held = self._arrivals.waiting, tuple(sorted(self._held))
        order = shooting_order(frames)
        frames.sort(key=lambda frame: order[frame.file])
        exposures = [join(sheet, frame.file, frame.tags) for frame in frames]
        lit = [e for e in exposures if not e.dark and e.use]
        gaps = missing_fields(exposures, as_lit=True)
        lacking = {file for files in gaps.values() for file in files}
        labels, off = self._labels(
            [
                (frame, exposure)
                for frame, exposure in zip(frames, exposures, strict=True)
                if exposure.file not in lacking
            ]
        )
        wrong += other_apertures(exposures)
        wrong += changed_shapes({e.file: shapes[e.file] for e in lit if e.file in shapes})
        wrong += off + self._unplanned(lit)
        return Growing(
            frames=len(frames),
            latest=frames[-1].file if frames else "",
            labels=labels,
            waiting=waiting,
            held=held,
            unread=tuple(e.file for e in lit if not e.readings),
            lacking=describe_missing(exposures, as_lit=True),
            caps=caps,
            wrong=tuple(wrong),
            planned=bool(self.ask.isos),
        )

    def sheet(self) -> Sheet:
        """Return the sheet with the reading for all frames and the lens-cap frames added."""
        with self._lock:
            return self._whole_sheet()[0]

    def keep_patch(self) -> None:
        """Let the patch hold when the whole series is measured."""
        with self._lock:
            self._one_by_one.keep_patch([each.digest for each in self._measured.values()])

    def _seen(self) -> tuple[object, ...]:
        """What a change is told by."""
        return (
            self._arrivals.waiting,
            tuple(self._arrivals.broken),
            tuple(self._held),
            {name: (each.signature, each.patch) for name, each in self._measured.items()},
            self._sheet_signature,
        )

    def _begin(self, ready: Sequence[Path]) -> None:
        """At the first look, take over the patch that the frames here were measured under."""
        if self._begun or not ready:
            return
        self._begun = True
        with suppress(GreytareError, OSError):
            self._one_by_one.remember([self._cache.sha256(path) for path in ready])

    def _try(self, path: Path) -> None:
        """Measure one file, or wait for it."""
        name = path.name
        signature = self._arrivals.signature(name)
        try:
            if signature is None or signature_of(path.stat()) != signature:
                return
            digest = self._cache.sha256(path)
            tags = tags_of(path, digest, self._cache)
            exposure = join(named_as(self._sheet, [name])[0], name, tags)
            shot = shot_of(path, tags, exposure, signature)
            arrived = self._one_by_one.measure(shot)
        except GreytareError as error:
            with self._lock:
                self._arrivals.refuse(name, error)
            return
        except OSError:  # gone again, or a network that pauses: looked at once more
            return
        with self._lock:
            self._arrivals.accept(name)
            if arrived is None:
                self._held.add(name)
                return
            self._held.discard(name)
            self._measured[name] = _Measured(
                arrived=arrived,
                patch=self._one_by_one.patch,
                digest=digest,
                signature=signature,
            )

    def _look_back(self) -> None:
        """Let those be measured again that came before the patch was known for good."""
        self._held &= self._arrivals.whole
        patch = self._one_by_one.patch
        if not patch:
            return
        for name in list(self._held):
            self._arrivals.try_again(name)
        for name, each in self._measured.items():
            if each.patch != patch:
                self._arrivals.try_again(name)

    def _read_sheet(self) -> None:
        """Read the sheet where it has changed; one that can't be read leaves the earlier one."""
        try:
            signature: Signature | None = signature_of(self.sheet_path.stat())
        except OSError:
            signature = None
        if signature == self._sheet_signature:
            return
        try:
            if signature is None:
                self._sheet = Sheet(name=self.sheet_path.name, columns=COLUMNS)
            else:
                self._sheet = read_sheet(self.sheet_path)
            self._sheet_error = None
        except GreytareError as error:
            self._sheet_error = error
        self._sheet_signature = signature

    def _whole_sheet(self) -> tuple[Sheet, tuple[str, ...]]:
        """The sheet with what the ask and the frames themselves say, and the lens-cap frames."""
        sheet, _ = named_as(self._sheet, self._measured)
        rows = sheet.rows
        if self._general is not None and not any(
            row.file == EVERY_FILE and row.reading is not None for row in rows
        ):
            rows = (self._general, *rows)
        told = {row.file for row in rows if row.reading is not None}
        caps = tuple(
            sorted(
                name
                for name, each in self._measured.items()
                if name not in told and _under_a_cap(each.arrived.frame)
            )
        )
        rows += tuple(
            SheetRow(line=0, file=name, reading_text="dark", reading=parse_reading("dark", name))
            for name in caps
        )
        return replace(sheet, rows=rows), caps

    def _troubles(self) -> list[Wrong]:
        found = [
            Wrong(kind="broken", files=(name,), detail=str(error))
            for name, error in self._arrivals.broken.items()
        ]
        if self._sheet_error is not None:
            found.append(Wrong(kind="sheet", files=(), detail=str(self._sheet_error)))
        return found

    def _unplanned(self, lit: Sequence[Exposure]) -> list[Wrong]:
        others = sorted({e.iso for e in lit if e.iso is not None} - set(self.ask.isos))
        if not self.ask.isos:
            return []
        return [
            Wrong(
                kind="unplanned-iso",
                files=tuple(e.file for e in lit if e.iso == iso),
                detail=f"{iso}",
            )
            for iso in others
        ]

    def _labels(
        self, pairs: Sequence[tuple[FrameMeasure, Exposure]]
    ) -> tuple[tuple[GrowingLabel, ...], list[Wrong]]:
        """The labels by rising ISO, each in the first mode that was read, and what is off."""
        frames, exposures = [f for f, _ in pairs], [e for _, e in pairs]
        modes = [mode for mode in MODES if any(mode in e.readings for e in exposures if e.use)]
        mode = modes[0] if modes else self.ask.mode
        found: dict[int, GrowingLabel] = {}
        off: list[Wrong] = []
        try:
            for group in group_frames(frames, exposures, mode):
                found[group.iso], odd = self._label(group)
                off += odd
        except GreytareError as error:
            off.append(Wrong(kind="sheet", files=(), detail=str(error)))
        begun = {e.iso for e in exposures if e.iso is not None and e.use and not e.dark}
        for iso in sorted((set(self.ask.isos) or begun) - set(found)):
            darks = sum(e.iso == iso for e in exposures if e.use and e.dark)
            found[iso] = self._wanted(GrowingLabel(iso=iso, mode=mode), (), darks)
        return tuple(found[iso] for iso in sorted(found)), off

    def _label(self, group: Group) -> tuple[GrowingLabel, list[Wrong]]:
        data = label_data(group, self._meter)
        white = max((max(f.white_tag_dn.values(), default=0.0) for f in group.frames), default=0.0)
        line = live_line(data, white)
        flash = is_flash(group.mode)
        placement = data.placement_ev["exact"]
        points = tuple(
            Point(
                file=exposure.file,
                time_s=None if flash else exposure.time_s,
                placement_ev=float(placement[i]),
                level_dn=dict(zip(data.channels, map(float, line.signal_dn[i]), strict=True)),
                part=float(line.part[i]),
                clipped=bool(line.clipped[i]),
                deviation_ev=_known(line.deviation_ev[i]),
            )
            for i, exposure in enumerate(group.exposures)
        )
        label = GrowingLabel(
            iso=group.iso,
            mode=group.mode,
            points=points,
            metered_dn=_by_channel(data.channels, line.metered_dn),
            clip_dn=_by_channel(data.channels, line.clip_dn),
            headroom_ev=line.headroom_ev,
            scatter_ev=line.scatter_ev,
        )
        own = {
            e.file: metered_ev100(e, group.mode, self._meter)
            for e in group.exposures
            if e.own_reading
        }
        return (
            self._wanted(label, group.exposures, len(group.darks)),
            off_the_line(points, line.scatter_ev, own),
        )

    def _wanted(
        self, label: GrowingLabel, exposures: Sequence[Exposure], darks: int
    ) -> GrowingLabel:
        """The label with what the plan still wants of it."""
        if label.headroom_ev is None:
            expected = expected_headroom(label.mode, self._meter)
        else:
            expected = Expected(
                headroom_ev=label.headroom_ev, doubt_ev=_CLIP_DOUBT_EV, basis="this series"
            )
        settings: dict[tuple[str, float], Setting] = {}
        for exposure, point in zip(exposures, label.points, strict=True):
            key = (exposure.alike or exposure.file, round(point.placement_ev, 2))
            known = settings.get(key)
            settings[key] = Setting(
                placement_ev=point.placement_ev,
                copies=1 if known is None else known.copies + 1,
                time_s=point.time_s,
            )
        return replace(
            label,
            missing=still_missing(
                list(settings.values()), expected, copies=self.ask.copies, short=self.ask.short
            ),
            darks_missing=max(0, self.ask.darks - darks),
        )


def _general_row(ask: FollowAsk) -> SheetRow | None:
    """The row of a reading that holds for all frames; SheetError where it can't be understood."""
    if not ask.reading:
        return None
    with about("reading"):
        reading = parse_reading(ask.reading, "reading")
        reading.metered_ev100(ask.mode, Meter(), where="reading")
    return SheetRow(
        line=0, file=EVERY_FILE, reading_text=ask.reading, reading=reading, mode=ask.mode
    )


def _under_a_cap(frame: FrameMeasure) -> bool:
    """Whether no channel lies further above black than a lens cap lets it."""
    black = {name: masked.mean_dn for name, masked in frame.masked.items()} or frame.black_tag_dn
    return bool(black) and all(
        abs(cell.mean_dn - black.get(name, -1e9)) < _CAP_DN for name, cell in frame.channels.items()
    )


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _by_channel(channels: Sequence[str], values: NDArray[np.float64]) -> dict[str, float]:
    """Channel -> value, without those that aren't known."""
    return {
        name: float(value)
        for name, value in zip(channels, values, strict=True)
        if np.isfinite(value)
    }
