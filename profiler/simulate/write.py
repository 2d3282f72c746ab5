"""A simulated series on disk: raw files, the sheet, the answer key."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from profiler.errors import GreytareError
from profiler.files.atomic import finish, new_part, sweep_once, write_whole
from profiler.files.regular import read_text
from profiler.simulate.dng import ExifFields, write_dng
from profiler.simulate.levels import black_tag_dn, white_tag_dn
from profiler.simulate.marks import true_aperture
from profiler.simulate.pixels import render_frame
from profiler.simulate.scene import metered_ev100, reading_text
from profiler.simulate.sensor import CFA_ROWS
from profiler.simulate.series import SeriesSpec, Shot
from profiler.simulate.truth import truth

SHEET_NAME: Final = "sheet.csv"
TRUTH_NAME: Final = "truth.json"
# fmt: off
SHEET_COLUMNS: Final = (
    "file", "reading", "mode", "iso", "time", "aperture", "t_stop", "nd_stops", "use", "note",
)
# fmt: on
_FIRST_FRAME_AT: Final = datetime(2026, 1, 5, 10, 0, 0)
_BETWEEN_FRAMES: Final = timedelta(seconds=20)
_TRUNCATED_SHARE: Final = 0.6


@dataclass(frozen=True, kw_only=True)
class SeriesFiles:
    """Where a written series lies."""

    folder: Path
    frames: tuple[Path, ...]
    sheet: Path
    truth: Path


def write_series(
    spec: SeriesSpec,
    out_dir: Path,
    progress: Callable[[int, int], None] | None = None,
    *,
    overwrite: bool = False,
    with_key: bool = True,
) -> SeriesFiles:
    """Write the raw files, sheet.csv with truth.json into a folder; return where they lie.

    with_key: whether truth.json, which tells what is wrong, is written at all.

    progress(done, total) is called after each frame. A folder that holds anything is refused with
    GreytareError unless `overwrite`, which takes the frames of an earlier series away first.
    """
    names = file_names(spec)
    paths = tuple(out_dir / name for name in names)
    sheet, key = out_dir / SHEET_NAME, out_dir / TRUTH_NAME
    with _said_in_one_sentence(out_dir):
        _make_room(out_dir, overwrite)
        for index, path in enumerate(paths):
            path.parent.mkdir(parents=True, exist_ok=True)
            sweep_once(path.parent)
            with new_part(path.parent) as (part, stream):
                write_frame(spec, index, part)
                finish(part, stream, path, replace=overwrite)
            if progress is not None:
                progress(index + 1, len(paths))
        table = io.StringIO(newline="")
        writer = csv.DictWriter(table, SHEET_COLUMNS, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(sheet_rows(spec))
        write_whole(sheet, table.getvalue(), replace=overwrite)
        if with_key:
            text = json.dumps(truth(spec, names), indent=1, allow_nan=False)
            write_whole(key, text + "\n", replace=overwrite)
    return SeriesFiles(folder=out_dir, frames=paths, sheet=sheet, truth=key)


@contextmanager
def _said_in_one_sentence(folder: Path) -> Iterator[None]:
    """Inside the block a full disk or a missing right becomes a GreytareError."""
    try:
        yield
    except OSError as error:
        raise GreytareError(
            f"the series can't be written ({error.strerror or error})",
            str(folder),
            "Check the disk's free space and your right to write there",
        ) from error


def file_names(spec: SeriesSpec) -> tuple[str, ...]:
    """Return the name of each frame under the series folder: IMG_0001.dng and so on."""
    return tuple(
        shot.file or f"IMG_{number:04d}.dng" for number, shot in enumerate(spec.shots, start=1)
    )


def sheet_rows(spec: SeriesSpec) -> list[dict[str, str]]:
    """Return the sheet's rows: `*` with the reading in each mode, or one row for each frame."""
    names = file_names(spec)
    lit = [index for index, shot in enumerate(spec.shots) if not shot.dark]
    modes = list(zip(spec.modes, spec.written_modes, strict=True))
    rows: list[dict[str, str]] = []
    for mode, written in modes:
        if spec.frame_readings:
            rows += [
                {"file": names[i], "reading": _reading(spec, spec.shots[i], mode), "mode": written}
                | _typed(spec, spec.shots[i])
                for i in lit
            ]
        else:
            typed = [_typed(spec, spec.shots[i]) for i in lit]
            same = typed[0] if all(t == typed[0] for t in typed) else {}
            rows += [
                {"file": "*", "reading": _reading(spec, None, mode, error), "mode": written} | same
                for error in spec.reading_errors_ev
            ]
            if not same and mode == spec.modes[0]:
                rows += [{"file": names[i]} | t for i, t in zip(lit, typed, strict=True) if t]
    rows += [
        {"file": names[i], "reading": "dark", "note": shot.note}
        for i, shot in enumerate(spec.shots)
        if shot.dark
    ]
    return rows


