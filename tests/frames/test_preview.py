"""The picture that shows the patch."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import imageio.v3 as iio
import numpy as np
import pytest

from profiler.errors import GreytareError
from profiler.frames.cfa import Cfa, parse_cfa
from profiler.frames.preview import clipped_blocks, evenness, lifted, stripe, write_preview
from profiler.records import Mosaic, Patch


@pytest.mark.parametrize("cfa", ["RGGB", "GBGGRG/RGRBGB/GBGGRG/GRGGBG/BGBRGR/GRGGBG", "MONO"])
@pytest.mark.parametrize("shape", [(1200, 1806), (300, 402)])
def test_patch_is_framed_in_white_and_black(
    tmp_path: Path, cfa: str, shape: tuple[int, int]
) -> None:
    names: Cfa = parse_cfa(cfa, "test")
    values = np.random.default_rng(1).integers(900, 1100, shape).astype(np.uint16)
    values[: shape[0] // 2] //= 8
    patch = Patch(x=shape[1] // 3, y=shape[0] // 3, width=shape[1] // 3, height=shape[0] // 3)
    path = tmp_path / "a.patch.png"
    write_preview(path, Mosaic(values_dn=values, cfa=names), patch)
    picture = iio.imread(path)
    assert picture.dtype == np.uint8
    assert picture.ndim == 2
    assert 120 <= picture.shape[1] <= 800
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.patch.png"]
    row = picture[picture.shape[0] // 2].astype(int)
    whites = np.flatnonzero(row == 255)
    third = picture.shape[1] / 3
    assert min(abs(whites - third)) <= 2
    assert min(abs(whites - 2 * third)) <= 2
    left = whites[np.argmin(abs(whites - third))]
    assert row[left - 1] == 0


@pytest.mark.parametrize("level_dn", [0, 4095])
def test_patch_up_to_the_edge_of_an_even_frame(tmp_path: Path, level_dn: int) -> None:
    values = np.full((200, 300), level_dn, dtype=np.uint16)
    mosaic = Mosaic(values_dn=values, cfa=parse_cfa("RGGB", "test"))
    write_preview(tmp_path / "a.png", mosaic, Patch(x=0, y=0, width=300, height=200))
    assert {0, 255} <= set(np.unique(iio.imread(tmp_path / "a.png")))


def test_nothing_is_left_behind_where_writing_fails(tmp_path: Path) -> None:
    target = tmp_path / "taken.png"
    target.mkdir()
    values = np.full((64, 64), 100, dtype=np.uint16)
    mosaic = Mosaic(values_dn=values, cfa=parse_cfa("RGGB", "test"))
    with pytest.raises(GreytareError, match=r"taken\.png: this is a folder"):
        write_preview(target, mosaic, Patch(x=0, y=0, width=32, height=32))
    assert [entry.name for entry in tmp_path.iterdir()] == ["taken.png"]


def test_the_card_looks_grey_and_glare_on_it_is_seen(tmp_path: Path) -> None:
    values = np.full((400, 600), 300, dtype=np.uint16)
    values[100:300, 150:450] = 6000
    values[100:300, 400:450] = 9000
    mosaic = Mosaic(values_dn=values, cfa=parse_cfa("RGGB", "test"))
    write_preview(tmp_path / "a.png", mosaic, Patch(x=200, y=150, width=150, height=100))
    picture = iio.imread(tmp_path / "a.png")
    height, width = picture.shape
    card, glare = picture[height // 2, width * 5 // 12], picture[height // 2, width * 17 // 24]
    assert card == pytest.approx(255 * 0.18 ** (1 / 2.2), abs=1)
    assert glare == pytest.approx(255 * 0.27 ** (1 / 2.2), abs=1)


def test_clipped_pixels_are_striped_and_others_are_not(tmp_path: Path) -> None:
    values = np.full((400, 600), 3000, dtype=np.uint16)
    values[:, :150] = 15300
    tags = dict.fromkeys(("R", "G1", "G2", "B"), 15300)
    mosaic = Mosaic(values_dn=values, cfa=parse_cfa("RGGB", "test"), white_tag_dn=tags)
    where = clipped_blocks(mosaic, 300)
    assert where[:, :75].all()
    assert not where[:, 76:].any()
    # below the tag: a bright frame that piles up at one code is clipped there
    lower = replace(mosaic, values_dn=np.where(values > 15000, 12000, values).astype(np.uint16))
    assert clipped_blocks(lower, 300)[:, :75].all()
    # a dark frame's highest code is no clip
    dark = replace(mosaic, values_dn=np.full((400, 600), 520, dtype=np.uint16))
    assert not clipped_blocks(dark, 300).any()
    picture = np.full(where.shape, 128, np.uint8)
    stripe(picture, where)
    assert set(np.unique(picture[:, :75])) == {0, 255}
    assert set(np.unique(picture[:, 76:])) == {128}


def test_uneven_light_is_raised_inside_the_patch(tmp_path: Path) -> None:
    slope = np.linspace(0.9, 1.1, 480)
    values = np.rint(np.tile(6000.0 * slope, (360, 1))).astype(np.uint16)
    mosaic = Mosaic(values_dn=values, cfa=parse_cfa("RGGB", "test"))
    patch = Patch(x=120, y=90, width=240, height=180)
    ratio = evenness(mosaic, patch)
    # over half the frame's width the light rises by half of 20 %, less a cell
    assert ratio.max() - ratio.min() == pytest.approx(0.1 * 7 / 8, rel=0.02)
    write_preview(tmp_path / "a.png", mosaic, patch)
    row = iio.imread(tmp_path / "a.png")[90].astype(int)
    assert row[172] - row[68] > 4 * (row[186] - row[54])


def test_a_dark_frame_is_told_from_a_lens_cap() -> None:
    rng = np.random.default_rng(2)
    cap, dark = (512.0 + rng.normal(level, 0.5, (60, 80)) for level in (0.0, 15000.0 / 2**9))
    seen = [float(lifted(each.astype(np.float32), 512.0, 15512.0).mean()) for each in (cap, dark)]
    assert seen[0] < 5
    assert seen[1] > 40
