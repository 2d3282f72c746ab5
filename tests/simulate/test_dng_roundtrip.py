"""A written DNG must open pixel by pixel, with its tags, in LibRaw and in exiv2."""

from __future__ import annotations

import warnings
from dataclasses import replace
from pathlib import Path

import exiv2
import numpy as np
import pytest
import rawpy
import tifffile

from profiler.simulate.dng import ExifFields, write_dng
from profiler.simulate.sensor import CFA_ROWS

EXIF = ExifFields(
    make="Halden",
    model="Halden H2",
    serial="0004217",
    lens="Halden 50mm f/1.4",
    iso=400,
    time="1/60",
    f_number="28/5",
    taken="2026:01:05 10:00:00",
)


def _write(path: Path, mosaic: np.ndarray, cfa: str = "RGGB", **changed: object) -> None:
    fields: dict[str, object] = {
        "pattern": CFA_ROWS[cfa],
        "bits": 14,
        "black_dn": dict.fromkeys({c for row in CFA_ROWS[cfa] for c in row}, 512.0),
        "white_dn": 16383,
        "exif": EXIF,
    } | changed
    write_dng(path, mosaic, **fields)  # type: ignore[arg-type]


@pytest.mark.parametrize("compression", ["none", "lossless"])
@pytest.mark.parametrize("masked", [(0, 0), (4, 10)])
@pytest.mark.parametrize("bits", [12, 14])
@pytest.mark.parametrize("cfa", list(CFA_ROWS))
def test_pixels_and_colours_survive(
    tmp_path: Path, cfa: str, bits: int, masked: tuple[int, int], compression: str
) -> None:
    top, left = masked
    mosaic = np.random.default_rng(5).integers(0, 1 << bits, (98, 303), dtype=np.uint16)
    mosaic[-1, -1], mosaic[0, 0] = (1 << bits) - 1, 0
    path = tmp_path / "a.dng"
    _write(
        path,
        mosaic,
        cfa,
        bits=bits,
        white_dn=(1 << bits) - 1,
        masked_top=top,
        masked_left=left,
        compression=compression,
    )
    with rawpy.imread(str(path)) as raw:
        assert np.array_equal(raw.raw_image, mosaic)
        assert (raw.sizes.top_margin, raw.sizes.left_margin) == (top, left)
        assert raw.raw_image_visible.shape == (98 - top, 303 - left)
        assert raw.black_level_per_channel == [512] * 4
        assert raw.white_level == (1 << bits) - 1
        assert (raw.other.iso_speed, raw.other.aperture) == (400.0, pytest.approx(5.6))
        assert raw.other.shutter_speed == pytest.approx(1 / 60)
        if cfa == "MONO":
            assert raw.num_colors == 1
            return
        for y in range(6):
            for x in range(6):
                index = raw.raw_color(y + top, x + left)
                expected = CFA_ROWS[cfa][y % len(CFA_ROWS[cfa])][x % len(CFA_ROWS[cfa])]
                assert {0: "R", 1: "G", 2: "B", 3: "G"}[index] == expected[0]


@pytest.mark.parametrize("shape", [(24, 24), (36, 40), (96, 144), (300, 130), (258, 513)])
def test_lossless_tiles_fit_frames_of_any_size(tmp_path: Path, shape: tuple[int, int]) -> None:
    mosaic = np.random.default_rng(6).integers(0, 1 << 14, shape, dtype=np.uint16)
    _write(tmp_path / "a.dng", mosaic, compression="lossless")
    with rawpy.imread(str(tmp_path / "a.dng")) as raw:
        assert np.array_equal(raw.raw_image, mosaic)


def test_exif_is_read_by_exiv2_with_leading_zeros(tmp_path: Path) -> None:
    _write(tmp_path / "a.dng", np.full((48, 64), 600, dtype=np.uint16))
    image = exiv2.ImageFactory.open(str(tmp_path / "a.dng"))
    image.readMetadata()
    found = {datum.key(): datum.toString() for datum in image.exifData()}
    assert found["Exif.Image.Make"] == "Halden"
    assert found["Exif.Image.Model"] == "Halden H2"
    assert found["Exif.Photo.BodySerialNumber"] == "0004217"
    assert found["Exif.Photo.LensModel"] == "Halden 50mm f/1.4"
    assert found["Exif.Photo.ExposureTime"] == "1/60"
    assert found["Exif.Photo.FNumber"] == "28/5"
    assert found["Exif.Photo.ISOSpeedRatings"] == "400"
    assert found["Exif.Photo.DateTimeOriginal"] == "2026:01:05 10:00:00"
    assert "Exif.Photo.RecommendedExposureIndex" not in found
    assert not any("Software" in key for key in found)


