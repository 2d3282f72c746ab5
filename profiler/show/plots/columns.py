"""Picture of a whole profile: a column of response with residuals per result."""

from __future__ import annotations

from typing import TYPE_CHECKING

from profiler.show.calibration.identity import full_name
from profiler.show.plots import style
from profiler.show.plots.levels import case_name, draw_residuals, draw_response

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from profiler.results import ProfileData, Result


def overview(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return one figure: a column per result with response above residuals, clip marked."""
    from matplotlib.figure import Figure

    results = [result] if result else profile.results
    figure = Figure(figsize=(max(7.0, 4.9 * len(results)), 7.4), layout="constrained", dpi=110)
    axes = figure.subplots(
        2, len(results), squeeze=False, height_ratios=(3.0, 1.0), sharex="col", sharey="row"
    )
    for k, each in enumerate(results):
        for part in axes[:, k]:
            style.plain(part)
        draw_response(axes[0, k], each)
        draw_residuals(axes[1, k], each)
        axes[0, k].set_xlabel("")
        style.title(axes[0, k], case_name(each))
        if k:
            axes[0, k].set_ylabel("")
            axes[1, k].set_ylabel("")
    camera = full_name(profile.camera.make, profile.camera.model) or "Camera"
    figure.suptitle(
        style.literal(f"{camera}: raw level against exposure"), fontsize=13, color=style.INK
    )
    return figure
