"""One or two frames held against the profile: what it predicts, what came."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from profiler import standards
from profiler.calibration.exposures import join
from profiler.errors import FrameError, ProfileError
from profiler.exposure.modes import is_flash
from profiler.exposure.stops import series_of_f_numbers, series_of_times
from profiler.onset import lookup, margins
from profiler.onset.aperture import check_aperture, given_ev, iris_cancels
from profiler.onset.camera import Aperture, CameraSetting, Shutter
from profiler.onset.metered import Metered, read_meter_texts
from profiler.records import Estimate, Flag, FrameMeasure, Measurement
from profiler.results import ProfileData, Result, Source

if TYPE_CHECKING:
    from profiler.calibration.exposures import Exposure

Verdict = Literal["within", "outside", "can't tell"]


@dataclass(frozen=True, kw_only=True)
class CheckedChannel:
    """One channel of one frame: levels in DN with black in, and their difference in EV.

    deviation_ev None where the level lies too near to black or to clip to tell.
    """

    expected_dn: float
    found_dn: float
    deviation_ev: float | None


@dataclass(frozen=True, kw_only=True)
class CheckedFrame:
    """One frame: its setting, its predicted placement, its channels; deviation_ev their mean."""

    file: str
    iso: int
    setting: str
    placement_ev: float
    channels: Mapping[str, CheckedChannel]
    deviation_ev: float | None


@dataclass(frozen=True, kw_only=True)
class Check:
    """Whether the frames came out as the profile says.

    deviation_ev: mean over the frames, more light than predicted positive, with the 95 % interval
    that prediction with measurement leave about zero deviation: within where it holds zero.
    flags: of the result that predicted.
    """

    iso: int
    mode: str
    light: str
    metered: Metered
    frames: tuple[CheckedFrame, ...]
    deviation_ev: Estimate | None
    verdict: Verdict
    profile_created: str
    profile_taken: str
    profile_age_days: int | None
    flags: tuple[Flag, ...] = ()


def measure_for_check(
    paths: Sequence[Path], *, patch: str = "auto", allow_8bit: bool = False
) -> Measurement:
    """Return the measured patches of a few frames, wherever they lie."""
    from profiler.frames.cache import MeasureCache, read_all_tags, signature_of
    from profiler.frames.decoder import undecodable
    from profiler.frames.measure import measure_frames
    from profiler.frames.series_patch import Shot

    for path in paths:
        if not path.is_file():
            raise FrameError("there is no such file", str(path), "Give one or two raw frames")
    names = [path.name for path in paths]
    twice = len(set(names)) < len(names)
    cache = MeasureCache()
    try:
        shots = []
        signatures = [signature_of(path.stat()) for path in paths]
        tagged = zip(paths, signatures, read_all_tags(paths, cache), strict=True)
        for path, signature, tags in tagged:
            exposure = _exposure(path.name, tags)
            file = str(path) if twice else path.name
            shots.append(
                Shot(
                    path=path,
                    file=file,
                    tags=tags,
                    alike=exposure.alike,
                    light=exposure.light,
                    signature=signature,
                )
            )
        measured = measure_frames(shots, cache, patch=patch, allow_8bit=allow_8bit)
    finally:
        cache.close()
    for flag in measured.lost:
        raise undecodable(flag.where, flag.detail)
    return measured


def check(
    data: ProfileData,
    measurement: Measurement,
    reading: str | Sequence[str],
    *,
    mode: str | None = None,
    light: str | None = None,
    lost_ev: float = 0.0,
    now: datetime | None = None,
) -> Check:
    """Return how far measured frames lie from what the profile predicts for a reading.

    Predicted level: black + metered 2^x, x = EV100 + log2(S/100) - given. The deviations of the
    channels share the frame's own error, so they are averaged, not added up. The margin holds the
    profile's, today's reading's, the shutter's (less with two frames) and the iris's.
    """
    exposures = [_exposure(frame.file, frame.tags) for frame in measurement.frames]
    isos = {e.iso for e in exposures}
    if len(isos) > 1 or None in isos:
        raise FrameError(
            "the frames are of several ISO labels, or say none",
            ", ".join(frame.file for frame in measurement.frames),
            "Check one ISO label at a time",
        )
    iso = int(next(iter(isos)) or 0)
    for frame in measurement.frames:
        _check_body(data, frame)
    aperture = next((e.f_number for e in exposures if e.f_number), None)
    result = lookup.find(data, iso, mode, light, aperture)
    metered = read_meter_texts(
        reading, result.mode, lookup.meter_of(data), held=lookup.modes_of(data)
    )
    frames = [
        _frame(frame, exposure, exposures, result, metered, lost_ev)
        for frame, exposure in zip(measurement.frames, exposures, strict=True)
    ]
    deviations = [f.deviation_ev for f in frames if f.deviation_ev is not None]
    estimate = None
    verdict: Verdict = "can't tell"
    if deviations:
        iris = any(not iris_cancels(result, e.f_number) for e in exposures)
        rows = tuple(
            row for row in margins.profile_rows(result, iris=iris) if row.source != Source.CLIP
        )
        rows += margins.frame_rows(result, iris=iris, frames=len(deviations)) + metered.rows()
        estimate = margins.estimate(math.fsum(deviations) / len(deviations), rows)
        verdict = "within" if estimate.low <= 0.0 <= estimate.high else "outside"
    return Check(
        iso=iso,
        mode=result.mode,
        light=result.light,
        metered=metered,
        frames=tuple(frames),
        deviation_ev=estimate,
        verdict=verdict,
        profile_created=data.provenance.created,
        profile_taken=data.provenance.taken,
        profile_age_days=_age_days(data.provenance.taken, now),
        flags=result.flags,
    )


def _frame(
    frame: FrameMeasure,
    exposure: Exposure,
    all_exposures: Sequence[Exposure],
    result: Result,
    metered: Metered,
    lost_ev: float,
) -> CheckedFrame:
    flash = is_flash(result.mode)
    if exposure.f_number is None or (exposure.time_s is None and not flash):
        raise FrameError(
            "the file doesn't say its time and aperture",
            frame.file,
            "Check with a frame whose lens tells the aperture to the body",
        )
    check_aperture(result, exposure.f_number, frame.file)
    times = [e.time_s for e in all_exposures if e.time_s is not None]
    measured_s = [f.time_s for f in result.frames if f.time_s is not None]
    marks = series_of_times(measured_s or times)
    f_marks = series_of_f_numbers([e.f_number for e in all_exposures if e.f_number is not None])
    word = "T" if result.measured_by_t_stop else "f"
    aperture = Aperture(marked=exposure.f_number, word="f")
    if word == "T":
        raise ProfileError(
            "the profile was measured by T-stops, the file tells an f-number",
            frame.file,
            "Check by a series of its own: {greytare measure}, then {greytare fit}",
        )
    exact = Aperture(marked=aperture.exact(f_marks), computed=True)
    shutter = None if exposure.time_s is None else Shutter(marked_s=exposure.time_s)
    given = given_ev(
        CameraSetting(aperture=exact, shutter=shutter),
        result,
        lost_ev=lost_ev,
        flash=flash,
        series=marks,
    )
    x = metered.ev100 + math.log2(result.iso / 100.0) - given
    channels = {}
    for name, known in result.channels.items():
        if name not in frame.channels:
            raise ProfileError(
                f"the frame has no channel {name}", frame.file, "Give a frame of the same body"
            )
        found = frame.channels[name]
        span = known.clip_dn - known.black_dn
        signal = found.mean_dn - known.black_dn
        expected = known.metered_dn * math.exp2(x)
        clear = (
            found.high_edge_dn < known.clip_dn - max(1.0, 0.0005 * known.clip_dn)
            and signal >= standards.LINE_LOW_FRACTION * span
        )
        channels[name] = CheckedChannel(
            expected_dn=known.black_dn + min(expected, span),
            found_dn=found.mean_dn,
            deviation_ev=math.log2(signal / expected) if clear else None,
        )
    told = [c.deviation_ev for c in channels.values() if c.deviation_ev is not None]
    return CheckedFrame(
        file=frame.file,
        iso=result.iso,
        setting=CameraSetting(aperture=aperture, shutter=shutter).label,
        placement_ev=x,
        channels=channels,
        deviation_ev=math.fsum(told) / len(told) if told else None,
    )


def _exposure(file: str, tags: object) -> Exposure:
    from profiler.files.sheet import Sheet

    return join(Sheet(name="", columns=()), file, tags)  # type: ignore[arg-type]


def _check_body(data: ProfileData, frame: FrameMeasure) -> None:
    """ProfileError where the frame is of another body."""
    for field in ("make", "model", "serial"):
        known = getattr(data.camera, field)
        tag = getattr(frame.tags, field)
        if known and tag is not None and str(tag.value) != known:
            raise ProfileError(
                f"the frame's {field} is {tag.value}, the profile's is {known}",
                frame.file,
                "Give a frame of the body that the profile was made for",
            )


def _age_days(taken: str, now: datetime | None) -> int | None:
    """Days since the frames were shot, whenever they were fitted; None where that is unknown."""
    try:
        shot = datetime.fromisoformat(taken)
    except ValueError:
        return None
    if shot.tzinfo is None:
        shot = shot.replace(tzinfo=UTC)
    return max(0, ((now or datetime.now(UTC)) - shot).days)
