"""Camera files with and without usable pixels.

Sources: digicam_corpus (CC0-1.0) for the files with pixels; test images of ExifTool, Exiv2 and
bep/imagemeta for those without.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from profiler.errors import FrameError
from profiler.frames.decode import open_mosaic
from profiler.frames.find_patch import find_patch
from profiler.frames.statistics import measure_patch
from profiler.frames.tags import read_tags

S40 = "Canon_PowerShotS40_CRW_0119.CRW"
G2 = "Canon_PowerShotG2_CRW_0313.CRW"
DC50 = "Kodak_DC50_0008L_clipped.KDC"
DC120 = "Kodak_DC120_uncompressed_P003908.KDC"

BAD = (
    "bep_sample.arw bep_sample.nef exiftool_CanonRaw.cr2 exiftool_CanonRaw.crw exiftool_DNG.dng "
    "exiftool_FujiFilm.raf exiftool_Minolta.mrw exiftool_Nikon.nef exiv2_Canon-R6-pruned.CR3 "
    "exiv2_IMG_1361.dng exiv2_issue_839_poc.rw2"
)


@pytest.fixture(scope="module")
def raw(shared_data: Path) -> Path:
    return shared_data / "raw"


def test_clipped_share_of_the_s40(raw: Path) -> None:
    with open_mosaic(raw / S40) as mosaic:
        assert mosaic.cfa == (("R", "G1"), ("G2", "B"))
        assert mosaic.white_tag_dn["G1"] == mosaic.values_dn.max() == 1023
        assert 100.0 * np.mean(mosaic.values_dn == 1023) == pytest.approx(1.07, abs=0.005)
        assert mosaic.flags == ()


def test_g2_does_not_clip(raw: Path) -> None:
    with open_mosaic(raw / G2) as mosaic:
        assert mosaic.values_dn.max() < 1023
        assert mosaic.flags == ()


@pytest.mark.parametrize("name", [S40, G2])
def test_masked_pixels_agree_with_the_black_tag(raw: Path, name: str) -> None:
    with open_mosaic(raw / name) as mosaic:
        for channel, masked in mosaic.masked.items():
            assert masked.n > 10_000
            assert masked.mean_dn == pytest.approx(mosaic.black_tag_dn[channel], abs=0.3)


def test_patch_of_the_g2_lies_on_a_field_of_its_chart(raw: Path) -> None:
    """The grey field nearest to the middle; statistics as of an evenly lit one."""
    with open_mosaic(raw / G2) as mosaic:
        patch = find_patch(mosaic)
        assert 820 <= patch.x <= patch.x + patch.width <= 1310
        assert 350 <= patch.y <= patch.y + patch.height <= 840
        values = mosaic.values_dn[
            patch.y : patch.y + patch.height, patch.x : patch.x + patch.width
        ].copy()
        for found in measure_patch(values, mosaic.cfa).values():
            assert found.gradient < 0.1
            assert found.top_dn < 1023


def test_lossy_dc50_is_flagged(raw: Path) -> None:
    with open_mosaic(raw / DC50) as mosaic:
        assert [flag.name for flag in mosaic.flags] == ["lossy-coding"]


def test_eight_bit_dc120_is_refused(raw: Path) -> None:
    with pytest.raises(FrameError, match=rf"{DC120}: the values have 8 bits only"):
        open_mosaic(raw / DC120).__enter__()
    with open_mosaic(raw / DC120, allow_8bit=True) as mosaic:
        assert mosaic.values_dn.shape == (976, 848)
        assert "eight-bit" in [flag.name for flag in mosaic.flags]


def test_readers_that_disagree_are_both_kept(raw: Path) -> None:
    """The metadata say 1/53 s, LibRaw 0.0198 s, 1/50.4."""
    with open_mosaic(raw / G2) as mosaic:
        time = read_tags(raw / G2, mosaic.native).time_s
    assert time is not None
    assert time.value == pytest.approx(1 / 53, rel=1e-9)
    assert dict(time.others)["LibRaw"] == pytest.approx(0.01983, abs=5e-6)


@pytest.mark.parametrize(
    ("name", "model", "iso", "time_s", "aperture"),
    [
        (S40, "Canon PowerShot S40", 50.0, 1 / 64, 2.92),
        (G2, "Canon PowerShot G2", 50.0, 1 / 53, 4.0),
        (DC50, "Kodak Digital Science DC50 Zoom Camera", None, 0.02328, 2.5),
    ],
)
def test_tags(
    raw: Path, name: str, model: str, iso: float | None, time_s: float, aperture: float
) -> None:
    tags = read_tags(raw / name)
    assert tags.model is not None
    assert tags.model.value == model
    assert (tags.iso.value if tags.iso else None) == iso
    assert tags.time_s is not None
    assert tags.time_s.value == pytest.approx(time_s, rel=1e-9)
    assert tags.aperture is not None
    assert tags.aperture.value == pytest.approx(aperture, abs=0.005)


@pytest.mark.parametrize(
    ("name", "field", "value"),
    [
        ("exiftool_DNG.dng", "serial", "012345678"),
        ("exiv2_Canon-R6-pruned.CR3", "serial", "093022004357"),
        ("exiv2_Canon-R6-pruned.CR3", "lens", "RF70-200mm F2.8 L IS USM"),
        ("exiv2_Canon-R6-pruned.CR3", "taken_at", "2021-05-12T12:21:21.92+02:00"),
        ("exiv2_Canon-R6-pruned.CR3", "drive", "Continuous, low"),
        ("exiftool_CanonRaw.crw", "iso", 100.0),
        ("exiftool_CanonRaw.crw", "serial", "560018150"),
        ("bep_sample.nef", "iso", 200.0),
        ("bep_sample.nef", "bits", 12),
        ("bep_sample.nef", "model", "NIKON D1"),
        ("bep_sample.arw", "make", "SONY"),
        ("exiftool_FujiFilm.raf", "model", "FinePix S5Pro"),
        ("exiftool_Nikon.nef", "bits", 12),
    ],
)
def test_tags_of_files_without_pixels(
    shared_data: Path, name: str, field: str, value: object
) -> None:
    tag = getattr(read_tags(shared_data / "bad" / name), field)
    assert tag is not None
    assert tag.value == value


def test_corrupt_metadata_give_no_tags(shared_data: Path) -> None:
    assert read_tags(shared_data / "bad" / "exiv2_issue_839_poc.rw2").make is None


@pytest.mark.parametrize("name", BAD.split())
def test_file_without_pixels_is_refused_in_one_sentence(shared_data: Path, name: str) -> None:
    with pytest.raises(FrameError, match=re.escape(name)) as caught:
        open_mosaic(shared_data / "bad" / name).__enter__()
    error = caught.value
    assert error.where == name
    assert re.fullmatch(r"[^.\n]{20,140}", error.what)
    assert re.fullmatch(r"[^\n]{10,120}[^.]", error.mend)


@pytest.mark.parametrize("name", [S40, G2, DC50])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_truncated_copy_is_refused(raw: Path, tmp_path: Path, name: str, share: float) -> None:
    content = (raw / name).read_bytes()
    cut = tmp_path / name
    cut.write_bytes(content[: int(share * len(content))])
    with pytest.raises(FrameError, match=r"cut short or damaged|its end is missing"):
        open_mosaic(cut).__enter__()
