"""Metadata: which source counts, what means missing, what is kept."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import exiv2
import numpy as np
import pytest

from profiler.frames.decode import open_mosaic
from profiler.frames.tags import NativeTags, lossy_coding, merge_native, read_tags
from profiler.records import FrameTags

PHOTO = "Exif.Photo."


@pytest.fixture
def tagged(tmp_path: Path, write_dng: Callable[..., Path]) -> Callable[[dict[str, str]], Path]:
    def make(tags: dict[str, str]) -> Path:
        values = np.random.default_rng(1).normal(3000, 20, (96, 128)).astype(np.uint16)
        path = write_dng(tmp_path / "t.dng", values, ("RG", "GB"))
        image = exiv2.ImageFactory.open(str(path))
        image.readMetadata()
        data = image.exifData()
        for key, value in tags.items():
            data[key] = value
        image.writeMetadata()
        return path

    return make


def test_all_fields(tagged: Callable[[dict[str, str]], Path]) -> None:
    path = tagged(
        {
            "Exif.Image.Make": "Invented ",
            "Exif.Image.Model": " One  ",
            PHOTO + "BodySerialNumber": "000123",
            PHOTO + "LensModel": "Lens 50mm",
            PHOTO + "ISOSpeedRatings": "400",
            PHOTO + "ExposureTime": "1/60",
            PHOTO + "FNumber": "56/10",
            PHOTO + "DateTimeOriginal": "2026:05:04 10:00:01",
            PHOTO + "SubSecTimeOriginal": "25",
            PHOTO + "OffsetTimeOriginal": "+02:00",
        }
    )
    tags = read_tags(path)
    assert tags.make is not None
    assert (tags.make.value, tags.make.source) == ("Invented", "Exif.Image.Make")
    assert tags.model is not None
    assert tags.model.value == "One"
    assert ("Exif.Image.UniqueCameraModel", "Invented One") in tags.model.others
    assert tags.serial is not None
    assert tags.serial.value == "000123"
    assert tags.lens is not None
    assert tags.lens.value == "Lens 50mm"
    assert tags.iso is not None
    assert tags.iso.value == 400.0
    assert tags.time_s is not None
    assert tags.time_s.value == pytest.approx(1 / 60, rel=1e-15)
    assert tags.aperture is not None
    assert tags.aperture.value == 5.6
    assert tags.taken_at is not None
    assert tags.taken_at.value == "2026-05-04T10:00:01.25+02:00"
    assert tags.bits is not None
    assert tags.bits.value == 16
    assert tags.drive is None


REI, SOS, ISO = "RecommendedExposureIndex", "StandardOutputSensitivity", "ISOSpeed"


@pytest.mark.parametrize(
    ("tags", "value", "source"),
    [
        ({"ISOSpeedRatings": "200", REI: "210"}, 200.0, "ISOSpeedRatings"),
        ({"ISOSpeedRatings": "65535", REI: "102400"}, 102400.0, REI),
        ({"ISOSpeedRatings": "65535", SOS: "80000", ISO: "81000"}, 80000.0, SOS),
        ({"ISOSpeedRatings": "0", ISO: "50"}, 50.0, ISO),
        ({"ISOSpeedRatings": "65535", REI: "4294967295", ISO: "64"}, 64.0, ISO),
    ],
)
def test_iso_label_is_looked_for_in_order(
    tagged: Callable[[dict[str, str]], Path], tags: dict[str, str], value: float, source: str
) -> None:
    tag = read_tags(tagged({PHOTO + key: text for key, text in tags.items()})).iso
    assert tag is not None
    assert (tag.value, tag.source) == (value, PHOTO + source)


def test_label_that_means_look_elsewhere_alone_is_missing(
    tagged: Callable[[dict[str, str]], Path],
) -> None:
    path = tagged({PHOTO + "ISOSpeedRatings": "65535"})
    assert read_tags(path).iso is None
    assert read_tags(path, NativeTags(iso=65535.0)).iso is None


@pytest.mark.parametrize("text", ["0/1", "0/0", "1/0", "65535/1", "99999/1", "0/65535"])
def test_time_and_aperture_that_mean_missing(
    tagged: Callable[[dict[str, str]], Path], text: str
) -> None:
    tags = read_tags(tagged({PHOTO + "ExposureTime": text, PHOTO + "FNumber": text}))
    assert tags.time_s is None
    assert tags.aperture is None


@pytest.mark.parametrize("value", [0.0, 65535.0, float("inf"), float("nan"), -1.0])
def test_native_values_that_mean_missing(value: float) -> None:
    tags = merge_native(FrameTags(), NativeTags(iso=value, time_s=value, aperture=value))
    assert tags == FrameTags()


def test_apex_values_stand_behind_the_rationals(tagged: Callable[[dict[str, str]], Path]) -> None:
    path = tagged(
        {
            PHOTO + "ExposureTime": "1/60",
            PHOTO + "ShutterSpeedValue": "6/1",
            PHOTO + "FNumber": "11/1",
            PHOTO + "ApertureValue": "7/1",
        }
    )
    tags = read_tags(path)
    assert tags.time_s is not None
    assert tags.time_s.value == pytest.approx(1 / 60, rel=1e-15)
    assert (PHOTO + "ShutterSpeedValue", 1 / 64) in tags.time_s.others
    assert tags.aperture is not None
    assert tags.aperture.value == 11.0
    assert (PHOTO + "ApertureValue", pytest.approx(2**3.5)) in tags.aperture.others


def test_apex_value_counts_where_it_is_alone(tagged: Callable[[dict[str, str]], Path]) -> None:
    tag = read_tags(tagged({PHOTO + "ShutterSpeedValue": "-2/1"})).time_s
    assert tag is not None
    assert tag.value == 4.0


@pytest.mark.parametrize(("key", "field"), [("BodySerialNumber", "serial"), ("LensModel", "lens")])
@pytest.mark.parametrize("text", ["", "   ", "n/a", "undef", "----", "(65535)"])
def test_text_that_means_missing(
    tagged: Callable[[dict[str, str]], Path], key: str, field: str, text: str
) -> None:
    assert getattr(read_tags(tagged({PHOTO + key: text})), field) is None


def test_serial_of_zeros_is_none(tagged: Callable[[dict[str, str]], Path]) -> None:
    assert read_tags(tagged({PHOTO + "BodySerialNumber": "00000000"})).serial is None


@pytest.mark.parametrize("text", ["0000:00:00 00:00:00", "    :  :     :  :  ", "yesterday"])
def test_date_that_is_none(tagged: Callable[[dict[str, str]], Path], text: str) -> None:
    assert read_tags(tagged({PHOTO + "DateTimeOriginal": text})).taken_at is None


def test_decoder_readings_come_last_and_are_kept(
    tagged: Callable[[dict[str, str]], Path],
) -> None:
    path = tagged({PHOTO + "ExposureTime": "1/60", PHOTO + "ISOSpeedRatings": "400"})
    with open_mosaic(path) as mosaic:
        tags = read_tags(path, mosaic.native)
    assert tags.time_s is not None
    assert tags.time_s.others[-1] == ("LibRaw", pytest.approx(1 / 60, rel=1e-6))
    assert tags.iso is not None
    assert tags.iso.others[-1] == ("LibRaw", 400.0)
    assert tags.bits is not None
    assert tags.bits.others == (("LibRaw white level", 14),)


def test_decoder_alone_is_no_source(tmp_path: Path) -> None:
    path = tmp_path / "broken.nef"
    path.write_bytes(b"MM\0*" + bytes(range(200)))
    assert read_tags(path) == FrameTags()
    tags = read_tags(path, NativeTags(iso=100.0, time_s=0.5, aperture=8.0, bits=12))
    assert (tags.iso, tags.time_s, tags.aperture) == (None, None, None)
    assert tags.bits is not None


EMPTY = ("0/10", "0/0", "0/1", "")
"""Forms of an empty rational; the last one stands for a field that isn't there."""


