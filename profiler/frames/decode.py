"""Raw values of a frame straight from the file."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.errors import FrameError
from profiler.files.regular import open_regular
from profiler.frames.cfa import (
    MONO,
    Cfa,
    channels,
    name_letters,
    parse_cfa,
    period,
    phases,
    smallest_period,
)
from profiler.frames.dng_truncation import missing_share
from profiler.frames.folder import (
    PLANE_SUFFIXES,
    PREVIEW_SUFFIX,
    RAW_SUFFIXES,
    check_frame,
    list_frames,
)
from profiler.frames.gaps import eight_bit_flags
from profiler.frames.integrity import check_values, gap_share, white_is_known
from profiler.frames.masked import Active, masked_levels
from profiler.frames.planes import read_plane
from profiler.frames.tags import NativeTags, lossy_coding, states_black
from profiler.frames.watch import watched
from profiler.records import Flag, Mosaic

__all__ = [
    "PREVIEW_SUFFIX",
    "RAW_SUFFIXES",
    "RawMosaic",
    "list_frames",
    "open_mosaic",
]

_CFA_SAMPLE_PX: Final = 32  # holds the longest array in use, 16 x 16, twice
_GAP_SAMPLE_PX: Final = 1024


@dataclass(frozen=True, kw_only=True)
class RawMosaic(Mosaic):
    """A mosaic with what the raw decoder says besides.

    sha256: of the bytes that were decoded, in hex. A "linear maximum" in the file isn't read: one
    maker means specular white by it, another the end of the straight line.
    """

    sha256: str = ""
    native: NativeTags = field(default_factory=NativeTags)


@contextmanager
def open_mosaic(
    path: str | Path, cfa: str | None = None, *, allow_8bit: bool = False
) -> Iterator[RawMosaic]:
    """The raw values of one frame, in DN, as a view that holds the decoder's own memory.

    No black is taken off, nothing scaled or developed. cfa: colour filter array of a TIFF or PNG
    mosaic ("RGGB", "MONO", rows with / between), which raw files say themselves. allow_8bit: take
    8-bit values, flagged "eight-bit", instead of refusing them; such a TIFF or PNG clips at 255.
    Keep no reference to values_dn beyond the block: it keeps the whole frame in memory.

    Raises FrameError where the file holds no linear mosaic or is damaged.
    """
    path = Path(path)
    content = _content(path)
    with watched(path, len(content)):
        if path.suffix.lower() in PLANE_SUFFIXES:
            mosaic = _read_plane(path, content, cfa, allow_8bit)
        else:
            mosaic = _read_raw(path, content, allow_8bit)
    yield mosaic


def _content(path: Path) -> bytes:
    """The bytes of the file, read once: they are hashed, checked and decoded."""
    if not path.exists():
        raise FrameError("there is no such file", str(path), "Check the name and the folder")
    check_frame(path)
    with open_regular(path) as stream:
        content = stream.read()
    if not content:
        raise FrameError("the file is empty", path.name, "Copy it from the card again")
    missing = missing_share(content)
    if missing > 0.0:
        raise FrameError(
            f"the file is cut short or damaged: {max(1.0, 100.0 * missing):.0f} % of its pixels "
            "are missing",
            path.name,
            "Copy it from the card again, or leave the frame out",
        )
    return content


def _read_raw(path: Path, content: bytes, allow_8bit: bool) -> RawMosaic:
    """The mosaic of a camera raw file; LibRaw's complaints become FrameErrors."""
    raw = _unpack(path, content)
    readout_dn: NDArray[np.uint16] = raw.raw_image
    sizes = raw.sizes
    active = Active(sizes.top_margin, sizes.left_margin, sizes.height, sizes.width)
    values_dn = raw.raw_image_visible
    cfa, indices = _cfa_of(raw, active, path.name)
    white_dn = float(raw.white_level)
    blacks_dn = [float(b) for b in raw.black_level_per_channel]
    top_dn = white_dn if white_is_known(white_dn) else 65535.0
    flags = [*eight_bit_flags(values_dn, top_dn, path.name, allow=allow_8bit)]
    lowest_black_dn = min(blacks_dn[k] for k in indices.values())
    check_values(values_dn, period(cfa), lowest_black_dn, white_dn, path.name)
    flags += _coding_flags(values_dn, cfa, path)
    return RawMosaic(
        values_dn=values_dn,
        cfa=cfa,
        black_tag_dn=_black_tag({name: blacks_dn[k] for name, k in indices.items()}, path),
        white_tag_dn=dict.fromkeys(indices, white_dn) if white_is_known(white_dn) else {},
        masked=masked_levels(readout_dn, active, cfa, lowest_black_dn, white_dn),
        flags=tuple(flags),
        sha256=hashlib.sha256(content).hexdigest(),
        native=_native_tags(raw, white_dn),
    )


