"""The patch found in scenes of many kinds, all drawn with noise and a known card."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest

from profiler.errors import MeasureError
from profiler.frames.cfa import Cfa, parse_cfa, period
from profiler.frames.find_patch import find_patch, patch_from_fractions
from profiler.records import Mosaic, Patch

WIDTH, HEIGHT = 960, 640
BLACK_DN, WHITE_DN = 256.0, 4095.0
RGGB = parse_cfa("RGGB", "test")
XTRANS = parse_cfa("GBGGRG/RGRBGB/GBGGRG/GRGGBG/BGBRGR/GRGGBG", "test")
CAST = {"R": 0.55, "G1": 1.0, "G2": 1.0, "G": 1.0, "B": 0.7, "Y": 1.0}

Box = tuple[float, float, float, float]
"""Left, top, right, bottom as fractions of the frame."""
FRAME: Box = (0.0, 0.0, 1.0, 1.0)


@dataclass
class Scene:
    """Light on the sensor, in DN of green above black."""

    light_dn: np.ndarray = field(default_factory=lambda: np.full((HEIGHT, WIDTH), 900.0))
    colour: dict[str, np.ndarray] = field(default_factory=dict)
    hot_share: float = 0.0

    def put(self, box: Box, level_dn: float) -> Scene:
        self.light_dn[_slices(box)] = level_dn
        return self

    def mosaic(self, cfa: Cfa = RGGB, seed: int = 5) -> Mosaic:
        rng = np.random.default_rng(seed)
        high, wide = period(cfa)
        names = np.tile(np.array(cfa), (HEIGHT // high + 1, WIDTH // wide + 1))[:HEIGHT, :WIDTH]
        light = self.light_dn * np.vectorize(CAST.get)(names)
        for channel, factor in self.colour.items():
            light = np.where(names == channel, light * factor, light)
        values = rng.normal(light + BLACK_DN, np.sqrt(9.0 + 0.3 * light))
        if self.hot_share:
            values[rng.random(values.shape) < self.hot_share] = WHITE_DN
        codes = np.clip(np.rint(values), 0, WHITE_DN).astype(np.uint16)
        channels = {name for row in cfa for name in row}
        return Mosaic(
            values_dn=codes,
            cfa=cfa,
            black_tag_dn=dict.fromkeys(channels, BLACK_DN),
            white_tag_dn=dict.fromkeys(channels, WHITE_DN),
        )


def _slices(box: Box) -> tuple[slice, slice]:
    left, top, right, bottom = box
    return (
        slice(round(top * HEIGHT), round(bottom * HEIGHT)),
        slice(round(left * WIDTH), round(right * WIDTH)),
    )


def _texture(contrast: float, grain_px: int = 12, seed: int = 9) -> np.ndarray:
    """Grains of random brightness, mean 1."""
    rng = np.random.default_rng(seed)
    coarse = rng.uniform(
        1 - contrast, 1 + contrast, (HEIGHT // grain_px + 1, WIDTH // grain_px + 1)
    )
    return np.kron(coarse, np.ones((grain_px, grain_px)))[:HEIGHT, :WIDTH]


def _vignetting(stops: float) -> np.ndarray:
    y, x = np.mgrid[:HEIGHT, :WIDTH]
    radius2 = ((x / WIDTH - 0.5) ** 2 + (y / HEIGHT - 0.5) ** 2) / 0.5
    return 2.0 ** (-stops * radius2)


def _blur(light: np.ndarray, reach: int = 8) -> np.ndarray:
    kernel = np.ones(2 * reach + 1) / (2 * reach + 1)
    padded = np.pad(light, reach, mode="edge")
    rows = np.apply_along_axis(np.convolve, 1, padded, kernel, mode="valid")
    return np.apply_along_axis(np.convolve, 0, rows, kernel, mode="valid")


def full_card() -> tuple[Scene, Box]:
    return Scene(), FRAME


def vignetted_card() -> tuple[Scene, Box]:
    return Scene(light_dn=900.0 * _vignetting(0.3)), (0.2, 0.2, 0.8, 0.8)


def off_centre_card() -> tuple[Scene, Box]:
    card = (0.06, 0.1, 0.48, 0.75)
    return Scene(light_dn=500.0 * _texture(0.3)).put(card, 900.0), card


def off_centre_card_on_even_ground() -> tuple[Scene, Box]:
    card = (0.06, 0.2, 0.48, 0.8)
    return Scene(light_dn=np.full((HEIGHT, WIDTH), 120.0)).put(card, 900.0), card


def small_card() -> tuple[Scene, Box]:
    card = (0.42, 0.4, 0.58, 0.62)
    return Scene(light_dn=np.full((HEIGHT, WIDTH), 250.0)).put(card, 900.0), card


def dark_surround() -> tuple[Scene, Box]:
    card = (0.3, 0.3, 0.7, 0.7)
    return Scene(light_dn=np.full((HEIGHT, WIDTH), 15.0)).put(card, 900.0), card


def bright_clipped_surround() -> tuple[Scene, Box]:
    card = (0.3, 0.3, 0.7, 0.7)
    return Scene(light_dn=np.full((HEIGHT, WIDTH), 9000.0)).put(card, 900.0), card


def blurred_edges() -> tuple[Scene, Box]:
    card = (0.35, 0.35, 0.65, 0.65)
    scene = Scene(light_dn=np.full((HEIGHT, WIDTH), 300.0)).put(card, 900.0)
    scene.light_dn = _blur(scene.light_dn)
    return scene, card


def text_label() -> tuple[Scene, Box]:
    """A label of fine dark lines across the lower part of the card."""
    scene = Scene()
    rows, columns = _slices((0.3, 0.55, 0.7, 0.7))
    label = scene.light_dn[rows, columns]
    label[np.random.default_rng(4).random(len(label)) < 0.3] *= 0.3
    return scene, (0.0, 0.0, 1.0, 0.55)


def line_pattern() -> tuple[Scene, Box]:
    """Lines finer than a block, as bright as the card on average."""
    scene = Scene()
    rows, columns = _slices((0.3, 0.5, 0.7, 0.75))
    lines = np.where(np.arange(HEIGHT) // 4 % 2 == 0, 1.15, 0.85)[:, None]
    scene.light_dn[rows, columns] *= lines[rows]
    return scene, (0.0, 0.0, 1.0, 0.5)


def coloured_wall_as_bright_in_green() -> tuple[Scene, Box]:
    card = (0.3, 0.3, 0.7, 0.7)
    factor = np.full((HEIGHT, WIDTH), 1.5)
    factor[_slices(card)] = 1.0
    return Scene(colour={"R": factor, "B": 1.0 / factor}), card


def hot_pixels() -> tuple[Scene, Box]:
    card = (0.2, 0.2, 0.8, 0.8)
    scene = Scene(light_dn=np.full((HEIGHT, WIDTH), 300.0), hot_share=1e-4).put(card, 900.0)
    return scene, card


def lit_from_one_side() -> tuple[Scene, Box]:
    ramp = np.linspace(0.8, 1.2, WIDTH)[None, :] * np.ones((HEIGHT, 1))
    return Scene(light_dn=900.0 * ramp), (0.2, 0.0, 0.8, 1.0)


def grey_step_chart() -> tuple[Scene, Box]:
    scene = Scene(light_dn=np.full((HEIGHT, WIDTH), 60.0))
    for k in range(5):
        scene.put((0.05 + 0.18 * k, 0.3, 0.21 + 0.18 * k, 0.7), 150.0 * 1.7**k)
    return scene, (0.41, 0.3, 0.57, 0.7)


def card_at_the_side_of_black_ground() -> tuple[Scene, Box]:
    card = (0.0, 0.0, 0.42, 1.0)
    return Scene(light_dn=np.full((HEIGHT, WIDTH), 6.0)).put(card, 900.0), card


def card_in_the_corner_of_an_even_ground() -> tuple[Scene, Box]:
    card = (0.55, 0.05, 0.95, 0.45)
    return Scene(light_dn=np.full((HEIGHT, WIDTH), 400.0)).put(card, 900.0), card


def white_label_on_a_full_card() -> tuple[Scene, Box]:
    return Scene().put((0.5, 0.5, 0.65, 0.6), 2500.0), FRAME


def black_ground_in_the_middle() -> tuple[Scene, Box]:
    card = (0.05, 0.1, 0.42, 0.9)
    return Scene(light_dn=np.full((HEIGHT, WIDTH), 6.0)).put(card, 900.0), card


def faint_frame() -> tuple[Scene, Box]:
    card = (0.25, 0.25, 0.75, 0.75)
    return Scene(light_dn=np.full((HEIGHT, WIDTH), 4.0)).put(card, 40.0), card


SCENES: list[Callable[[], tuple[Scene, Box]]] = [
    full_card,
    vignetted_card,
    off_centre_card,
    off_centre_card_on_even_ground,
    small_card,
    dark_surround,
    bright_clipped_surround,
    blurred_edges,
    text_label,
    line_pattern,
    card_at_the_side_of_black_ground,
    coloured_wall_as_bright_in_green,
    hot_pixels,
    lit_from_one_side,
    grey_step_chart,
    black_ground_in_the_middle,
    card_in_the_corner_of_an_even_ground,
    white_label_on_a_full_card,
    faint_frame,
]


def _assert_inside(patch: Patch, card: Box) -> None:
    left, top, right, bottom = card
    assert patch.x >= left * WIDTH
    assert patch.y >= top * HEIGHT
    assert patch.x + patch.width <= right * WIDTH
    assert patch.y + patch.height <= bottom * HEIGHT


MONO: Cfa = (("Y",),)
CASES = [
    pytest.param(make, cfa, id=f"{make.__name__}-{name}")
    for make in SCENES
    for name, cfa in (("bayer", RGGB), ("6x6", XTRANS), ("mono", MONO))
    # without colours that wall looks like the card
    if not (make is coloured_wall_as_bright_in_green and cfa is MONO)
]


@pytest.mark.parametrize(("make", "cfa"), CASES)
def test_patch_lies_on_the_card(make: Callable[[], tuple[Scene, Box]], cfa: Cfa) -> None:
    scene, card = make()
    mosaic = scene.mosaic(cfa)
    patch = find_patch(mosaic)
    _assert_inside(patch, card)
    high, wide = period(cfa)
    assert patch.x % wide == patch.width % wide == 0
    assert patch.y % high == patch.height % high == 0
    assert 32 <= patch.width <= 0.25 * WIDTH + wide
    assert 32 <= patch.height <= 0.25 * HEIGHT + high
    light = scene.light_dn[patch.y : patch.y + patch.height, patch.x : patch.x + patch.width]
    assert np.ptp(light) <= 0.16 * light.mean()


def test_full_card_gives_the_largest_patch_in_the_middle() -> None:
    patch = find_patch(full_card()[0].mosaic())
    assert patch == Patch(x=360, y=240, width=240, height=160)


def test_hot_pixels_do_not_make_the_patch_smaller() -> None:
    patch = find_patch(Scene(hot_share=3e-4).mosaic())
    assert (patch.width, patch.height) == (240, 160)


def test_patch_keeps_away_from_the_edges_of_the_card() -> None:
    scene, (left, top, right, bottom) = dark_surround()
    patch = find_patch(scene.mosaic())
    assert patch.x >= (left + 0.08 * (right - left)) * WIDTH
    assert patch.y + patch.height <= (bottom - 0.08 * (bottom - top)) * HEIGHT


@pytest.mark.parametrize("level_dn", [0, 256, 4095])
def test_even_frames_without_noise(level_dn: int) -> None:
    values = np.full((HEIGHT, WIDTH), level_dn, dtype=np.uint16)
    patch = find_patch(Mosaic(values_dn=values, cfa=RGGB))
    assert (patch.width, patch.height) == (240, 160)


def test_lens_cap_frame() -> None:
    scene = Scene(light_dn=np.zeros((HEIGHT, WIDTH)), hot_share=1e-4)
    assert find_patch(scene.mosaic()).width >= 100


def test_small_frame() -> None:
    values = np.random.default_rng(2).normal(1000.0, 10.0, (90, 120)).astype(np.uint16)
    patch = find_patch(Mosaic(values_dn=values, cfa=RGGB))
    assert patch.width >= 32
    assert patch.height >= 32


@pytest.mark.parametrize(
    "light_dn",
    [
        900.0 * _texture(0.5),
        900.0 * np.geomspace(0.01, 4.0, WIDTH)[None, :] * np.ones((HEIGHT, 1)),
        900.0 * (1.0 + 0.5 * (np.indices((HEIGHT, WIDTH)) // 24).sum(axis=0) % 2),
    ],
    ids=["texture", "steep light", "chequers of 24 px"],
)
def test_scene_without_a_card_is_refused(light_dn: np.ndarray) -> None:
    with pytest.raises(MeasureError, match=r"no even area was found.*patch X,Y,W,H"):
        find_patch(Scene(light_dn=light_dn).mosaic())


@pytest.mark.parametrize(
    ("text", "patch"),
    [
        ("0.25,0.25,0.5,0.5", Patch(x=240, y=160, width=480, height=320)),
        (" 0 , 0 , 1 , 1 ", Patch(x=0, y=0, width=960, height=640)),
        ("0.4995,0.5,0.1,0.1", Patch(x=480, y=320, width=94, height=64)),
    ],
)
def test_fractions(text: str, patch: Patch) -> None:
    assert patch_from_fractions(text, Scene().mosaic()) == patch


def test_fractions_are_aligned_to_a_long_period() -> None:
    patch = patch_from_fractions("0.1,0.1,0.3,0.3", Scene().mosaic(XTRANS))
    assert (patch.x % 6, patch.y % 6, patch.width % 6, patch.height % 6) == (0, 0, 0, 0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "isn't four numbers X,Y,W,H"),
        ("0.1,0.1,0.2", "isn't four numbers"),
        ("0.1,0.1,0.2,0.2,0.2", "isn't four numbers"),
        ("a,b,c,d", "isn't four numbers"),
        ("0.1,0.1,0,0.2", "doesn't lie inside the frame"),
        ("0.1,0.1,-0.2,0.2", "doesn't lie inside the frame"),
        ("-0.1,0.1,0.2,0.2", "doesn't lie inside the frame"),
        ("0.9,0.1,0.2,0.2", "doesn't lie inside the frame"),
        ("100,100,400,400", "doesn't lie inside the frame"),
        ("nan,0,1,1", "doesn't lie inside the frame"),
        ("0.1,0.1,inf,0.1", "doesn't lie inside the frame"),
        ("0.1,0.1,0.01,0.2", "is smaller than 32 x 32 pixels"),
    ],
)
def test_fractions_refused(text: str, message: str) -> None:
    with pytest.raises(MeasureError, match=message):
        patch_from_fractions(text, Scene().mosaic())
