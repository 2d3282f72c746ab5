"""Black as tags and masked borders of a file tell it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from profiler.frames.decode import open_mosaic

WriteDng = Callable[..., Path]
Noisy = Callable[..., np.ndarray]


def test_black_tag_per_channel_follows_the_names(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    path = write_dng(
        tmp_path / "b.dng", noisy((128, 128)), ("RG", "GB"), black=(255, 256, 257, 258)
    )
    with open_mosaic(path) as mosaic:
        assert dict(mosaic.black_tag_dn) == {"R": 255.0, "G1": 256.0, "G2": 257.0, "B": 258.0}


@pytest.mark.parametrize(
    ("stated", "black"), [((0,), dict.fromkeys(("R", "G1", "G2", "B"), 0.0)), ((), {})]
)
def test_black_that_no_tag_states_is_unknown(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, stated: tuple[int, ...], black: dict
) -> None:
    """The decoder says 0 either way."""
    path = write_dng(tmp_path / "z.dng", noisy((128, 128)), ("RG", "GB"), black=stated)
    with open_mosaic(path) as mosaic:
        assert dict(mosaic.black_tag_dn) == black


def test_masked_border_gives_the_level_of_each_channel(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    black = {"R": 250.0, "G1": 256.0, "G2": 262.0, "B": 268.0}
    pattern = np.array([[250.0, 256.0], [262.0, 268.0]])
    rng = np.random.default_rng(11)
    readout = noisy((300, 400))
    dark = np.tile(pattern, (150, 12)) + rng.normal(0.0, 4.0, (300, 24))
    readout[:, :24] = np.rint(dark)
    readout[:, 20:24] += 9  # light that leaks in from the image
    readout[::50, 10] = 16000  # hot
    path = write_dng(
        tmp_path / "k.dng", readout, ("RG", "GB"), black=(256,), active=(0, 24, 300, 400)
    )
    with open_mosaic(path) as mosaic:
        for channel, level in black.items():
            masked = mosaic.masked[channel]
            assert masked.mean_dn == pytest.approx(level, abs=4 * 4.0 / masked.n**0.5)
            assert masked.sd_dn == pytest.approx(4.0, rel=0.1)
            assert masked.n > 1000


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
def test_masked_border_on_any_side_keeps_the_phase(
    tmp_path: Path, write_dng: WriteDng, xtrans: tuple[str, ...], side: str
) -> None:
    """Margins that are no whole periods; levels differ by colour, and rise next to the image."""
    black = {"R": 250.0, "G": 260.0, "B": 270.0}
    top, left = (21, 0) if side == "top" else (0, 25) if side == "left" else (0, 0)
    bottom, right = top + 132, left + 150
    height, width = bottom + 21 * (side == "bottom"), right + 25 * (side == "right")
    y, x = np.mgrid[:height, :width]
    letters = np.array([list(row) for row in xtrans])[(y - top) % 6, (x - left) % 6]
    readout = np.vectorize(black.get)(letters) + np.random.default_rng(2).normal(
        0.0, 2.0, (height, width)
    )
    away = np.maximum.reduce([top - y, y - bottom + 1, left - x, x - right + 1])
    readout[(away >= 1) & (away <= 4)] += 8.0
    readout[away <= 0] += 2000.0
    path = write_dng(
        tmp_path / "k.dng",
        np.rint(readout).astype(np.uint16),
        xtrans,
        black=(256,),
        active=(top, left, bottom, right),
    )
    with open_mosaic(path) as mosaic:
        assert mosaic.values_dn.shape == (132, 150)
        for channel, level in black.items():
            assert mosaic.masked[channel].mean_dn == pytest.approx(level, abs=0.4)


def test_masked_border_counts_where_the_black_tag_is_wrong(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    readout = noisy((128, 160))
    readout[:, :20] = noisy((128, 20), 512.0, 5.0)
    path = write_dng(
        tmp_path / "k.dng", readout, ("RG", "GB"), black=(0,), active=(0, 20, 128, 160)
    )
    with open_mosaic(path) as mosaic:
        assert mosaic.masked["G1"].mean_dn == pytest.approx(512.0, abs=1.0)


@pytest.mark.parametrize(
    ("width", "level_dn", "sd_dn"),
    [(4, 64.0, 3.0), (6, 64.0, 3.0), (20, 3000.0, 20.0), (20, 0.0, 0.0), (20, 200.0, 0.0)],
    ids=["narrow", "too narrow still", "sees light", "zeros", "constant"],
)
def test_border_that_is_not_masked_is_not_used(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, width: int, level_dn: float, sd_dn: float
) -> None:
    readout = noisy((128, 160))
    readout[:, :width] = noisy((128, width), level_dn, sd_dn)
    path = write_dng(tmp_path / "n.dng", readout, ("RG", "GB"), active=(0, width, 128, 160))
    with open_mosaic(path) as mosaic:
        assert dict(mosaic.masked) == {}


def test_lighter_of_two_borders_is_left_out(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    readout = noisy((128, 200))
    readout[:, :20] = noisy((128, 20), 64.0, 3.0)
    readout[:, 180:] = noisy((128, 20), 80.0, 3.0)
    path = write_dng(tmp_path / "n.dng", readout, ("RG", "GB"), active=(0, 20, 128, 180))
    with open_mosaic(path) as mosaic:
        assert mosaic.masked["B"].mean_dn == pytest.approx(64.0, abs=0.5)


def test_the_large_clean_border_counts_and_not_the_lowest(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    """A narrow strip of another offset, and a wide one into which light leaks all over."""
    readout = noisy((200, 300))
    readout[:, :12] = noisy((200, 12), 40.0, 3.0)
    readout[:, 250:] = noisy((200, 50), 64.0, 3.0)
    path = write_dng(tmp_path / "n.dng", readout, ("RG", "GB"), active=(0, 12, 200, 250))
    with open_mosaic(path) as mosaic:
        assert mosaic.masked["B"].mean_dn == pytest.approx(64.0, abs=0.5)

    readout = noisy((200, 300))
    readout[:, :20] = noisy((200, 20), 64.0, 3.0)
    leak = 12.0 * np.exp(-np.arange(60) / 20.0)
    readout[:, 240:] = np.rint(64.0 + leak + np.random.default_rng(3).normal(0.0, 3.0, (200, 60)))
    path = write_dng(tmp_path / "l.dng", readout, ("RG", "GB"), active=(0, 20, 200, 240))
    with open_mosaic(path) as mosaic:
        assert mosaic.masked["B"].mean_dn == pytest.approx(64.0, abs=0.5)


def test_masked_noise_that_was_cut_at_zero_gives_its_own_middle(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    readout = noisy((200, 300))
    dark = np.random.default_rng(4).normal(0.5, 6.0, (200, 40))
    readout[:, :40] = np.maximum(np.rint(dark), 0.0)
    path = write_dng(tmp_path / "z.dng", readout, ("RG", "GB"), active=(0, 40, 200, 300))
    with open_mosaic(path) as mosaic:
        for masked in mosaic.masked.values():
            assert masked.mean_dn == pytest.approx(0.5, abs=0.5)  # cut it would be 2.7
            assert masked.sd_dn == pytest.approx(6.0, rel=0.1)
            assert masked.cut_share == pytest.approx(0.5, abs=0.03)
