"""Measured levels as a CSV table, one row per frame and channel."""

from __future__ import annotations

import csv
import hashlib
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

from profiler.errors import MeasureError
from profiler.files.csv_text import Tell, read_csv, safe_cell
from profiler.flags import KINDS
from profiler.records import (
    ChannelMeasure,
    Flag,
    FrameMeasure,
    FrameTags,
    Masked,
    Measurement,
    Place,
    Tag,
)

_TAGS = ("make", "model", "serial", "lens", "iso", "time_s", "aperture", "taken_at")
_STATISTICS = tuple(f.name for f in fields(ChannelMeasure))
COLUMNS = (
    "file",
    "sha256",
    "pair",
    "cfa",
    *_TAGS,
    "channel",
    *_STATISTICS,
    "black_tag_dn",
    "white_tag_dn",
    "masked_dn",
    "masked_n",
    "masked_sd_dn",
    "masked_cut_share",
    "place",
    "flags",
)
# a published table has one row a frame and a column a channel; other names of the same things
_WIDE = {"R": "R", "G": "G", "G1": "G1", "GR": "G1", "G2": "G2", "GB": "G2", "B": "B", "Y": "Y"}
_WIDE_TAGS = {"time_s": "time_s", "time": "time_s", "f_number": "aperture", "aperture": "aperture"}
_WIDE_TAGS |= {"iso": "iso"}


