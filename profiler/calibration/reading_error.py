"""How far the readings of one ISO label may be off, and which frames share an error.

The profile belongs to this meter, so an error that it always makes is no error of the pair of
body and meter. What counts is how readings of one light differ: repeatability (type B from limits,
JCGM 100:2008, 4.3.7), which the mean of k readings taken anew divides by sqrt(k) (4.2.3), and the
step of the display (F.2.2.1), which averages only where the readings' own scatter moves them
across the steps. Frames that share a reading share its error; the budget adds such groups by the
weights of their frames (5.1.2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from profiler.calibration.exposures import display_step_ev, shown_values, taken_readings

if TYPE_CHECKING:
    from profiler.calibration.groups import Group
    from profiler.records import Meter

_RECTANGLE = 1.0 / math.sqrt(3.0)


@dataclass(frozen=True, kw_only=True)
class ReadingError:
    """Errors of the readings that a label's n frames rest on.

    repeatability_ev and step_ev: limits +- of one reading, and the display's step. several: how
    many readings are averaged for a frame. taken, shown (n,): index of the reading, and of the
    value it showed. averages: whether rounding averages as the readings' own errors do.
    """

    repeatability_ev: float
    step_ev: float
    several: int
    taken: tuple[int, ...]
    shown: tuple[int, ...]
    own: bool

    @property
    def averages(self) -> bool:
        """Whether the readings' scatter moves them across the steps of the display."""
        return self.step_ev <= 2.0 * _RECTANGLE * self.repeatability_ev

    @property
    def u_ev(self) -> float:
        """Standard uncertainty of one frame's metered exposure."""
        rounding = 0.5 * _RECTANGLE * self.step_ev
        single = math.hypot(_RECTANGLE * self.repeatability_ev, rounding)
        return single / math.sqrt(self.several)

    @property
    def single_u_ev(self) -> float:
        """Standard uncertainty of one reading."""
        return self.u_ev * math.sqrt(self.several)

    @property
    def count(self) -> int:
        """How many readings taken anew stand behind the label."""
        return len(set(self.taken)) * self.several


def reading_error(group: Group, meter: Meter) -> ReadingError:
    """Return the errors of the readings of one ISO label in one mode."""
    exposures, mode = group.exposures, group.mode
    return ReadingError(
        repeatability_ev=meter.repeatability_ev,
        step_ev=display_step_ev(exposures, mode, meter),
        several=min(len(e.readings[mode]) for e in exposures),
        taken=tuple(taken_readings(exposures, group.order, mode, meter)),
        shown=tuple(shown_values(exposures, mode, meter)),
        own=all(e.own_reading for e in exposures),
    )
