"""Picture of the photon transfer: variance of the noise against signal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from profiler.calibration.fit.noise import QUANTISATION_VARIANCE_DN2, TRANSFER_RANGE
from profiler.errors import GreytareError
from profiler.show.plots import style
from profiler.show.plots.levels import case_name

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure, FigureBase
    from numpy.typing import NDArray

    from profiler.results import Channel, ProfileData, Result

_HEIGHT_IN = 3.4


def transfer(profile: ProfileData, result: Result | None = None) -> Figure:
    """Return variance against signal per channel, of one result or of all that have noise."""
    wanted = [result] if result else list(profile.results)
    results = [
        each for each in wanted if any(_measured(channel) for channel in each.channels.values())
    ]
    if not results:
        raise GreytareError(
            "the noise was not measured",
            "photon transfer",
            "Shoot frames at three levels or more per ISO label, two of each, and fit again",
        )
    return style.stacked(results, _HEIGHT_IN, _draw)


def variance_dn2(channel: Channel, signal_dn: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the fitted variance in DN^2: read noise^2 + 1/12 + signal / gain.

    EMVA 1288 Release 4.0, photon transfer with sigma_q^2 = 1/12 DN^2 of rounding.
    """
    if channel.gain_e_per_dn is None or channel.read_noise_dn is None:
        raise ValueError("a channel without gain has no photon transfer")
    dark = channel.read_noise_dn**2 + QUANTISATION_VARIANCE_DN2
    return np.asarray(dark + signal_dn / channel.gain_e_per_dn)


def _measured(channel: Channel) -> bool:
    return channel.gain_e_per_dn is not None and channel.read_noise_dn is not None


def _draw(place: FigureBase, result: Result) -> None:
    (axes,) = style.panels(place, (1.0,), _HEIGHT_IN)
    low = 1.0
    for name, channel in result.channels.items():
        if not _measured(channel):
            continue
        colour, marker, _ = style.look(name)
        span = channel.clip_dn - channel.black_dn
        fitted = np.geomspace(low, TRANSFER_RANGE * span, 60)
        beyond = np.geomspace(TRANSFER_RANGE * span, span, 5)
        own = np.array(channel.transfer_points).reshape(-1, 2)
        own = own[own[:, 0] >= low]
        style.line(
            axes, name, fitted, variance_dn2(channel, fitted), f": {channel.gain_e_per_dn:#.3g}"
        )
        axes.plot(beyond, variance_dn2(channel, beyond), color=style.GRID, linewidth=2.5, zorder=1)
        if own.size:
            axes.plot(own[:, 0], own[:, 1], marker, color=colour, markersize=4.0)
    axes.set_xscale("log")
    axes.set_yscale("log")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(style.whole_number)
    axes.minorticks_off()
    _draw_floors(axes, result)
    # a decade of room below the lines for the words
    axes.set_ylim(bottom=axes.get_ylim()[0] / 8.0)
    style.label(axes, x="signal above black, DN", y="variance, DN²")
    style.title(axes, f"Photon transfer, {case_name(result)}")
    style.legend(axes, heading="gain, e-/DN")


def _draw_floors(axes: Axes, result: Result) -> None:
    """Mark the signals at which SNR falls to 1, 10 and 40, of the channel that falls first."""
    footroom = result.footroom_ev
    if footroom is None or footroom.channel not in result.channels:
        return
    metered = result.channels[footroom.channel].metered_dn
    for estimate, words in (
        (footroom.snr1, "SNR 1"),
        (footroom.snr10, "SNR 10"),
        (footroom.snr40, "SNR 40"),
    ):
        signal = metered / 2.0**estimate.value
        axes.axvline(signal, 0.0, 0.3, color=style.PALE, linewidth=1.2, linestyle=style.DASH["aim"])
        style.upright(axes, signal, words, "right")