def write_table(measurement: Measurement) -> str:
    """Return the CSV text of a measurement; numbers keep all their digits."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    for frame in measurement.frames:
        tags = {
            name: getattr(frame.tags, name).value
            for name in _TAGS
            if getattr(frame.tags, name) is not None
        }
        for channel, measure in frame.channels.items():
            row: dict[str, Any] = {"file": frame.file, "sha256": frame.sha256, "pair": frame.pair}
            row |= {"cfa": frame.cfa, "flags": flags_text(frame.flags)}
            row |= tags | {"channel": channel}
            row |= {name: getattr(measure, name) for name in _STATISTICS}
            row["black_tag_dn"] = frame.black_tag_dn.get(channel)
            row["white_tag_dn"] = frame.white_tag_dn.get(channel)
            masked = frame.masked.get(channel)
            if masked is not None:
                row |= {"masked_dn": masked.mean_dn, "masked_n": masked.n}
                row |= {"masked_sd_dn": masked.sd_dn, "masked_cut_share": masked.cut_share}
            if frame.place is not None:
                row["place"] = " ".join(str(part) for part in asdict(frame.place).values())
            cells = {k: safe_cell(v) if isinstance(v, str) else v for k, v in row.items()}
            writer.writerow({k: "" if v is None else v for k, v in cells.items()})
    return out.getvalue()


def read_table(path: Path, tell: Tell | None = None) -> Measurement:
    """Return the measurement in a CSV: the long form of write_table, or one row a frame.

    The second form is what papers print: columns time_s, f_number, iso (any of them) and one
    column of mean levels per channel (R, G or G1 and G2 or Gr and Gb, B, Y).
    """
    mend = "Give a CSV written by: {greytare measure}"
    found = read_csv(path, MeasureError, mend, what="table", tell=tell)
    columns, rows = found.columns, list(found.records())
    if not rows:
        raise MeasureError("the table holds no rows", str(path), "Give one row per frame")
    if "channel" in columns and "mean_dn" in columns:
        return Measurement(frames=_long(rows, path), patch="")
    wide = {name: _WIDE[name.upper()] for name in columns if name.upper() in _WIDE}
    if not wide:
        raise MeasureError(
            f"no column holds levels (columns: {', '.join(columns)})",
            str(path),
            "Name columns of mean raw levels R, G (or G1, G2), B or Y",
        )
    digest = hashlib.sha256(found.text.encode()).hexdigest()
    frames = tuple(
        FrameMeasure(
            file=row.get("file") or f"row {number}",
            sha256=digest,
            tags=_tags({_WIDE_TAGS[k]: row[k] for k in row if k in _WIDE_TAGS}, path, number),
            channels={
                channel: _mean_only(_float(row[name], path, number, name))
                for name, channel in wide.items()
            },
        )
        for number, row in rows
    )
    return Measurement(frames=frames, patch="")


def _long(rows: Sequence[tuple[int, dict[str, str]]], path: Path) -> tuple[FrameMeasure, ...]:
    grouped: dict[str, list[tuple[int, dict[str, str]]]] = {}
    for number, row in rows:
        grouped.setdefault(row.get("file", ""), []).append((number, row))
    frames = []
    for file, group in grouped.items():
        number, first = group[0]
        frames.append(
            FrameMeasure(
                file=file,
                sha256=first.get("sha256", ""),
                tags=_tags({k: first.get(k, "") for k in _TAGS}, path, number),
                channels={row["channel"]: _statistics(row, path, n) for n, row in group},
                black_tag_dn=_column(group, "black_tag_dn", path),
                white_tag_dn=_column(group, "white_tag_dn", path),
                masked={
                    row["channel"]: Masked(
                        n=int(_float(row.get("masked_n"), path, n, "masked_n")),
                        mean_dn=_float(row["masked_dn"], path, n, "masked_dn"),
                        sd_dn=_float(row.get("masked_sd_dn"), path, n, "masked_sd_dn"),
                        cut_share=_float(
                            row.get("masked_cut_share") or "0", path, n, "masked_cut_share"
                        ),
                    )
                    for n, row in group
                    if row.get("masked_dn")
                },
                pair=first.get("pair", ""),
                place=_place(first.get("place") or "", path, number),
                flags=parse_flags(
                    first.get("flags") or "", file, f"{path.name}, row {number}, column flags"
                ),
                cfa=first.get("cfa", ""),
            )
        )
    return tuple(frames)


def _place(text: str, path: Path, number: int) -> Place | None:
    """Middle, width and height of the patch as parts of the frame, parted by blanks."""
    if not text.strip():
        return None
    parts = [_float(part, path, number, "place") for part in text.split()]
    if len(parts) != 4 or not (parts[2] > 0.0 and parts[3] > 0.0):
        raise MeasureError(
            f"{text!r} isn't the middle, width and height of a patch",
            f"{path.name}, row {number}, column place",
            "Write x, y, width and height as parts of the frame, or leave it empty",
        )
    return Place(x=parts[0], y=parts[1], width=parts[2], height=parts[3])


def _column(group: list[tuple[int, dict[str, str]]], name: str, path: Path) -> Mapping[str, float]:
    return {row["channel"]: _float(row[name], path, n, name) for n, row in group if row.get(name)}


def _statistics(row: dict[str, str], path: Path, number: int) -> ChannelMeasure:
    mean = _float(row["mean_dn"], path, number, "mean_dn")
    values: dict[str, Any] = {}
    blank = _mean_only(mean)
    for field in fields(ChannelMeasure):
        text = row.get(field.name) or ""
        if not text:
            values[field.name] = getattr(blank, field.name)
            continue
        value = _float(text, path, number, field.name)
        whole = field.name in ("n", "gap_period", "pair_n", "code_step")
        values[field.name] = int(value) if whole else value
    return ChannelMeasure(**values)


def _mean_only(mean_dn: float) -> ChannelMeasure:
    """A channel of which only the mean was published: no spread, one pixel."""
    return ChannelMeasure(
        n=1,
        mean_dn=mean_dn,
        variance_dn2=0.0,
        neighbour_variance_dn2=0.0,
        gradient=0.0,
        top_dn=mean_dn,
        top_share=0.0,
        low_edge_dn=mean_dn,
        median_dn=mean_dn,
        high_edge_dn=mean_dn,
    )


def _tags(cells: Mapping[str, str], path: Path, number: int) -> FrameTags:
    values: dict[str, Tag] = {}
    for name, text in cells.items():
        if not text:
            continue
        number_like = name in ("iso", "time_s", "aperture")
        value: float | int | str = _float(text, path, number, name) if number_like else text
        values[name] = Tag(value=int(value) if name == "iso" else value, source="table")
    return FrameTags(**values)


def _float(text: str | None, path: Path, number: int, column: str) -> float:
    try:
        value = float(text or "")
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise MeasureError(
            f"{text!r} isn't a number", f"{path.name}, row {number}, column {column}", "Correct it"
        )
    return value


def flags_text(flags: Sequence[Flag]) -> str:
    """Return "name size unit: detail" of each flag, with semicolons between.

    >>> flags_text([Flag(name="eight-bit", size=8.0, unit="bit")])
    'eight-bit 8.0 bit'
    """
    return "; ".join(
        f"{flag.name} {float(flag.size)!r} {flag.unit}"
        + (f": {flag.detail}" if flag.detail else "")
        for flag in flags
    )


def parse_flags(text: str, file: str, where: str) -> tuple[Flag, ...]:
    """Return the flags of a file from the cell that flags_text made; MeasureError for another."""
    return tuple(_flag(part.strip(), file, where) for part in text.split(";") if part.strip())


def _flag(text: str, file: str, where: str) -> Flag:
    head, _, detail = text.partition(": ")
    name, size, unit = (*head.split(" ", 2), "", "")[:3]
    try:
        value = float(size)
    except ValueError:
        value = math.nan
    if name not in KINDS or not math.isfinite(value) or not unit:
        raise MeasureError(
            f"{text!r} isn't a flag with its size", where, "Leave the column as it was measured"
        )
    return Flag(name=name, size=value, unit=unit, where=file, detail=detail)