def write_frame(spec: SeriesSpec, index: int, path: Path) -> None:
    """Render one frame with its tags into a DNG file, then damage the file if the shot says so."""
    shot, body, effects = spec.shots[index], spec.body, spec.effects
    pixels = render_frame(spec, index)
    if shot.damage == "zeros":
        pixels[:] = 0
    top, left, table = body.masked_top, body.masked_left, None
    if effects.curve_bits:
        pixels, table = _curve_coded(pixels, body.top_code_dn, effects.curve_bits)
    if effects.linear_dng:
        pixels, top, left = _three_samples(pixels[top:, left:], body.cfa), 0, 0
    write_dng(
        path,
        pixels,
        pattern=body.pattern,
        bits=body.bits,
        black_dn=black_tag_dn(body, shot.iso, effects),
        white_dn=white_tag_dn(body, effects),
        exif=_exif(spec, shot, index),
        masked_left=left,
        masked_top=top,
        masked_tag=body.masked_tag,
        compression=spec.compression,
        linearization=table,
    )
    if shot.damage in ("truncated", "half"):
        whole = path.read_bytes()
        cut = int(len(whole) * (_TRUNCATED_SHARE if shot.damage == "truncated" else 0.5))
        rest = b"" if shot.damage == "truncated" else bytes(len(whole) - cut)
        path.write_bytes(whole[:cut] + rest)


def _make_room(folder: Path, overwrite: bool) -> None:
    if folder.exists() and not folder.is_dir():
        raise GreytareError("this is a file, not a folder", str(folder), "Name another folder")
    if folder.is_dir() and any(folder.iterdir()):
        if not overwrite:
            raise GreytareError(
                "the folder isn't empty",
                str(folder),
                "Name a new folder, or allow it to be overwritten",
            )
        earlier = folder / TRUTH_NAME
        if earlier.is_file():
            try:
                names = [str(frame["file"]) for frame in json.loads(read_text(earlier))["frames"]]
            except (OSError, ValueError, KeyError, TypeError) as exc:
                raise GreytareError(
                    "the answer key of the earlier series can't be read",
                    str(earlier),
                    "Take the old files away by hand",
                ) from exc
            for name in names:
                if (folder / name).resolve().is_relative_to(folder.resolve()):
                    (folder / name).unlink(missing_ok=True)
    folder.mkdir(parents=True, exist_ok=True)


def _reading(spec: SeriesSpec, shot: Shot | None, mode: str, error: float = 0.0) -> str:
    ev100 = metered_ev100(spec.scene, spec.meter, mode)
    if shot is not None:
        ev100 += shot.power_ev + (shot.light_ev if spec.read_anew else 0.0)
        error = shot.reading_error_ev
    return reading_text(ev100 + spec.meter.strays_ev(ev100) + error, mode, spec.meter.resolution_ev)


def _typed(spec: SeriesSpec, shot: Shot) -> dict[str, str]:
    """Return what the photographer typed beside the reading."""
    typed = {"time": shot.sheet_time, "aperture": shot.sheet_aperture, "note": shot.note}
    if spec.lens_loss_in_sheet:
        f_number = true_aperture(shot.aperture, spec.aperture_rule)
        typed["t_stop"] = f"{f_number * math.sqrt(2.0**spec.lens_loss_ev):.4f}"
    return {key: value for key, value in typed.items() if value}


def _exif(spec: SeriesSpec, shot: Shot, index: int) -> ExifFields:
    taken = _FIRST_FRAME_AT + index * _BETWEEN_FRAMES
    return ExifFields(
        make=spec.body.make,
        model=shot.model or spec.body.model,
        serial=shot.serial or spec.body.serial,
        lens=spec.body.lens if shot.lens is None else shot.lens,
        iso=shot.iso if shot.tag_iso is None else shot.tag_iso,
        reference_iso=shot.reference_iso,
        time=_rational(shot.time) if shot.tag_time is None else shot.tag_time,
        f_number=_rational(shot.aperture) if shot.tag_aperture is None else shot.tag_aperture,
        taken=f"{taken:%Y:%m:%d %H:%M:%S}",
    )


def _rational(mark: str) -> str:
    value = Fraction(mark)
    return f"{value.numerator}/{value.denominator}"


def _curve_coded(
    pixels: NDArray[np.uint16], top_dn: int, bits: int
) -> tuple[NDArray[np.uint16], NDArray[np.uint16]]:
    """Return square-root codes with the table that leads back: lossy, as some raws are."""
    last = (1 << bits) - 1
    table = np.rint((np.arange(last + 1) / last) ** 2 * top_dn).astype(np.uint16)
    codes = np.rint(np.sqrt(np.arange(top_dn + 1) / top_dn) * last).astype(np.uint16)
    stored: NDArray[np.uint16] = codes[pixels]
    return stored, table


def _three_samples(active: NDArray[np.uint16], cfa: str) -> NDArray[np.uint16]:
    """Return red, green, blue for each pixel of the active area: block means, repeated."""
    pattern = CFA_ROWS[cfa]
    side = 3 if cfa == "XTRANS" else len(pattern)
    rows, columns = (n // len(pattern) * len(pattern) for n in active.shape)
    blocks = active[:rows, :columns].astype(np.float32)
    names = np.array([[name[0] for name in row] for row in pattern])
    where = np.tile(names, (rows // len(pattern), columns // len(pattern)))
    samples = []
    for colour in "RGB":
        mine = (where == colour) | (where == "Y")
        shape = (rows // side, side, columns // side, side)
        total = (blocks * mine).reshape(shape).sum(axis=(1, 3))
        mean = total / mine.reshape(shape).sum(axis=(1, 3))
        samples.append(np.repeat(np.repeat(mean, side, axis=0), side, axis=1))
    whole: NDArray[np.uint16] = np.rint(np.stack(samples, axis=-1)).astype(np.uint16)
    return whole
