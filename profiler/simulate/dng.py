"""Writer of small, plain DNG files that raw decoders open like any camera's.

Tags as in the DNG specification 1.7.1; pixels and main directory by tifffile, Exif by exiv2.
"""

from __future__ import annotations

import errno
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

_TILE: Final = 256
_LINEAR_RAW: Final = 34892
_PHOTOMETRIC_TAG: Final = 262
_CFA: Final = 32803
_LJPEG: Final = 7
_BYTE, _ASCII, _SHORT, _LONG, _RATIONAL, _SRATIONAL = "B", "s", "H", "I", 5, 10
_MATRIX: Final = (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1)
"""Unit matrix as nine signed rationals: an invented sensor has no published colour."""


@dataclass(frozen=True, kw_only=True)
class ExifFields:
    """What the file says of itself; time and f_number as the rational `n/d`, empty leaves it out.

    reference_iso goes into RecommendedExposureIndex, where a label above 65535 belongs.
    """

    make: str
    model: str
    serial: str
    lens: str
    iso: int
    time: str
    f_number: str
    taken: str
    reference_iso: int | None = None


def write_dng(
    path: Path,
    mosaic: NDArray[np.uint16],
    *,
    pattern: Sequence[Sequence[str]],
    bits: int,
    black_dn: Mapping[str, float],
    white_dn: int,
    exif: ExifFields,
    masked_left: int = 0,
    masked_top: int = 0,
    masked_tag: bool = False,
    compression: str = "none",
    linearization: NDArray[np.uint16] | None = None,
) -> None:
    """Write one DNG: a mosaic (rows, columns), or demosaiced samples (rows, columns, 3).

    pattern: channel names of one CFA period from the corner of the active area, which starts
    masked_top rows and masked_left columns into the mosaic. black_dn: one level for each channel;
    fractions are written as rationals. masked_tag: write MaskedAreas, from which LibRaw then takes
    the black of a two-by-two mosaic instead of the black tag. compression: `none` or `lossless`
    (lossless JPEG tiles).
    linearization: table from stored codes to DN.
    """
    import tifffile

    rows, columns = mosaic.shape[:2]
    colour = mosaic.ndim == 3
    mono = len(pattern) == 1 and not colour
    tags = [
        (50706, _BYTE, 4, bytes((1, 4, 0, 0)), True),  # DNGVersion
        (50708, _ASCII, 0, exif.model, True),  # UniqueCameraModel
        (50717, _SHORT, 3 if colour else 1, (white_dn,) * 3 if colour else white_dn, True),
        (50829, _LONG, 4, (masked_top, masked_left, rows, columns), True),  # ActiveArea
        *_black_tags(black_dn, pattern, colour),
    ]
    if not mono:
        tags.append((50721, _SRATIONAL, 9, _MATRIX, True))  # ColorMatrix1
        tags.append((50728, _RATIONAL, 3, (1, 1, 1, 1, 1, 1), True))  # AsShotNeutral
    if not mono and not colour:
        tags.append((33421, _SHORT, 2, (len(pattern), len(pattern[0])), True))
        plane = bytes("RGB".index(name[0]) for row in pattern for name in row)
        tags.append((33422, _BYTE, len(plane), plane, True))
    masked = _masked_areas(masked_top, masked_left, rows, columns)
    if masked and masked_tag:
        tags.append((50830, _LONG, len(masked), masked, True))
    if linearization is not None:
        table = tuple(int(v) for v in linearization)
        tags.append((50712, _SHORT, len(table), table, True))
    common: dict[str, Any] = {
        "photometric": "minisblack" if mono else _LINEAR_RAW if colour else _CFA,
        "extratags": tags,
        "metadata": None,
        "software": False,
        "subfiletype": 0,
    }
    with tifffile.TiffWriter(path, byteorder="<") as tiff:
        if compression == "lossless" and not colour:
            tile = (_tile_side(rows), _tile_side(columns))
            tiff.write(
                _tiles(mosaic, bits, tile),
                shape=mosaic.shape,
                dtype=mosaic.dtype,
                compression=_LJPEG,
                tile=tile,
                **common,
            )
        else:
            tiff.write(mosaic, rowsperstrip=rows, **common)
    if mono:  # tifffile refuses LinearRaw with one sample, so the tag is mended afterwards
        with tifffile.TiffFile(path, mode="r+") as written:
            written.pages.first.tags[_PHOTOMETRIC_TAG].overwrite(_LINEAR_RAW)
    _write_exif(path, exif)


