"""The invented series that shows a newcomer what a calibration looks like."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from profiler.errors import GreytareError
from profiler.simulate.sensor import load_body
from profiler.simulate.series import standard_series
from profiler.simulate.write import SeriesFiles, write_series

if TYPE_CHECKING:
    from collections.abc import Callable

    from profiler.simulate.series import SeriesSpec


def demo_spec() -> SeriesSpec:
    """Return the series of the invented Halden H2: pairs at three ISO labels, lens-cap frames."""
    return standard_series(
        load_body("halden-h2"),
        seed=11,
        labels=(100, 400, 800),
        pairs=True,
        darks=2,
        size=(960, 640),
        compression="lossless",
        shutter_scatter_ev=0.02,
    )


def check_new(out_dir: Path, *, overwrite: bool) -> None:
    """Raise GreytareError where a folder holds something that may not be written over."""
    if out_dir.exists() and any(out_dir.iterdir()) and not overwrite:
        raise GreytareError(
            "the folder is not empty", str(out_dir), "Name another folder, or add {replace}"
        )


def write_demo(
    out_dir: Path, progress: Callable[[int, int], None] | None = None, *, overwrite: bool = False
) -> SeriesFiles:
    """Write the series below a folder that is new or empty; return where its files lie."""
    check_new(out_dir, overwrite=overwrite)
    series = out_dir / "series"
    series.mkdir(parents=True, exist_ok=True)
    return write_series(demo_spec(), series, progress, overwrite=overwrite)
