"""Who and what a profile is about, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime

from profiler import __version__
from profiler.calibration.exposures import Exposure
from profiler.files.sheet import Sheet
from profiler.records import FrameMeasure, Measurement, Meter
from profiler.results import CameraIdentity, LensIdentity, MeterIdentity, Provenance, SourceFrame


def camera(frames: Sequence[FrameMeasure]) -> CameraIdentity:
    """Return the body as its files name it."""
    return CameraIdentity(
        make=_first(frames, "make"), model=_first(frames, "model"), serial=_first(frames, "serial")
    )


def lens(frames: Sequence[FrameMeasure]) -> LensIdentity:
    """Return the lens as the files name it."""
    return LensIdentity(model=_first(frames, "lens"))


def meter_identity(meter: Meter) -> MeterIdentity:
    """Return the meter with the figures it was used by."""
    return MeterIdentity(**vars(meter))


def provenance(measurement: Measurement, exposures: Sequence[Exposure], sheet: Sheet) -> Provenance:
    """Return software, time, files and readings that a profile rests on."""
    readings: dict[str, tuple[str, ...]] = {}
    for exposure in exposures:
        for mode, texts in exposure.texts.items():
            known = readings.get(mode, ())
            readings[mode] = known + tuple(t for t in dict.fromkeys(texts) if t not in known)
    return Provenance(
        software=f"greytare {__version__}",
        created=datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        taken=taken(measurement.frames),
        frames=tuple(SourceFrame(file=f.file, sha256=f.sha256) for f in measurement.frames),
        patch=measurement.patch,
        sheet=sheet.name,
        sheet_sha256=sheet.sha256,
        readings=readings,
    )


def taken(frames: Sequence[FrameMeasure]) -> str:
    """Return when the first of the frames was shot, as ISO 8601 text; empty where none tells it."""
    times = []
    for frame in frames:
        tag = frame.tags.taken_at
        with suppress(ValueError):
            if tag is not None:
                time = datetime.fromisoformat(str(tag.value)).replace(tzinfo=None, microsecond=0)
                times.append(time.isoformat())
    return min(times, default="")


def _first(frames: Sequence[FrameMeasure], field: str) -> str:
    for frame in frames:
        tag = getattr(frame.tags, field)
        if tag is not None:
            return str(tag.value)
    return ""