@pytest.mark.parametrize("empty", EMPTY)
@pytest.mark.parametrize("apex", ["0/1", "0/0", ""])
def test_decoder_makes_no_value_of_an_empty_field(
    tagged: Callable[[dict[str, str]], Path], empty: str, apex: str
) -> None:
    """LibRaw 0.22 reads f/1.0 and 1 s from APEX 0/1 beside an empty field."""
    given = {
        "ExposureTime": empty,
        "FNumber": empty,
        "ShutterSpeedValue": apex,
        "ApertureValue": apex,
    }
    path = tagged({PHOTO + key: text for key, text in given.items() if text})
    with open_mosaic(path) as mosaic:
        tags = read_tags(path, mosaic.native)
    assert tags.time_s is None
    assert tags.aperture is None
    assert read_tags(path).aperture is None


@pytest.mark.parametrize(("text", "value"), [("0.5", None), ("1/2", None), ("1", 1.0)])
def test_label_below_one_is_missing(
    tagged: Callable[[dict[str, str]], Path], text: str, value: float | None
) -> None:
    assert merge_native(read_tags(tagged({})), NativeTags(iso=0.5)).iso is None
    path = tagged({})
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    label = exiv2.RationalValue() if "/" in text or "." in text else exiv2.UShortValue()
    label.read("1/2" if text == "0.5" else text)
    image.exifData()[PHOTO + "ISOSpeedRatings"] = label
    image.writeMetadata()
    tag = read_tags(path).iso
    assert (None if tag is None else tag.value) == value


@pytest.mark.parametrize(("lens", "value"), [("", None), ("Lens 50mm F1.0", 1.0)])
def test_wide_open_at_f1_needs_the_name_of_a_lens(
    tagged: Callable[[dict[str, str]], Path], lens: str, value: float | None
) -> None:
    tags = {PHOTO + "FNumber": "10/10"} | ({PHOTO + "LensModel": lens} if lens else {})
    tag = read_tags(tagged(tags)).aperture
    assert (None if tag is None else tag.value) == value


@pytest.mark.parametrize(
    ("time", "f_number"), [("1/100000000", "1/10"), ("90000/1", "900/1"), ("65535/1", "65535/1")]
)
def test_time_and_aperture_that_nothing_can_have(
    tagged: Callable[[dict[str, str]], Path], time: str, f_number: str
) -> None:
    tags = read_tags(tagged({PHOTO + "ExposureTime": time, PHOTO + "FNumber": f_number}))
    assert tags.time_s is None
    assert tags.aperture is None


def test_missing_file_gives_empty_tags(tmp_path: Path) -> None:
    assert read_tags(tmp_path / "none.dng") == FrameTags()


@pytest.mark.parametrize(
    ("compression", "found"), [("1", ""), ("7", ""), ("34892", "lossy JPEG"), ("52546", "JPEG XL")]
)
def test_lossy_coding_of_a_dng(
    tagged: Callable[[dict[str, str]], Path], compression: str, found: str
) -> None:
    path = tagged({})
    content = bytearray(path.read_bytes())
    at = content.index(b"\x03\x01\x03\x00\x01\x00\x00\x00\x01\x00")  # tag 259, one short, value 1
    content[at + 8 : at + 10] = int(compression).to_bytes(2, "little")
    path.write_bytes(content)
    assert lossy_coding(path) == found


def test_lossy_preview_is_no_lossy_coding(tagged: Callable[[dict[str, str]], Path]) -> None:
    assert lossy_coding(tagged({"Exif.SubImage1.Compression": "34892"})) == ""
