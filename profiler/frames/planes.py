"""The one plane of values in a TIFF or PNG file."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from profiler.errors import FrameError

_UNREADABLE: Final = (
    OSError, ValueError, RuntimeError, SyntaxError, EOFError, LookupError, TypeError,
    struct.error, zlib.error,
)  # fmt: skip
"""What the image readers raise on files that are damaged or of another kind."""

# TIFF 6.0
_BLACK_IS_ZERO: Final = {1, 32803, 34892}  # grey, colour filter array, linear raw (DNG 1.7.1)
_JPEG: Final = {6, 7, 34892}


@dataclass(frozen=True, kw_only=True)
class Plane:
    """Values of a file; top_dn: highest code that it can hold; lossy: name of a lossy coding."""

    values_dn: NDArray[np.uint16]
    top_dn: float
    lossy: str = ""


def read_plane(path: Path, content: bytes) -> Plane:
    """Return the values of a file's one plane, 8 bits as 16-bit numbers of the same size.

    Raises FrameError for a damaged file, several planes, a palette, other kinds of numbers.
    """
    import imageio.v3 as iio

    png = path.suffix.lower() == ".png"
    plugin = "pillow" if png else "tifffile"
    try:
        values = np.asarray(iio.imread(content, plugin=plugin))
        about = {} if png else iio.immeta(content, plugin=plugin, index=0)
    except _UNREADABLE as exc:
        raise FrameError(
            "the picture can't be read, it is damaged or not what its name says",
            path.name,
            "Write it again as an uncompressed 16-bit TIFF",
        ) from exc
    if values.ndim != 2 or values.dtype not in (np.uint16, np.uint8):
        held = f"{values.ndim - 1 if values.ndim < 3 else values.shape[-1]} planes"
        held = f"{values.dtype} values" if values.ndim == 2 else held
        raise _not_a_mosaic(f"it holds {held}", path)
    if int(about.get("PhotometricInterpretation", 1)) not in _BLACK_IS_ZERO:
        raise _not_a_mosaic("it holds a palette, or zero for white", path)
    eight = values.dtype == np.uint8
    coding = int(about.get("Compression", 1))
    return Plane(
        values_dn=values.astype(np.uint16, copy=False),
        top_dn=255.0 if eight else 65535.0,
        lossy="JPEG" if eight and coding in _JPEG else "",
    )


def _not_a_mosaic(what: str, path: Path) -> FrameError:
    return FrameError(
        f"{what}, where one plane of 16-bit sensor values is needed",
        path.name,
        "Write the mosaic itself: one plane, 16 bits, linear, not developed",
    )
