"""Registry of the faults that a simulated series can be given, one switch for each."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable
from typing import Final

from profiler.errors import GreytareError
from profiler.simulate.faults.fault import Fault
from profiler.simulate.faults.files import FILE_FAULTS
from profiler.simulate.faults.light import LIGHT_FAULTS
from profiler.simulate.faults.people import PEOPLE_FAULTS
from profiler.simulate.faults.sensor import SENSOR_FAULTS
from profiler.simulate.faults.setting import SETTING_FAULTS
from profiler.simulate.series import SeriesSpec

__all__ = ["FAULTS", "Fault", "parse_fault", "with_faults"]

FAULTS: Final[dict[str, Fault]] = {
    fault.name: fault
    for fault in (
        *SENSOR_FAULTS,
        *LIGHT_FAULTS,
        *SETTING_FAULTS,
        *FILE_FAULTS,
        *PEOPLE_FAULTS,
    )
}


def parse_fault(text: str) -> tuple[Fault, float]:
    """Return the fault with its size that `NAME` or `NAME=SIZE` asks for."""
    name, equals, size_text = (part.strip() for part in text.partition("="))
    if name not in FAULTS:
        near = difflib.get_close_matches(name, FAULTS, n=1)
        guess = f"Did you mean {near[0]}? " if near else ""
        raise GreytareError(
            f"there is no fault {name!r}", "", f"{guess}Use one of {', '.join(FAULTS)}", "fault"
        )
    fault = FAULTS[name]
    if not equals:
        return fault, fault.size
    try:
        size = float(size_text)
    except ValueError:
        size = math.nan
    if not math.isfinite(size):
        raise GreytareError(
            f"{size_text!r} isn't a size",
            name,
            f"Write {name}={fault.size:g}" + (f" ({fault.unit})" if fault.unit else ""),
        )
    fault.check(size)
    return fault, size


def with_faults(spec: SeriesSpec, texts: Iterable[str]) -> SeriesSpec:
    """Return the series with all faults that texts such as `knee=0.9` ask for, in that order."""
    for text in texts:
        fault, size = parse_fault(text)
        spec = fault.apply(spec, size)
    return spec
