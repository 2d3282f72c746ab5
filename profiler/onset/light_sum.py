"""Lights added up or taken off, with what each reading adds to the doubt about them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from profiler.exposure.quantities import exp2
from profiler.onset import margins
from profiler.onset.metered import Metered
from profiler.records import Estimate
from profiler.results import BudgetRow


@dataclass(frozen=True, kw_only=True)
class Light:
    """An amount of light, 1 at an exposure of f/1 for 1 s, with what each reading adds to it.

    slope: reading -> d amount / d(reading in EV), over ln 2; so the errors of readings that stand
    in two lights cancel where the lights are compared.
    """

    amount: float
    slope: Mapping[str, float]

    def __add__(self, other: Light) -> Light:
        return self._with(other, 1.0)

    def __sub__(self, other: Light) -> Light:
        return self._with(other, -1.0)

    def times(self, factor: float) -> Light:
        """Return the light that many times."""
        slope = {name: factor * value for name, value in self.slope.items()}
        return Light(amount=factor * self.amount, slope=slope)

    @property
    def stops(self) -> float:
        """log2 of the amount: 2 log2 N of the f-number that it asks for."""
        return math.log2(self.amount)

    def _with(self, other: Light, sign: float) -> Light:
        slope = dict(self.slope)
        for name, value in other.slope.items():
            slope[name] = slope.get(name, 0.0) + sign * value
        return Light(amount=self.amount + sign * other.amount, slope=slope)


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """The readings behind some lights, by name."""

    readings: Mapping[str, Metered]

    def light(self, name: str, shift_ev: float) -> Light:
        """Return the light that a reading stands for: 2^(EV100 + shift)."""
        amount = exp2(self.readings[name].ev100 + shift_ev)
        return Light(amount=amount, slope={name: amount})

    def stops(self, light: Light) -> Estimate:
        """Return log2 of a light with its uncertainty."""
        return self._estimate(light.stops, {n: s / light.amount for n, s in light.slope.items()})

    def stops_over(self, light: Light, other: Light) -> Estimate:
        """Return the stops that one light lies over another; shared errors cancel."""
        names = dict.fromkeys([*light.slope, *other.slope])
        sensitivity = {
            name: light.slope.get(name, 0.0) / light.amount
            - other.slope.get(name, 0.0) / other.amount
            for name in names
        }
        return self._estimate(light.stops - other.stops, sensitivity)

    def _estimate(self, value: float, sensitivity: Mapping[str, float]) -> Estimate:
        rows: list[BudgetRow] = []
        for name, factor in sensitivity.items():
            rows += [
                replace(
                    row,
                    sensitivity=row.sensitivity * factor,
                    contribution_ev=row.contribution_ev * abs(factor),
                )
                for row in self.readings[name].rows()
            ]
        return margins.estimate(value, tuple(rows))
