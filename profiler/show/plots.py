"""Pictures of a result: response, residuals, clip per channel."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from profiler.show.text import COLOURS, full_name, headline

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from profiler.results import ProfileData, Result

# colour-blind-safe (Okabe, Ito 2008), and told apart by marker and line when printed in grey
STYLE = {
    "R": ("#D55E00", "o", "-"),
    "G1": ("#009E73", "s", "--"),
    "G": ("#009E73", "s", "--"),
    "G2": ("#006B4E", "D", "-."),
    "B": ("#0072B2", "^", ":"),
    "Y": ("#222222", "o", "-"),
}
INK, PALE = "#222222", "#777777"


def overview(profile: ProfileData) -> Figure:
    """Return one figure: a column per result with response above residuals, clip marked."""
    from matplotlib.figure import Figure

    results = profile.results
    figure = Figure(figsize=(max(7.0, 4.9 * len(results)), 7.4), layout="constrained", dpi=110)
    axes = figure.subplots(
        2,
        len(results),
        squeeze=False,
        height_ratios=(3.0, 1.0),
        sharex="col",
        sharey="row",
    )
    for k, result in enumerate(results):
        draw_response(axes[0, k], result)
        draw_residuals(axes[1, k], result)
        if k:
            axes[0, k].set_ylabel("")
            axes[1, k].set_ylabel("")
    camera = full_name(profile.camera.make, profile.camera.model) or "Camera"
    figure.suptitle(f"{camera}: raw level against exposure", fontsize=13, color=INK)
    return figure


def draw_response(axes: Axes, result: Result) -> None:
    """Draw levels against placement, the fitted line, clip per channel, grey and aim."""
    x = np.array([frame.placement_ev for frame in result.frames])
    low, high = float(x.min()) - 0.5, float(x.max()) + 0.5
    grid = np.linspace(low, high, 200)
    for name, channel in result.channels.items():
        colour, marker, line = STYLE.get(name, (INK, "x", "-"))
        level = np.array([frame.level_dn[name] for frame in result.frames]) - channel.black_dn
        used = np.array([frame.used for frame in result.frames])
        on = level > 0.0
        span = channel.clip_dn - channel.black_dn
        axes.plot(
            grid,
            np.minimum(channel.metered_dn * np.exp2(grid), span),
            line,
            color=colour,
            linewidth=1.2,
            label=COLOURS.get(name, name).capitalize(),
        )
        for mask, face in ((used & on, colour), (~used & on, "white")):
            axes.plot(
                x[mask], level[mask], marker, color=colour, markerfacecolor=face, markersize=5
            )
    first = _first(result)
    channel = result.channels[first]
    clip_x = channel.headroom_ev
    axes.axvline(0.0, color=PALE, linewidth=1.0)
    axes.axvline(clip_x, color=INK, linewidth=1.2, linestyle=(0, (4, 2)))
    axes.axvline(clip_x - result.aim_stops, color=PALE, linewidth=1.0, linestyle=(0, (1, 2)))
    axes.set_yscale("log", base=2)
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
    top = axes.get_ylim()[1]
    axes.set_ylim(top=top * 2.2)
    notes = [
        (0.0, "metered grey", "left"),
        (clip_x, f"{first if len(first) == 1 else first[0]} clips", "right"),
        (clip_x - result.aim_stops, "aim", "right" if clip_x < result.aim_stops else "left"),
    ]
    for where, words, side in notes:
        axes.annotate(
            words,
            (where, 0.03 if words != "aim" else 0.1),
            xycoords=("data", "axes fraction"),
            xytext=(3 if side == "left" else -3, 0),
            textcoords="offset points",
            fontsize=8,
            color=INK,
            rotation=90,
            ha="left" if side == "left" else "right",
            va="bottom",
        )
    axes.set_ylabel("level above black, DN (log scale)")
    axes.set_title(f"ISO {result.iso}, {result.mode}, {result.light}", fontsize=11, color=INK)
    axes.set_xlim(low, high)
    axes.grid(True, color="#dddddd", linewidth=0.6)
    axes.legend(
        loc="upper left", fontsize=8, frameon=False, title="filled: on the line", title_fontsize=8
    )


def draw_residuals(axes: Axes, result: Result) -> None:
    """Draw how far each frame lies off the line, in EV."""
    x = np.array([f.placement_ev for f in result.frames if f.residual_ev is not None])
    y = np.array([f.residual_ev for f in result.frames if f.residual_ev is not None])
    used = np.array([f.used for f in result.frames if f.residual_ev is not None], dtype=bool)
    scatter = result.frame_scatter_ev
    axes.axhspan(-scatter, scatter, color="#e6e6e6", linewidth=0)
    axes.axhline(0.0, color=PALE, linewidth=1.0)
    axes.plot(x[used], y[used], "o", color=INK, markersize=4)
    axes.plot(x[~used], y[~used], "x", color="#D55E00", markersize=7, markeredgewidth=2)
    reach = max(0.1, 1.25 * float(np.max(np.abs(y), initial=0.0)), 2.5 * scatter)
    axes.set_ylim(-reach, reach)
    axes.set_ylabel("off the line, EV")
    axes.set_xlabel("placement: stops above what the meter asked for (EV)")
    axes.grid(True, color="#dddddd", linewidth=0.6)


def save_overview(profile: ProfileData, path: Path) -> None:
    """Write the overview as PNG, PDF or SVG, by the ending of `path`; whole or not at all."""
    from profiler.errors import GreytareError
    from profiler.files.whole import write_whole

    kind = path.suffix.lower().lstrip(".")
    if kind not in ("png", "pdf", "svg"):
        raise GreytareError(
            f"a picture can't be written as {path.suffix or 'a file without an ending'}",
            str(path),
            "End its name in .png, .pdf or .svg",
        )
    figure = overview(profile)
    buffer = io.BytesIO()
    figure.savefig(buffer, format=kind)
    write_whole(path, buffer.getvalue(), replace=True)


def alt_text(result: Result) -> str:
    """Return what the picture of a result shows, for those who can't see it."""
    return f"Raw level against exposure at ISO {result.iso}. {headline(result)}"


def _first(result: Result) -> str:
    name = result.first_to_clip
    return name if name in result.channels else "G1"