def _unpack(path: Path, content: bytes) -> Any:
    """LibRaw's handle on the file with its values decoded; FrameError where they aren't a mosaic.

    The handle is never closed by hand: its memory goes with the last view of it, not before.
    """
    import rawpy

    raw = rawpy.RawPy()
    try:
        raw.open_buffer(io.BytesIO(content))
        raw.unpack()
        flat = raw.raw_type == rawpy.RawType.Flat
    except rawpy.LibRawFileUnsupportedError as exc:
        if path.suffix.lower() not in RAW_SUFFIXES:
            raise FrameError(
                "this isn't a raw frame", path.name, "Give a raw file as the camera wrote it"
            ) from exc
        raise FrameError(
            "this isn't a raw file that LibRaw knows, or its end is missing",
            path.name,
            "Copy it from the card again; for a newer camera convert it to an uncompressed DNG",
        ) from exc
    except (rawpy.LibRawIOError, rawpy.LibRawDataError) as exc:
        raise FrameError(
            "the file is cut short or damaged: its pixels can't be read to the end",
            path.name,
            "Copy it from the card again, or leave the frame out",
        ) from exc
    except rawpy.LibRawUnsufficientMemoryError as exc:
        raise MemoryError(path) from exc
    except (rawpy.LibRawError, rawpy.NotSupportedError, RuntimeError) as exc:
        reason = exc.args[0].decode() if exc.args and isinstance(exc.args[0], bytes) else str(exc)
        raise FrameError(
            f"LibRaw can't decode it ({reason or type(exc).__name__})",
            path.name,
            "Leave the frame out, or convert it to an uncompressed DNG",
        ) from exc
    if not flat:
        raise FrameError(
            "it holds developed colour (several values in each pixel), not the sensor's own values",
            path.name,
            "Record full-size raw files, and convert none of them to linear DNG",
        )
    return raw


def _cfa_of(raw: Any, active: Active, where: str) -> tuple[Cfa, dict[str, int]]:
    """Channel names of one period from the first visible pixel, and LibRaw's index of each channel.

    Asks for the colour pixel by pixel: of rawpy's calls (0.28) only this one is right for arrays of
    6 x 6 when the image has margins.
    """
    if raw.num_colors == 1:
        return MONO, {"Y": 0}
    rows, columns = min(_CFA_SAMPLE_PX, active.height), min(_CFA_SAMPLE_PX, active.width)
    sample = np.array(
        [
            [raw.raw_color(active.top + i, active.left + j) for j in range(columns)]
            for i in range(rows)
        ]
    )
    letters = raw.color_desc.decode("ascii", "replace")
    tile = smallest_period(sample)
    known = tile is not None and sample.max() < len(letters)
    names = {letters[k] for row in sample.tolist() for k in row} if known else set()
    if tile is None or names != set("RGB"):
        found = "/".join(sorted(names)) or "unknown"
        raise FrameError(
            f"its colour filter array ({found}) isn't one of red, green, blue",
            where,
            "Use frames of a Bayer, a longer red-green-blue or a monochrome sensor",
        )
    indices = sample[: tile[0], : tile[1]]
    cfa = name_letters([[letters[k] for k in row] for row in indices])
    by_name = {name: int(indices[phases(cfa, name)[0]]) for name in channels(cfa)}
    return cfa, by_name


def _black_tag(blacks_dn: dict[str, float], path: Path) -> dict[str, float]:
    """Black as the decoder knows it; its zero may stand for none, and counts only where stated."""
    known = any(level != 0.0 for level in blacks_dn.values()) or states_black(path)
    return blacks_dn if known else {}


def _coding_flags(
    values_dn: NDArray[np.uint16], cfa: Cfa, path: Path, told: str = ""
) -> list[Flag]:
    """A flag where the metadata or gaps between codes betray a lossy or curved coding."""
    high, wide = period(cfa)
    name = "Y" if cfa == MONO else "G1" if "G1" in channels(cfa) else "G"
    i, j = phases(cfa, name)[0]
    height, width = values_dn.shape
    top = max(0, height - _GAP_SAMPLE_PX) // 2 // high * high
    left = max(0, width - _GAP_SAMPLE_PX) // 2 // wide * wide
    centre = values_dn[
        top + i : top + _GAP_SAMPLE_PX : high, left + j : left + _GAP_SAMPLE_PX : wide
    ]
    share = gap_share(centre)
    admitted = told or lossy_coding(path)
    if not admitted and share < standards.LOSSY_GAP_SHARE:
        return []
    detail = f"stored with {admitted}" if admitted else "codes are left out unevenly"
    return [Flag(name="lossy-coding", size=share, unit="of codes", where=path.name, detail=detail)]


def _native_tags(raw: Any, white_dn: float) -> NativeTags:
    """What LibRaw read of the exposure; only to be had once the values are unpacked."""
    other = raw.other
    taken = other.timestamp
    return NativeTags(
        iso=float(other.iso_speed) or None,
        time_s=float(other.shutter_speed) or None,
        aperture=float(other.aperture) or None,
        taken_at=taken.isoformat() if taken is not None and taken.year > 1980 else None,
        lens=raw.lens.model or None,
        bits=int(white_dn).bit_length() if white_is_known(white_dn) else None,
    )


def _read_plane(path: Path, content: bytes, cfa: str | None, allow_8bit: bool) -> RawMosaic:
    """The mosaic of a TIFF or PNG file that holds one linear plane."""
    plane = read_plane(path, content)
    values = plane.values_dn
    if not cfa or not cfa.strip():
        raise FrameError(
            "a TIFF or PNG mosaic doesn't say its colour filter array",
            path.name,
            "Fill the sheet's cfa column for it: RGGB, BGGR, GRBG, GBRG or MONO",
        )
    names = parse_cfa(cfa, path.name)
    if min(values.shape) < 2 * max(period(names)):
        raise FrameError(
            f"the picture is too small ({values.shape[1]} x {values.shape[0]} pixels)",
            path.name,
            "Give the whole frame",
        )
    flags = eight_bit_flags(values, plane.top_dn, path.name, allow=allow_8bit)
    check_values(values, period(names), 0.0, plane.top_dn, path.name)
    known = white_is_known(plane.top_dn)
    return RawMosaic(
        values_dn=values,
        cfa=names,
        white_tag_dn=dict.fromkeys(channels(names), plane.top_dn) if known else {},
        flags=(*flags, *_coding_flags(values, names, path, plane.lossy)),
        sha256=hashlib.sha256(content).hexdigest(),
        native=NativeTags(bits=8 if known else None),
    )
