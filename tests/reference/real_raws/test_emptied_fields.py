"""Copies of camera files whose time, aperture or label was emptied, byte by byte.

CIFF as in "CIFF Specification on Image Data File" 1.0 revision 4 (from memory; the walk below finds
what it looks for or fails), TIFF 6.0 for the KDC.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from profiler.frames.decode import open_mosaic
from profiler.frames.tags import read_tags

S40, G2 = "Canon_PowerShotS40_CRW_0119.CRW", "Canon_PowerShotG2_CRW_0313.CRW"
DC120 = "Kodak_DC120_uncompressed_P003908.KDC"
SHOT_INFO, SETTINGS = 0x102A, 0x102D
LENS_TYPE = 22
LABEL, TARGET_APERTURE, TARGET_TIME, APERTURE, TIME = 2, 4, 5, 21, 22
"""Places in the shot information, in 16-bit words (ExifTool's table of the same names)."""


def ciff_records(data: bytes, start: int, end: int) -> Iterator[tuple[int, int]]:
    """Tag and place of each record of a heap and of those below it."""
    (at,) = struct.unpack_from("<I", data, end - 4)
    (entries,) = struct.unpack_from("<H", data, start + at)
    for k in range(entries):
        entry = start + at + 2 + 10 * k
        tag, size, offset = struct.unpack_from("<HII", data, entry)
        inside = tag & 0xC000 == 0x4000
        yield tag & 0x3FFF, entry + 2 if inside else start + offset
        if tag & 0x3800 in (0x2800, 0x3000) and not inside:
            yield from ciff_records(data, start + offset, start + offset + size)


def crw_copy(source: Path, place: Path, words: dict[int, int], record: int = SHOT_INFO) -> Path:
    """A copy of a CRW file with some words of a record written over."""
    content = bytearray(source.read_bytes())
    (heap,) = struct.unpack_from("<I", content, 2)
    at = dict(ciff_records(bytes(content), heap, len(content)))[record]
    for word, value in words.items():
        struct.pack_into("<H", content, at + 2 * word, value % 0x10000)
    path = place / source.name
    path.write_bytes(content)
    return path


def read(path: Path) -> dict[str, float | None]:
    """Label, time and aperture as a fit takes them, the decoder's readings merged in."""
    with open_mosaic(path, allow_8bit=True) as mosaic:
        tags = read_tags(path, mosaic.native)
    alone = read_tags(path)
    values = {}
    for name in ("iso", "time_s", "aperture"):
        tag, before = getattr(tags, name), getattr(alone, name)
        # a new sheet is made from the metadata alone, and must say the same
        assert (tag is None) == (before is None)
        assert tag is None or tag.value == before.value
        values[name] = None if tag is None else tag.value
    return values


@pytest.mark.parametrize("name", [S40, G2])
def test_numbers_of_compact_bodies_are_no_serials(shared_data: Path, name: str) -> None:
    assert read_tags(shared_data / "raw" / name).serial is None


@pytest.mark.parametrize(
    ("words", "missing"),
    [
        ({}, set()),
        ({APERTURE: 0}, {"aperture"}),
        ({APERTURE: 0x7FFF}, {"aperture"}),
        ({APERTURE: 0xFFE0}, {"aperture"}),
        ({TIME: 0}, {"time_s"}),
        ({LABEL: 0}, {"iso"}),
        (
            {APERTURE: 0, TIME: 0, TARGET_APERTURE: 0, TARGET_TIME: 0, LABEL: 0},
            {"aperture", "time_s", "iso"},
        ),
    ],
)
def test_emptied_crw_is_asked_about(
    shared_data: Path, tmp_path: Path, words: dict[int, int], missing: set[str]
) -> None:
    values = read(crw_copy(shared_data / "raw" / S40, tmp_path, words))
    assert {name for name, value in values.items() if value is None} == missing
    assert values["iso"] in (50.0, None)


@pytest.mark.parametrize(("apex_32nds", "time_s"), [(-32, 2.0), (-160, 32.0), (32, 0.5)])
def test_long_times_of_a_crw(
    shared_data: Path, tmp_path: Path, apex_32nds: int, time_s: float
) -> None:
    """Exiv2 0.28 makes 1/1 s of every time beyond a second."""
    values = read(crw_copy(shared_data / "raw" / S40, tmp_path, {TIME: apex_32nds}))
    assert values["time_s"] == pytest.approx(time_s)


def kdc_copy(source: Path, place: Path, fields: dict[int, tuple[int, int] | None]) -> Path:
    """A copy of a KDC file with rationals of its first directory written over, or taken out."""
    content = bytearray(source.read_bytes())
    order = "<" if content[:2] == b"II" else ">"
    (at,) = struct.unpack_from(order + "I", content, 4)
    (entries,) = struct.unpack_from(order + "H", content, at)
    seen = set()
    for entry in range(at + 2, at + 2 + 12 * entries, 12):
        tag, kind, _, offset = struct.unpack_from(order + "HHII", content, entry)
        if tag in fields:
            assert kind == 5
            seen.add(tag)
            value = fields[tag]
            if value is None:
                struct.pack_into(order + "H", content, entry, 60000)
            else:
                struct.pack_into(order + "II", content, offset, *value)
    assert seen == set(fields)
    path = place / source.name
    path.write_bytes(content)
    return path


EXPOSURE_TIME, F_NUMBER = 33434, 33437


@pytest.mark.parametrize("empty", [(0, 10), (0, 0), (0, 1), None])
@pytest.mark.parametrize(("tag", "name"), [(EXPOSURE_TIME, "time_s"), (F_NUMBER, "aperture")])
def test_emptied_kdc_is_asked_about(
    shared_data: Path, tmp_path: Path, tag: int, name: str, empty: tuple[int, int] | None
) -> None:
    values = read(kdc_copy(shared_data / "raw" / DC120, tmp_path, {tag: empty}))
    assert values[name] is None
    # no tag of this file holds a label; LibRaw's 160 is a guess from the model
    assert values["iso"] is None
    other = {"time_s": "aperture", "aperture": "time_s"}[name]
    assert values[other] is not None


def test_emptied_aperture_beside_the_name_of_a_lens(shared_data: Path, tmp_path: Path) -> None:
    """Without the name f/1 is dropped anyway, with it the empty word itself must be seen."""
    source = shared_data / "raw" / S40
    named = crw_copy(source, tmp_path, {LENS_TYPE: 1}, SETTINGS)
    assert read_tags(named).lens is not None
    assert read_tags(named).aperture is not None
    (tmp_path / "both").mkdir()
    assert read_tags(crw_copy(named, tmp_path / "both", {APERTURE: 0})).aperture is None
