"""A simulated series as the records that its files would give, without any file."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from profiler.files.sheet import Sheet, parse_sheet
from profiler.frames.cfa import cfa_text, period
from profiler.frames.masked import masked_of
from profiler.frames.samples import Samples, split_channels
from profiler.frames.statistics import measure_channels, variance_of_pair
from profiler.records import FrameMeasure, FrameTags, Measurement, Mosaic, Place, Tag
from profiler.simulate.levels import black_tag_dn, white_tag_dn
from profiler.simulate.marks import marked_value
from profiler.simulate.pixels import render_frame
from profiler.simulate.series import SeriesSpec, Shot
from profiler.simulate.write import SHEET_COLUMNS, file_names, sheet_rows


def frame_record(spec: SeriesSpec, index: int) -> Mosaic:
    """Return the visible pixels of one frame in DN with its tags' levels and masked border.

    Faults of the file itself, such as damage or curve coding, aren't in it.
    """
    body, effects = spec.body, spec.effects
    top, left = body.masked_top, body.masked_left
    whole = render_frame(spec, index)
    masked = {}
    if top or left:
        names = np.array(body.pattern)
        rows = (np.arange(whole.shape[0]) - top) % len(names)
        columns = (np.arange(whole.shape[1]) - left) % len(names)
        channel = names[rows[:, None], columns[None, :]]
        channel[top:, left:] = ""
        for name in body.channels:
            codes = whole[channel == name].astype(np.float64)
            masked[name] = masked_of(codes)
    return Mosaic(
        values_dn=whole[top:, left:],
        cfa=body.pattern,
        black_tag_dn=black_tag_dn(body, spec.shots[index].iso, effects),
        white_tag_dn=dict.fromkeys(body.channels, float(white_tag_dn(body, effects))),
        masked=masked,
    )


def measure_in_memory(spec: SeriesSpec, part: float = 0.5) -> tuple[Measurement, Sheet]:
    """Return the series measured without any file, with its sheet.

    The patch is the middle `part` of the frame's width and height. Tags are those that the files
    would carry where all goes well; equal frames that follow each other make pairs.
    """
    names = file_names(spec)
    frames: list[FrameMeasure] = []
    waiting: tuple[Shot, dict[str, Samples]] | None = None
    for index, (shot, name) in enumerate(zip(spec.shots, names, strict=True)):
        mosaic = frame_record(spec, index)
        samples = split_channels(_middle(mosaic, part), mosaic.cfa)
        frame = FrameMeasure(
            file=name,
            sha256=f"{spec.seed}/{index}",
            tags=_tags(spec, shot),
            channels=measure_channels(samples, period(mosaic.cfa)[0]),
            black_tag_dn=mosaic.black_tag_dn,
            white_tag_dn=mosaic.white_tag_dn,
            masked=mosaic.masked,
            place=Place(x=0.5, y=0.5, width=part, height=part),
            cfa=cfa_text(mosaic.cfa),
        )
        if waiting is not None and _alike(waiting[0], shot):
            pairs = variance_of_pair(waiting[1], samples)
            frames[-1] = _paired(frames[-1], frame.file, pairs)
            frame = _paired(frame, frames[-1].file, pairs)
            waiting = None
        else:
            waiting = (shot, samples)
        frames.append(frame)
    rows = sheet_rows(spec)
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, SHEET_COLUMNS, restval="")
    writer.writeheader()
    writer.writerows(rows)
    measurement = Measurement(frames=tuple(frames), patch=f"middle {part:g}")
    return measurement, parse_sheet(out.getvalue(), "sheet.csv")


def _alike(a: Shot, b: Shot) -> bool:
    """Whether two shots look equal to who only knows what the files say."""
    return (a.iso, a.time, a.aperture, a.dark) == (b.iso, b.time, b.aperture, b.dark)


def _middle(mosaic: Mosaic, part: float) -> NDArray[np.uint16]:
    """The middle of the frame, cut on whole periods of the colour mosaic."""
    step = (len(mosaic.cfa), len(mosaic.cfa[0]))
    cuts = []
    for size, whole in zip(mosaic.values_dn.shape, step, strict=True):
        length = int(size * part) // whole * whole
        start = (size - length) // 2 // whole * whole
        cuts.append(slice(start, start + length))
    return mosaic.values_dn[cuts[0], cuts[1]]


def _tags(spec: SeriesSpec, shot: Shot) -> FrameTags:
    def tag(value: object) -> Tag:
        return Tag(value=value, source="simulated")

    return FrameTags(
        make=tag(spec.body.make),
        model=tag(spec.body.model),
        serial=tag(spec.body.serial),
        lens=tag(spec.body.lens if shot.lens is None else shot.lens),
        iso=tag(shot.iso),
        time_s=tag(marked_value(shot.time)),
        aperture=tag(float(shot.aperture)),
    )


def _paired(frame: FrameMeasure, other: str, pairs: dict[str, tuple[int, float]]) -> FrameMeasure:
    channels = {
        name: replace(c, pair_n=pairs[name][0], temporal_variance_dn2=pairs[name][1])
        for name, c in frame.channels.items()
    }
    return replace(frame, pair=other, channels=channels)
