"""Pictures over what stands on the body's dials: ISO labels, shutter times."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from profiler.calibration.fit.budget import coverage_factor
from profiler.errors import GreytareError
from profiler.exposure.stops import nearest_time_mark
from profiler.show.channels import colour_name
from profiler.show.plots import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from profiler.results import ProfileData, Result

_HEIGHT_IN = 5.2
_MARKS = ("o", "s", "^", "D", "v", "P")


def iso(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return clip headroom, error of the steps and read noise over the ISO labels.

    result: taken for the sake of the other plots, whole profiles only are drawn.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(style.WIDTH_IN, _HEIGHT_IN), dpi=style.DPI)
    axes = style.panels(figure, (1.0, 1.0, 1.0), _HEIGHT_IN, gap_in=0.2)
    _draw_headroom(axes[0], profile.results)
    _draw_steps(axes[1], profile)
    _draw_noise(axes[2], profile.results)
    labels = sorted({each.iso for each in profile.results})
    axes[2].set_xscale("log", base=2)
    axes[2].set_xlim(labels[0] / 1.3, labels[-1] * 1.3)
    axes[2].set_xticks(labels, [str(label) for label in labels], minor=False)
    axes[2].minorticks_off()
    if len(labels) > 8:
        axes[2].tick_params(axis="x", rotation=60)
    style.label(axes[2], x="ISO label")
    figure.align_ylabels(axes)
    style.title(axes[0], "ISO behaviour")
    return figure


def _draw_headroom(axes: Axes, results: tuple[Result, ...]) -> None:
    modes = list(dict.fromkeys((each.mode, each.light) for each in results))
    for k, (mode, light) in enumerate(modes):
        # labels of several modes stand side by side
        shift = 2.0 ** (0.06 * (k - 0.5 * (len(modes) - 1)))
        own = [each for each in results if (each.mode, each.light) == (mode, light)]
        for seen in (True, False):
            shown = [each for each in own if each.clip_headroom_ev.lower_bound is not seen]
            if not shown:
                continue
            estimates = [each.clip_headroom_ev for each in shown]
            style.points(
                axes,
                [each.iso * shift for each in shown],
                [e.value for e in estimates],
                ([e.value - e.low for e in estimates], [e.high - e.value for e in estimates]),
                fmt=_MARKS[k % len(_MARKS)],
                markerfacecolor=style.INK if seen else style.PAPER,
                markersize=5,
                label=style.literal(f"{mode}, {light}{'' if seen else ': at least'}"),
            )
    axes.margins(y=0.25)
    style.label(axes, y="headroom, EV")
    bound = any(each.clip_headroom_ev.lower_bound for each in results)
    if bound or len(modes) > 1:
        low, high = axes.get_ylim()
        lines = len(axes.get_legend_handles_labels()[1])
        axes.set_ylim(low, high + 0.25 * (high - low) * lines)
        style.legend(axes)


def _draw_steps(axes: Axes, profile: ProfileData) -> None:
    rows = profile.iso_steps
    axes.axhline(0.0, color=style.PALE, linewidth=1.0)
    k = coverage_factor(float("inf"))
    style.points(
        axes,
        [row.iso for row in rows],
        [row.step_ev - row.asked_ev for row in rows],
        [k * row.u_ev for row in rows],
        markersize=5,
    )
    error = max((abs(row.step_ev - row.asked_ev) + k * row.u_ev for row in rows), default=0.0)
    reach = max(0.1, 1.2 * error)
    style.even(axes, reach)
    for row in rows:
        words = ", ".join(w for w in (row.digital, "dual gain" if row.dual_gain else "") if w)
        if words:
            style.note(axes, words, row.iso, -0.95 * reach, va="bottom")
    if not rows:
        style.note(axes, "one label only", 0.5, 0.75, xycoords="axes fraction")
    style.label(axes, y="step error, EV")


def _draw_noise(axes: Axes, results: tuple[Result, ...]) -> None:
    names = dict.fromkeys(name for each in results for name in each.channels)
    top, k = 0.0, coverage_factor(float("inf"))
    for name in names:
        if name == "G2" and "G1" in names:
            continue  # alike but for the rows
        colour, marker, line = style.look(name)
        shown: dict[int, tuple[float, float]] = {}
        for each in results:
            channel = each.channels.get(name)
            if channel is not None and channel.read_noise_e is not None:
                u = channel.read_noise_u_e or 0.0
                shown.setdefault(each.iso, (channel.read_noise_e, k * u))
        if not shown:
            continue
        top = max(top, *(value + half for value, half in shown.values()))
        rows = sorted(shown.items())
        style.points(
            axes,
            [label for label, _ in rows],
            [value for _, (value, _) in rows],
            [half for _, (_, half) in rows],
            fmt=marker,
            linestyle=line,
            color=colour,
            capsize=2,
            linewidth=1.2,
            label=colour_name(name).capitalize(),
        )
    if top > 0.0:
        axes.set_ylim(0.0, 1.15 * top)
        style.legend(axes, "lower left")
    else:
        style.note(axes, "not measured", 0.5, 0.5, xycoords="axes fraction")
    style.label(axes, y="read noise, e-")


_TIMES_IN = 2.9
_TICK_GAP = 0.14


def shutter(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return the mean error of each marked time in EV with its 95 % interval.

    result: taken for the sake of the other plots, whole profiles only are drawn.
    """
    from matplotlib.figure import Figure

    rows = profile.shutter
    if not rows:
        raise GreytareError(
            "the profile holds no shutter table",
            "shutter",
            "Fit a series that was bracketed by time",
        )
    figure = Figure(figsize=(style.WIDTH_IN, _TIMES_IN), dpi=style.DPI)
    (axes,) = style.panels(figure, (1.0,), _TIMES_IN)
    k = coverage_factor(float("inf"))
    axes.axhline(0.0, color=style.PALE, linewidth=1.0)
    style.points(
        axes,
        [row.time_s for row in rows],
        [row.deviation_ev for row in rows],
        [k * row.u_ev for row in rows],
    )
    axes.set_xscale("log", base=2)
    ticks = _apart([row.time_s for row in rows])
    axes.set_xticks(ticks, [nearest_time_mark(time_s).label.removesuffix(" s") for time_s in ticks])
    axes.minorticks_off()
    reach = max(0.1, 1.2 * max(abs(row.deviation_ev) + k * row.u_ev for row in rows))
    style.even(axes, reach, 7)
    style.label(axes, x="marked time, s", y="more light than stated, EV")
    style.title(axes, "Shutter times")
    return figure


def _apart(times_s: list[float]) -> list[float]:
    """Times whose names don't touch: each a part of the axis away from the one before."""
    stops = math.log2(times_s[-1] / times_s[0])
    kept: list[float] = []
    for time_s in times_s:
        if not kept or math.log2(time_s / kept[-1]) >= _TICK_GAP * stops:
            kept.append(time_s)
    return kept
