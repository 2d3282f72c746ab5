"""One ISO label in one meter mode, with all that was found about it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.calibration.assemble.evenness import Evenness, find_evenness
from profiler.calibration.assemble.noise import find_transfers
from profiler.calibration.fit.labels import LabelFit, SeriesFit
from profiler.calibration.fit.noise import NoTransfer, Transfer
from profiler.calibration.fit.offset import Headroom, find_headroom
from profiler.calibration.fit.trend import Trend
from profiler.calibration.groups import Group
from profiler.calibration.reading_error import ReadingError, reading_error
from profiler.records import Meter


@dataclass(frozen=True, kw_only=True)
class Case:
    """Frames, fit, headroom and noise of one label, and what it shares with the series.

    no_transfer: channel -> why its noise can't be told.
    """

    group: Group
    fit: LabelFit
    series_fit: SeriesFit
    trend: Trend
    meter: Meter
    headroom: Headroom
    transfers: Mapping[str, Transfer]
    no_transfer: Mapping[str, str]
    evenness: Evenness
    reading_error: ReadingError

    @property
    def frame_weight(self) -> NDArray[np.float64]:
        """Part (n,) of each frame in the metered level that the headroom counts from."""
        response, k = self.fit.response, self.headroom.first
        span = self.fit.clip[k].level_dn - float(response.black_dn[k])
        channels = len(self.fit.channels)
        return np.asarray(
            response.influence[:, channels + k] + response.influence[:, k] / (span * math.log(2.0))
        )

    @property
    def middle(self) -> float:
        """Place in the series, 0 to 1, at which the label's frames stand on average."""
        weight = np.maximum(self.frame_weight, 0.0)
        total = float(weight.sum())
        return float(weight @ np.array(self.group.order)) / total if total > 0.0 else 0.5

    @property
    def by_t_stop(self) -> bool:
        """Whether every frame's aperture is a T-stop."""
        return all(exposure.t_stop is not None for exposure in self.group.exposures)

    @property
    def headroom_ev(self) -> float:
        """Headroom of the channel that clips first, in EV."""
        return float(self.headroom.headroom_ev[self.headroom.first])


def make_case(
    group: Group, fit: LabelFit, series_fit: SeriesFit, trend: Trend, meter: Meter
) -> Case:
    """Return the case of one fitted label."""
    found = find_transfers(group, fit)
    return Case(
        group=group,
        fit=fit,
        series_fit=series_fit,
        trend=trend,
        meter=meter,
        headroom=find_headroom(fit),
        transfers={name: t for name, t in found.items() if isinstance(t, Transfer)},
        evenness=find_evenness(group, fit),
        no_transfer={name: t.reason for name, t in found.items() if isinstance(t, NoTransfer)},
        reading_error=reading_error(group, meter),
    )
