"""A fault that a simulated series can be given, with its size."""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from profiler.errors import GreytareError
from profiler.simulate.levels import Effects
from profiler.simulate.series import SeriesSpec, Shot

Change = Callable[[SeriesSpec, float], SeriesSpec]
Switch = Callable[[SeriesSpec], SeriesSpec]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing that goes wrong: name, usual size with unit, one line of what it does.

    An empty unit marks a plain switch, which takes no size. low..high: sizes that make sense.
    """

    name: str
    size: float
    unit: str
    what: str
    change: Change
    low: float = 0.0
    high: float = math.inf

    def apply(self, spec: SeriesSpec, size: float | None = None) -> SeriesSpec:
        """Return the series with this fault, at its usual size or at the one given."""
        chosen = self.size if size is None else size
        self.check(chosen)
        changed = self.change(spec, chosen)
        return replace(changed, faults=(*spec.faults, (self.name, chosen)))

    def check(self, size: float) -> None:
        """Raise GreytareError where a size makes no sense for this fault."""
        if not self.unit:
            if size != self.size:
                raise GreytareError("this fault takes no size", self.name, f"Write {self.name}")
            return
        whole = self.unit == "frames" or self.unit == "bits"
        if not self.low <= size <= self.high or (whole and size != int(size)):
            top = "" if self.high == math.inf else f" to {self.high:g}"
            kind = "whole numbers" if whole else "sizes"
            raise GreytareError(
                f"{size:g} isn't a size for this fault",
                self.name,
                f"Use {kind} from {self.low:g}{top or ' up'} ({self.unit})",
            )


class Faults(list[Fault]):
    """The faults of one kind; each is a function of a series, whose docstring says what it does."""

    def sized(
        self, name: str, size: float, unit: str, *, low: float = 0.0, high: float = math.inf
    ) -> Callable[[Change], Change]:
        """Add a fault of a usual size; low..high: sizes that make sense."""

        def add(change: Change) -> Change:
            what = _said(change)
            self.append(
                Fault(name=name, size=size, unit=unit, what=what, change=change, low=low, high=high)
            )
            return change

        return add

    def switch(self, name: str) -> Callable[[Switch], Switch]:
        """Add a fault without a size."""

        def add(change: Switch) -> Switch:
            what = _said(change)
            self.append(
                Fault(name=name, size=1.0, unit="", what=what, change=lambda spec, _: change(spec))
            )
            return change

        return add


def _said(change: Callable[..., SeriesSpec]) -> str:
    """The first line of a docstring as the end of a list's entry."""
    line = (change.__doc__ or "").partition("\n")[0].removesuffix(".")
    return line[:1].lower() + line[1:]


def generator(spec: SeriesSpec, name: str) -> np.random.Generator:
    """Return the generator of one fault in one series."""
    return np.random.default_rng([spec.seed, zlib.crc32(name.encode())])


def lit_frames(spec: SeriesSpec, iso: int | None = None) -> list[int]:
    """Return the numbers, from 0, of the frames with light; at one ISO label if it is given."""
    return [
        index
        for index, shot in enumerate(spec.shots)
        if not shot.dark and (iso is None or shot.iso == iso)
    ]


def some_frames(spec: SeriesSpec, count: float, name: str) -> list[int]:
    """Return `count` of the frames with light, drawn from the seed, in rising order."""
    lit = lit_frames(spec)
    chosen = generator(spec, name).choice(len(lit), size=min(int(count), len(lit)), replace=False)
    return sorted(lit[int(i)] for i in chosen)


def edit_shots(
    spec: SeriesSpec, frames: Iterable[int], change: Callable[[int, Shot], dict[str, Any]]
) -> SeriesSpec:
    """Return the series with fields of some shots changed as change(index, shot) says."""
    shots = list(spec.shots)
    for index in frames:
        shots[index] = replace(shots[index], **change(index, shots[index]))
    return replace(spec, shots=tuple(shots))


def with_effects(spec: SeriesSpec, **fields: Any) -> SeriesSpec:
    """Return the series with some effects set."""
    effects: Effects = replace(spec.effects, **fields)
    return replace(spec, effects=effects)
