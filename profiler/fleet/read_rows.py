"""Rows of the table from saved profiles and the details beside them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from profiler.errors import ProfileError
from profiler.exposure.modes import constant_for_mode
from profiler.files.profile import load_profile
from profiler.fleet.batch.store import PROFILE, read_about
from profiler.fleet.details import Details, check_date, details_from_dict
from profiler.fleet.rows import Row, order
from profiler.records import Meter
from profiler.results import ProfileData, Result, Source


def profile_rows(path: Path, *, below: Path, assets: Mapping[str, str] | None = None) -> list[Row]:
    """Return one row per result of a profile, with the details that lie beside it."""
    return rows_of(load_profile(path), path, below=below, assets=assets)


def rows_of(
    profile: ProfileData, path: Path, *, below: Path, assets: Mapping[str, str] | None = None
) -> list[Row]:
    """Return one row per result of the profile that was read from `path`."""
    about = read_about(path) or {}
    details = details_from_dict(about.get("details", {}), str(path))
    series = path.relative_to(below).as_posix().removesuffix(PROFILE)
    meter = Meter(**vars(profile.meter))
    who: dict[str, Any] = {
        "asset_tag": (assets or {}).get(profile.camera.serial, "") or details.tag,
        "camera_make": profile.camera.make,
        "camera_model": profile.camera.model,
        "camera_serial": profile.camera.serial,
        "lens_model": profile.lens.model,
        "meter_make": meter.make,
        "meter_model": meter.model,
        "meter_serial": meter.serial,
        "date": details.date or profile.provenance.taken[:10],
        "state": details.state,
        "session": details.session,
        "card": details.card,
        "series": series,
        "meter_certificate": details.meter_certificate,
        "meter_due": details.meter_due,
        "stale": str(about.get("stale", "")),
    }
    if who["date"]:
        check_date(who["date"], str(path))
    rows = [_row(result, meter, who, details, path) for result in profile.results]
    try:
        "".join(str(cell) for row in rows for cell in order(row)).encode()
    except (UnicodeError, RecursionError) as error:
        raise ProfileError(
            f"it holds what can't be shown ({type(error).__name__})", str(path), "Fit it anew"
        ) from error
    return rows


def _row(result: Result, meter: Meter, who: dict[str, Any], details: Details, path: Path) -> Row:
    try:
        constant = constant_for_mode(result.mode, meter)
    except ValueError as error:
        raise ProfileError(str(error), str(path), "Fit the series again") from error
    share = {source.source: source.contribution_ev for source in result.budget}
    floor = result.footroom_ev
    numbers: dict[str, Any] = {}
    for stem, number in (
        ("offset", result.offset_ev),
        ("clip_headroom", result.clip_headroom_ev),
        ("linear_headroom", result.linear_headroom_ev),
        ("footroom_snr1", None if floor is None else floor.snr1),
        ("footroom_snr10", None if floor is None else floor.snr10),
        ("footroom_snr40", None if floor is None else floor.snr40),
    ):
        numbers[f"{stem}_ev"] = None if number is None else number.value
        for name in ("u", "low", "high"):
            numbers[f"{stem}_{name}_ev"] = None if number is None else getattr(number, name)
    for stem, span in (
        ("exposure_index", result.exposure_index),
        ("saturation_speed", result.saturation_speed),
    ):
        numbers |= {stem: span.value, f"{stem}_low": span.low, f"{stem}_high": span.high}
    return Row(
        **who,
        **numbers,
        mode=result.mode,
        light=result.light,
        iso=result.iso,
        aim_stops=result.aim_stops,
        lower_bound=result.clip_headroom_ev.lower_bound,
        linear_lower_bound=result.linear_headroom_ev.lower_bound,
        first_to_clip=result.first_to_clip,
        effective_dof=result.effective_dof,
        frame_scatter_ev=result.frame_scatter_ev,
        frames=sum(frame.used for frame in result.frames),
        meter_constant=constant,
        shared_repeatability_ev=share.get(Source.METER_REPEATABILITY, 0.0),
        shared_resolution_ev=share.get(Source.METER_RESOLUTION, 0.0),
        shared_calibration_ev=share.get(Source.METER_CALIBRATION, 0.0),
        shared_card_ev=share.get(Source.CARD_REFLECTANCE, 0.0),
        flags=";".join(sorted({flag.name for flag in result.flags})),
    )
