"""Names and periods of colour filter arrays."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.errors import FrameError
from profiler.frames.cfa import channels, parse_cfa, phases, smallest_period


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (6, 6), (4, 4), (8, 2), (16, 16), (2, 3)])
def test_smallest_period_is_found(shape: tuple[int, int]) -> None:
    tile = np.arange(shape[0] * shape[1]).reshape(shape)
    sample = np.tile(tile, (40, 40))[:32, :32]
    assert smallest_period(sample) == shape


def test_no_period_in_noise() -> None:
    assert smallest_period(np.random.default_rng(1).integers(0, 4, (32, 32))) is None


@pytest.mark.parametrize(
    ("text", "first", "names"),
    [
        ("rggb", "R", ("R", "G1", "G2", "B")),
        (" bg gr ", "B", ("R", "G1", "G2", "B")),
        ("MONO", "Y", ("Y",)),
        ("RRGG/RRGG/GGBB/GGBB", "R", ("R", "G", "B")),
    ],
)
def test_parsed(text: str, first: str, names: tuple[str, ...]) -> None:
    cfa = parse_cfa(text, "sheet")
    assert cfa[0][0] == first
    assert channels(cfa) == names


def test_first_green_stands_in_reds_row() -> None:
    assert phases(parse_cfa("GBRG", "sheet"), "G1") == [(1, 1)]
    assert phases(parse_cfa("GBRG", "sheet"), "G2") == [(0, 0)]


@pytest.mark.parametrize("text", ["", "RGB", "RGGR", "GGRB", "RGXB", "RG/GB/", "R/G/B/GG", "RYYB"])
def test_refused(text: str) -> None:
    with pytest.raises(FrameError, match=r"names no colour filter array\. Write RGGB"):
        parse_cfa(text, "sheet")