def test_missing_time_and_a_capped_iso_can_be_written(tmp_path: Path) -> None:
    exif = replace(EXIF, time="", iso=65535, reference_iso=102400)
    _write(tmp_path / "a.dng", np.full((48, 64), 600, dtype=np.uint16), exif=exif)
    image = exiv2.ImageFactory.open(str(tmp_path / "a.dng"))
    image.readMetadata()
    found = {datum.key(): datum.toString() for datum in image.exifData()}
    assert "Exif.Photo.ExposureTime" not in found
    assert found["Exif.Photo.ISOSpeedRatings"] == "65535"
    assert found["Exif.Photo.RecommendedExposureIndex"] == "102400"


BLACKS = [
    # black by channel, BlackLevelRepeatDim, BlackLevel as tifffile gives it, LibRaw's R G1 B G2
    ({"R": 512.0, "G1": 512.0, "G2": 512.0, "B": 512.0}, (1, 1), 512, [512] * 4),
    ({"R": 256.7, "G1": 256.7, "G2": 256.7, "B": 256.7}, (1, 1), (2567, 10), [256] * 4),
    (
        {"R": 510.0, "G1": 511.0, "G2": 512.0, "B": 513.0},
        (2, 2),
        (510, 511, 512, 513),
        [510, 511, 513, 512],
    ),
]


@pytest.mark.parametrize(("black", "repeat", "tag", "libraw"), BLACKS)
def test_black_tag(
    tmp_path: Path,
    black: dict[str, float],
    repeat: tuple[int, int],
    tag: object,
    libraw: list[int],
) -> None:
    path = tmp_path / "a.dng"
    _write(path, np.full((48, 64), 600, dtype=np.uint16), black_dn=black)
    with tifffile.TiffFile(path) as tiff:
        tags = tiff.pages[0].tags
        assert tags[50713].value == repeat
        assert tags[50714].value == tag
    with rawpy.imread(str(path)) as raw:
        assert raw.black_level_per_channel == libraw


def test_masked_areas_hold_the_strip_above_then_the_one_at_the_left(tmp_path: Path) -> None:
    path = tmp_path / "a.dng"
    _write(
        path,
        np.full((60, 80), 600, dtype=np.uint16),
        masked_top=12,
        masked_left=18,
        masked_tag=True,
    )
    with tifffile.TiffFile(path) as tiff:
        assert tiff.pages[0].tags[50829].value == (12, 18, 60, 80)
        assert tiff.pages[0].tags[50830].value == (0, 0, 12, 80, 12, 0, 60, 18)


def test_libraw_takes_black_from_the_masked_areas_tag(tmp_path: Path) -> None:
    mosaic = np.full((60, 80), 600, dtype=np.uint16)
    mosaic[:12] = mosaic[:, :18] = 530
    for masked_tag, black in ((False, 512), (True, 530)):
        path = tmp_path / f"{masked_tag}.dng"
        _write(path, mosaic, masked_top=12, masked_left=18, masked_tag=masked_tag)
        with rawpy.imread(str(path)) as raw:
            assert raw.black_level_per_channel == [black] * 4


def test_linearization_table_is_undone_by_the_decoder(tmp_path: Path) -> None:
    table = (np.arange(256, dtype=np.uint16) ** 2 // 4).astype(np.uint16)
    codes = np.random.default_rng(1).integers(0, 256, (48, 64), dtype=np.uint16)
    _write(tmp_path / "a.dng", codes, linearization=table)
    with rawpy.imread(str(tmp_path / "a.dng")) as raw:
        assert np.array_equal(raw.raw_image, table[codes])


def test_three_samples_make_a_linear_file_without_a_mosaic(tmp_path: Path) -> None:
    pixels = np.random.default_rng(1).integers(0, 16000, (48, 64, 3), dtype=np.uint16)
    _write(tmp_path / "a.dng", pixels)
    with tifffile.TiffFile(tmp_path / "a.dng") as tiff:
        assert int(tiff.pages[0].photometric) == 34892
        assert np.array_equal(tiff.asarray(), pixels)
    with warnings.catch_warnings(), rawpy.imread(str(tmp_path / "a.dng")) as raw:
        assert raw.raw_pattern is None