def _tile_side(pixels: int) -> int:
    """Return the side of a tile: a multiple of 16 as TIFF asks, not above the image's own side.

    LibRaw 0.22 misplaces the rows of a tile that is wider than the image.
    """
    return min(_TILE, pixels // 16 * 16)


def _tiles(mosaic: NDArray[np.uint16], bits: int, tile: tuple[int, int]) -> Iterator[bytes]:
    import imagecodecs

    rows, columns = mosaic.shape
    for y in range(0, rows, tile[0]):
        for x in range(0, columns, tile[1]):
            part = mosaic[y : y + tile[0], x : x + tile[1]]
            short = ((0, tile[0] - part.shape[0]), (0, tile[1] - part.shape[1]))
            whole = np.ascontiguousarray(np.pad(part, short, mode="edge"))
            yield bytes(imagecodecs.ljpeg_encode(whole, bitspersample=bits))


def _black_tags(
    black_dn: Mapping[str, float], pattern: Sequence[Sequence[str]], colour: bool
) -> list[Any]:
    """Return BlackLevel with BlackLevelRepeatDim, as short as the levels allow."""
    levels = [black_dn[name] for row in pattern for name in row]
    repeat = (len(pattern), len(pattern[0]))
    if colour:
        levels, repeat = [sum(levels) / len(levels)] * 3, (1, 1)
    elif len(set(levels)) == 1:
        levels, repeat = levels[:1], (1, 1)
    tags: list[Any] = [(50713, _SHORT, 2, repeat, True)]
    if all(level == int(level) for level in levels):
        whole = tuple(int(level) for level in levels)
        tags.append((50714, _SHORT, len(whole), whole, True))
    else:
        parts = [Fraction(level).limit_denominator(1000) for level in levels]
        pairs = tuple(n for part in parts for n in (part.numerator, part.denominator))
        tags.append((50714, _RATIONAL, len(levels), pairs, True))
    return tags


def _masked_areas(top: int, left: int, rows: int, columns: int) -> tuple[int, ...]:
    """Return MaskedAreas: the strip above the active area, then the one left of it."""
    areas: tuple[int, ...] = ()
    if top:
        areas += (0, 0, top, columns)
    if left:
        areas += (top, 0, rows, left)
    return areas


def _write_exif(path: Path, exif: ExifFields) -> None:
    import exiv2

    exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    data = image.exifData()
    fields = {
        "Exif.Image.Make": exif.make,
        "Exif.Image.Model": exif.model,
        "Exif.Image.DateTime": exif.taken,
        "Exif.Photo.DateTimeOriginal": exif.taken,
        "Exif.Photo.ExposureTime": exif.time,
        "Exif.Photo.FNumber": exif.f_number,
        "Exif.Photo.ISOSpeedRatings": str(exif.iso),
        "Exif.Photo.BodySerialNumber": exif.serial,
        "Exif.Photo.LensModel": exif.lens,
    }
    if exif.reference_iso is not None:
        fields["Exif.Photo.SensitivityType"] = "2"  # Exif 2.3: recommended exposure index
        fields["Exif.Photo.RecommendedExposureIndex"] = str(exif.reference_iso)
    for key, value in fields.items():
        if value:
            data[key] = value
    try:
        image.writeMetadata()
    except exiv2.Exiv2Error as error:  # a full disk, mostly
        raise OSError(errno.EIO, f"the tags can't be written: {error}") from error
