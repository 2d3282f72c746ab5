"""The whole measurement, from a folder of raw frames to a profile."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration import alike
from profiler.calibration.alike import check_one_camera, check_one_group
from profiler.calibration.assemble import identity, tables
from profiler.calibration.assemble.case import Case, make_case
from profiler.calibration.assemble.result import check_actionable, result
from profiler.calibration.exposures import join, join_all, modes_to_fit, require, shot_of
from profiler.calibration.fit.labels import fit_series
from profiler.calibration.fit.trend import find_trends
from profiler.calibration.groups import by_name, group_frames, label_data
from profiler.records import Measurement, Meter
from profiler.results import ProfileData

if TYPE_CHECKING:
    from profiler.files.sheet import Sheet
    from profiler.frames.cache import MeasureCache
    from profiler.frames.measure import Progress


def measure(
    folder: Path,
    sheet: Sheet | None = None,
    *,
    patch: str = "auto",
    allow_8bit: bool = False,
    cache: MeasureCache | None = None,
    preview: Path | None = None,
    threads: int = 2,
    progress: Progress | None = None,
) -> Measurement:
    """Return the measured frames of a folder; nothing is decoded that the cache knows.

    The sheet corrects what files say of themselves, so that equal frames are found. FrameError
    names the first file that can't be measured.
    """
    from profiler.files.sheet import Sheet, check_files, named_as
    from profiler.frames.cache import MeasureCache, read_all_tags, signature_of
    from profiler.frames.decoder import start_decoder
    from profiler.frames.folder import list_frames
    from profiler.frames.measure import measure_frames

    paths = list_frames(folder)
    sheet = sheet or Sheet(name="the sheet", columns=())
    names = [path.name for path in paths]
    check_files(sheet, names)
    sheet, _ = named_as(sheet, names)
    own_cache = cache is None
    cache = cache or MeasureCache()
    try:
        if None in cache.digests(paths):
            start_decoder()  # it loads while tags are read
        shots = []
        signatures = [signature_of(path.stat()) for path in paths]
        tagged = zip(paths, signatures, read_all_tags(paths, cache), strict=True)
        for path, signature, tags in tagged:
            exposure = join(sheet, path.name, tags)
            shots.append(shot_of(path, tags, exposure, signature))
        return measure_frames(
            shots,
            cache,
            patch=patch,
            allow_8bit=allow_8bit,
            jobs=threads,
            preview=preview,
            progress=progress,
        )
    finally:
        if own_cache:
            cache.close()


def fit(
    measurement: Measurement,
    sheet: Sheet,
    *,
    light: str = "other",
    aim: float | None = None,
    meter: Meter | None = None,
    times: str = "best",
) -> ProfileData:
    """Return the profile of a measured series: one result per ISO label and meter mode.

    times: "exact", "as-marked" or "best" (the rule that explains the levels better).
    """
    from profiler.files.sheet import named_as

    meter = meter or Meter()
    aim = standards.AIM_ISO12232_STOPS if aim is None else aim
    measurement = replace(measurement, frames=by_name(measurement.frames))
    sheet, _ = named_as(sheet, [frame.file for frame in measurement.frames])
    exposures = join_all(sheet, measurement.frames)
    modes = modes_to_fit(exposures, sheet)
    require(exposures, sheet.name)
    check_one_camera(measurement.frames, exposures)
    alike.check_one_mosaic(measurement.frames, exposures)
    cases: list[Case] = []
    for mode in modes:
        groups = group_frames(measurement.frames, exposures, mode)
        alike.check_one_depth(groups)
        alike.check_one_phase(groups)
        data = [label_data(group, meter) for group in groups]
        fitted = fit_series(data, times)
        check_one_group(groups, fitted.labels)
        trends = find_trends(
            [np.array(group.order) for group in groups],
            [label.response.kept_deviation_ev for label in fitted.labels],
            [label.time for label in data],
            [label.response.scatter for label in fitted.labels],
        )
        cases += [
            make_case(group, label, fitted, trend, meter)
            for group, label, trend in zip(groups, fitted.labels, trends, strict=True)
        ]
    results = [result(case, light=light, aim_stops=aim) for case in cases]
    results = [replace(each, flags=(*each.flags, *measurement.lost)) for each in results]
    for one, case in zip(results, cases, strict=True):
        check_actionable(one, case)
    gaps = tables.mode_table(results, meter)
    first_mode = [case for case in cases if case.group.mode == cases[0].group.mode]
    return ProfileData(
        camera=identity.camera(measurement.frames),
        lens=identity.lens(measurement.frames),
        meter=identity.meter_identity(meter),
        results=tables.with_mode_doubts(results, gaps),
        shutter=tables.shutter_table(first_mode),
        iso_steps=tables.iso_table(first_mode),
        modes=gaps,
        provenance=identity.provenance(measurement, exposures, sheet),
    )
