"""A series of bare mosaics by numpy alone: linear, Poisson noise, a clip, no tags."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import tifffile

from profiler.files.sheet import Sheet, parse_sheet

BLACK_DN, CLIP_DN, METERED_DN = 512.0, 15520.0, 1000.0
"""METERED_DN: level of the greens above black in the frame that got what the meter asked for."""
COLOUR = {"R": 0.45, "G": 1.0, "B": 0.7}
TIMES = ("1/500", "1/250", "1/125", "1/60", "1/30", "1/15", "1/8", "1/4", "1/2", "1", "2")
EXACT_S = [2.0**-k for k in range(9, -2, -1)]
"""EV 10 at f/8 and ISO 100 asks for 1/16 s."""

Change = Callable[[int, np.ndarray], np.ndarray]


def headroom_ev() -> float:
    """Stops from the metered level of the greens up to clip."""
    return float(np.log2((CLIP_DN - BLACK_DN) / METERED_DN))


def mosaic(index: int, seed: int = 1, letters: str = "RGGB") -> np.ndarray:
    """Frame number `index` as codes of 14 bits: 4 electrons a code, 3 codes of read noise."""
    rng = np.random.default_rng((seed, index))
    colour = np.array([COLOUR[letter] for letter in letters]).reshape(2, 2)
    signal = METERED_DN * EXACT_S[index] * 16.0 * np.tile(colour, (60, 80))
    noisy = rng.poisson(4.0 * signal) / 4.0 + rng.normal(0.0, 3.0, signal.shape) + BLACK_DN
    return np.clip(np.rint(noisy), 0.0, CLIP_DN)


def write_planes(
    folder: Path, change: Change | None = None, dtype: type = np.uint16, suffix: str = ".tif"
) -> Sheet:
    """Write the series, each frame changed by `change(index, values)`; return its sheet."""
    import imageio.v3 as imageio

    folder.mkdir(exist_ok=True)
    rows = ["file,reading,mode,iso,time,aperture,cfa", "*,EV 10,spot,100,,8,RGGB"]
    for index, time in enumerate(TIMES):
        values = mosaic(index)
        values = values if change is None else change(index, values)
        name = f"f{index:02d}{suffix}"
        if suffix == ".tif":
            tifffile.imwrite(folder / name, values.astype(dtype), metadata=None)
        else:
            imageio.imwrite(folder / name, values.astype(dtype))
        rows.append(f"{name},,,,{time},,")
    return parse_sheet("\n".join(rows) + "\n", "sheet.csv")
