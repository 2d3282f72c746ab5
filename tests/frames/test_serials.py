"""Which fields called "serial number" are one; sources stand beside the table itself."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import exiv2
import numpy as np
import pytest

from profiler.frames.exif import CRW
from profiler.frames.serials import SERIAL_TAGS, serial_or_none, serials

EXIF, DNG = "Exif.Photo.BodySerialNumber", "Exif.Image.CameraSerialNumber"
CANON, NIKON = "Exif.Canon.SerialNumber", "Exif.Nikon3.SerialNO"
FUJI = "Exif.Fujifilm.SerialNumber"


class Held:
    """Fields as a file holds them."""

    def __init__(self, fields: dict[str, str], kind: str) -> None:
        self.fields, self.kind = fields, kind

    def raw(self, key: str) -> str:
        return self.fields.get(key, "")


@pytest.mark.parametrize(
    ("make", "model", "kind", "fields", "expected"),
    [
        ("Canon", "Canon PowerShot G2", CRW, {CANON: "1135763910 1075575059"}, []),
        ("Canon", "Canon PowerShot S90", "image/x-canon-cr2", {CANON: "1135763910"}, []),
        ("Canon", "Canon EOS 10D", CRW, {CANON: "560018150 383286922"}, ["560018150"]),
        ("Canon", "Canon EOS 7D", "image/x-canon-cr2", {CANON: "2171204312"}, ["2171204312"]),
        # the maker's number counts where Exif's says another, or none at all
        (
            "Canon",
            "Canon EOS 7D",
            "image/x-canon-cr2",
            {CANON: "2171204312", EXIF: "-212376298"},
            ["2171204312"],
        ),
        (
            "Canon",
            "Canon EOS 7D",
            "image/x-canon-cr2",
            {CANON: "2171204312", EXIF: "212376298"},
            ["2171204312", "212376298"],
        ),
        # one number, once with its leading zeros
        (
            "Canon",
            "Canon EOS 6D",
            "image/x-canon-cr2",
            {CANON: "123456789", EXIF: "0123456789"},
            ["0123456789", "123456789"],
        ),
        ("FUJIFILM", "FinePix S5Pro", "", {FUJI: "FPX20582698 592D313134360702198C"}, []),
        ("FUJIFILM", "X-T5", "", {FUJI: "FFDT 2A", EXIF: "2A000123"}, ["2A000123"]),
        ("NIKON CORPORATION", "NIKON D70", "", {NIKON: "NO= 2004e5bd"}, ["2004e5bd"]),
        ("NIKON", "COOLPIX P330", "", {NIKON: "12345678"}, []),
        ("Invented", "One", "", {CANON: "12345", NIKON: "12345", DNG: "000123"}, ["000123"]),
        ("Panasonic", "DMC-G1", "", {"Exif.Panasonic.InternalSerialNumber": "F05 080917"}, []),
    ],
)
def test_real_numbers_only(make, model, kind, fields, expected):
    found = [text for _, text in serials(Held(fields, kind), make, model)]
    assert found == expected


@pytest.mark.parametrize("text", ["", "0", "0000000000", "0 0", "n/a", "-212376298", "NO= "])
def test_texts_that_are_no_number(text):
    assert serial_or_none(text) is None


def test_each_line_has_a_key_that_the_reader_knows_and_a_reason():
    for tag in SERIAL_TAGS:
        assert exiv2.ExifKey(tag.key).key() == tag.key
        assert len(tag.reason) > 20
        re.compile(tag.model)
    assert {tag.real for tag in SERIAL_TAGS} == {True, False}


def test_field_that_the_table_does_not_hold_is_no_serial(
    tmp_path: Path, write_dng: Callable[..., Path]
) -> None:
    from profiler.frames.tags import read_tags

    values = np.random.default_rng(1).normal(3000, 20, (96, 128)).astype(np.uint16)
    path = write_dng(tmp_path / "t.dng", values, ("RG", "GB"))
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    data = image.exifData()
    data["Exif.Image.Make"] = "Invented"
    data["Exif.Photo.LensSerialNumber"] = "0230001122"
    image.writeMetadata()
    assert read_tags(path).serial is None
