"""Pictures of a profile, each a matplotlib figure made from its records."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

from profiler.show.plots.bars import bars, budget
from profiler.show.plots.export import (
    described,
    figure_bytes,
    figure_svg,
    picture_kind,
    save_figure,
)
from profiler.show.plots.labels import iso, shutter
from profiler.show.plots.levels import (
    alt_text,
    clip,
    draw_residuals,
    draw_response,
    overview,
    residuals,
    response,
)
from profiler.show.plots.noise import transfer

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from profiler.results import ProfileData, Result

__all__ = [
    "PLOTS",
    "alt_text",
    "bars",
    "budget",
    "clip",
    "described",
    "draw_residuals",
    "draw_response",
    "figure_bytes",
    "figure_svg",
    "iso",
    "overview",
    "picture_kind",
    "residuals",
    "response",
    "save_figure",
    "save_overview",
    "save_plot",
    "shutter",
    "transfer",
]

PLOTS: Final[dict[str, Callable[[ProfileData, Result | None], Figure]]] = {
    "overview": overview,
    "bars": bars,
    "response": response,
    "residuals": residuals,
    "clip": clip,
    "transfer": transfer,
    "iso": iso,
    "shutter": shutter,
    "budget": budget,
}
"""Name -> function of a profile and one of its results (None: all of them) to a figure."""


def save_plot(
    profile: ProfileData,
    name: str,
    path: Path,
    result: Result | None = None,
    *,
    replace: bool = True,
) -> Path | None:
    """Write one plot as PNG, PDF or SVG, by the ending of `path`; whole or not at all.

    Returns where an older file was kept, if there was one.
    """
    picture_kind(path)
    return save_figure(PLOTS[name](profile, result), path, replace=replace)


def save_overview(profile: ProfileData, path: Path) -> None:
    """Write the overview as PNG, PDF or SVG, by the ending of `path`; whole or not at all."""
    save_plot(profile, "overview", path)
