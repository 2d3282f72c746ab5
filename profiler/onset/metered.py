"""What today's meter asked for, from one reading or the average of several."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from profiler import standards
from profiler.calibration.assemble.budget_rows import linearity_row
from profiler.calibration.fit import budget
from profiler.errors import ExposureError
from profiler.exposure.display import display_step_ev
from profiler.exposure.linearity import straightened
from profiler.exposure.modes import is_flash, receptor
from profiler.exposure.readings import Reading, parse_reading
from profiler.records import Meter
from profiler.results import BudgetRow, Source

Average = Literal["stops", "light"]
AVERAGES: Final[tuple[Average, ...]] = ("stops", "light")

_WRITE: Final = {
    "spot": "EV, cd/m2, fL, or f/8 1/125 ISO 100",
    "flat": "EV, lx, fc, or f/8 1/125 ISO 100",
    "dome": "EV, lx, fc, or f/8 1/125 ISO 100",
}


@dataclass(frozen=True, kw_only=True)
class Coarse:
    """A reading in whole EV, as typed, and with the figure that the meter may have shown."""

    text: str
    finer: str


@dataclass(frozen=True, kw_only=True)
class Metered:
    """EV at ISO 100 that the meter asked for in a mode (flash: 2 log2 N at ISO 100).

    as_stops_ev100 is the mean of the readings' EVs, as_light_ev100 the EV of their mean light;
    ev100 is the one that `average` names. repeatability_ev and step_ev are those of one reading;
    share is what one reading's error adds: 1/sqrt(n) of n equal ones. The EVs are corrected by what
    the meter's file says of its linearity; linearity_u_ev is what that leaves in doubt, and
    linearity_basis how it was found, "" where nobody measured it. coarse: the first reading that
    was taken as a meter's whole steps although tenths may only not have been typed.
    """

    mode: str
    texts: tuple[str, ...]
    ev100: float
    average: Average
    as_stops_ev100: float
    as_light_ev100: float
    repeatability_ev: float
    step_ev: float
    share: float
    linearity_u_ev: float = 0.0
    linearity_basis: str = ""
    coarse: Coarse | None = None

    def rows(self) -> tuple[BudgetRow, ...]:
        """Return what the reading adds to a budget: repeatability with display step, in EV."""
        many = f", mean of {len(self.texts)}" if len(self.texts) > 1 else ""
        rows = (
            budget.averaged(
                Source.READING,
                self.repeatability_ev,
                f"+-{self.repeatability_ev:g} EV{many}",
                share=self.share,
            ),
            budget.averaged(
                Source.READING_STEP,
                0.5 * self.step_ev,
                f"step {self.step_ev:.2g} EV{many}",
                share=self.share,
            ),
            budget.stated(Source.READING_LINEARITY, self.linearity_u_ev, self.linearity_basis),
        )
        return tuple(row for row in rows if row.contribution_ev > 0.0)


def read_meter_texts(
    texts: str | Sequence[str],
    mode: str,
    meter: Meter,
    *,
    average: Average = "stops",
    where: str = "reading",
    held: Sequence[str] = (),
) -> Metered:
    """Return what one reading, or several separated by semicolons, asked for.

    As stops: mean of the EVs. As light: log2 of the mean of 2^EV. The errors of the readings are
    independent, so the mean of n has 1/sqrt(n) of one's. held: the modes of a profile, so that a
    reading of another kind is refused with those, not with modes that the profile lacks.

    >>> both = read_meter_texts("EV 10; EV 12", "spot", Meter(), average="light")
    >>> both.as_stops_ev100, round(both.as_light_ev100, 3)
    (11.0, 11.322)
    """
    if average not in AVERAGES:
        raise ValueError(f"average must be one of {', '.join(AVERAGES)}, not {average!r}")
    parts = [texts] if isinstance(texts, str) else list(texts)
    typed = tuple(part.strip() for text in parts for part in text.split(";") if part.strip())
    if not typed:
        raise ExposureError(
            "it has no reading", where, "Write what the meter showed, for example EV 10.3"
        )
    found, readings = [], []
    for text in typed:
        place = f"{where} '{text}'" if len(text) <= 60 else where
        readings.append(parse_reading(text, place))
        if held and not readings[-1].suits(mode):
            raise _unsuited(readings[-1], mode, held, place)
        found.append(
            straightened(readings[-1].metered_ev100(mode, meter, where=place), mode, meter)
        )
    evs = [each.ev100 for each in found]
    top = max(evs)
    light = [math.exp2(ev - top) for ev in evs]
    as_stops = math.fsum(evs) / len(evs)
    as_light = top + math.log2(math.fsum(light) / len(light))
    weights = [1.0] * len(evs) if average == "stops" else light
    total = math.fsum(weights)
    step_ev = display_step_ev(readings, meter.resolution_ev)
    whole = [r for r in readings if r.form == "ev"]
    typed_whole = meter.resolution_ev is None and step_ev >= standards.COARSE_STEP_EV
    linearity = linearity_row(found, [weight / total for weight in weights])
    return Metered(
        mode=mode,
        texts=typed,
        ev100=as_stops if average == "stops" else as_light,
        average=average,
        as_stops_ev100=as_stops,
        as_light_ev100=as_light,
        repeatability_ev=meter.repeatability_ev,
        step_ev=step_ev,
        share=math.hypot(*weights) / total,
        linearity_u_ev=linearity.u_ev,
        linearity_basis=linearity.basis,
        coarse=_coarse(whole[0]) if whole and typed_whole else None,
    )


def _unsuited(reading: Reading, mode: str, held: Sequence[str], where: str) -> ExposureError:
    """The refusal of a reading that the mode can't show, with what would do for the profile."""
    others = [each for each in held if reading.suits(each)]
    write = "f/11+2 ISO 100"
    if not is_flash(mode):
        write = _WRITE[receptor(mode)]
    choose = f"Choose {{mode}} {' or '.join(others)}, or give" if others else "Give"
    return ExposureError(
        f"the profile was made by {' and '.join(held)}, and no meter shows this by {mode}",
        where,
        f"{choose} a {mode} reading: {write}",
    )


def _coarse(reading: Reading) -> Coarse:
    at = "" if reading.iso is None else f" at ISO {reading.iso:g}"
    return Coarse(text=reading.text, finer=f"EV {reading.value:.1f}{at}")
