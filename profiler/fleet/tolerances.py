"""The tolerances of a lab: limits per quantity, decision rule, interval, in a TOML file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from profiler.errors import GreytareError
from profiler.files.toml import parse_toml, read_toml
from profiler.fleet.rows import QUANTITIES, Row
from profiler.fleet.rules import NAMES, Limits, Rule

_LIMITS: Final = ("low", "high", "limit")
_CONDITIONS: Final = ("iso", "mode", "light", "camera_make", "camera_model", "lens_model")
_MOST_DAYS: Final = 36525
_TOP: Final = ("rule", "guard", "probability", "interval_days", "tolerances", "tolerance")


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """Limits of one quantity, for the rows that meet all conditions (column -> allowed values)."""

    quantity: str
    limits: Limits
    conditions: Mapping[str, tuple[object, ...]]

    def holds_for(self, row: Row) -> bool:
        """Whether the row meets every condition."""
        return all(getattr(row, name) in allowed for name, allowed in self.conditions.items())


@dataclass(frozen=True, kw_only=True)
class Tolerances:
    """All tolerances with the rule; interval_days: a verdict expires after so many days."""

    rule: Rule
    tolerances: tuple[Tolerance, ...]
    interval_days: int | None = None


def read_tolerances(path: Path) -> Tolerances:
    """Return the tolerances in a TOML file; GreytareError names the field that is wrong."""
    return _tolerances(read_toml(path, "the file of tolerances"), str(path))


def parse_tolerances(text: str, where: str) -> Tolerances:
    """Return the tolerances in `text`.

    rule = "simple" | "guard-band" | "conformance"; guard (times U); probability; interval_days;
    [tolerances] quantity = {low, high} or {limit} (both sides of zero); or [[tolerance]] blocks
    with quantity, limits and conditions (iso, mode, light, camera_make, camera_model, lens_model).
    """
    return _tolerances(parse_toml(text, where), where)


def _tolerances(data: dict[str, Any], where: str) -> Tolerances:
    for name in data:
        if name not in _TOP:
            raise GreytareError(f"{name!r} is not known", where, f"Use {', '.join(_TOP)}")
    name = data.get("rule", "conformance")
    if name not in NAMES:
        raise GreytareError(
            f"{name!r} isn't a decision rule", f"{where}, rule", f"Use {', '.join(NAMES)}"
        )
    rule = Rule(
        name=name,
        guard=_number(data.get("guard", 1.0), f"{where}, guard", 0.0, 10.0),
        probability=_number(data.get("probability", 0.95), f"{where}, probability", 0.501, 0.9999),
    )
    days = data.get("interval_days")
    if days is not None and (
        isinstance(days, bool) or not isinstance(days, int) or not 1 <= days <= _MOST_DAYS
    ):
        raise GreytareError(
            f"{days!r} isn't a number of days",
            f"{where}, interval_days",
            f"Write for example 365, {_MOST_DAYS} at most",
        )
    made = [
        _tolerance({"quantity": quantity} | _table(entry, f"{where}, {quantity}"), where)
        for quantity, entry in _table(data.get("tolerances", {}), where).items()
    ]
    blocks = data.get("tolerance", [])
    if not isinstance(blocks, list):
        raise GreytareError(
            "it isn't a list of blocks", f"{where}, tolerance", "Write [[tolerance]]"
        )
    made += [_tolerance(_table(block, where), where) for block in blocks]
    if not made:
        raise GreytareError(
            "it holds no tolerance", where, "Add [tolerances] with offset_ev = {limit = 0.33}"
        )
    return Tolerances(rule=rule, tolerances=tuple(made), interval_days=days)


def _tolerance(entry: dict[str, Any], where: str) -> Tolerance:
    quantity = entry.get("quantity")
    if quantity not in QUANTITIES:
        raise GreytareError(
            f"{quantity!r} isn't a quantity", where, f"Use one of {', '.join(QUANTITIES)}"
        )
    here = f"{where}, {quantity}"
    for name in entry:
        if name not in ("quantity", *_LIMITS, *_CONDITIONS):
            raise GreytareError(
                f"{name!r} is not known", here, f"Use {', '.join(_LIMITS + _CONDITIONS)}"
            )
    found = {name: _number(entry[name], here, -100.0, 100.0) for name in _LIMITS if name in entry}
    if "limit" in found and (len(found) > 1 or found["limit"] <= 0.0):
        raise GreytareError(
            "limit is not a positive number on its own", here, "Write limit, or low and high"
        )
    low = -found["limit"] if "limit" in found else found.get("low", -math.inf)
    high = found["limit"] if "limit" in found else found.get("high", math.inf)
    if not found or not low < high:
        raise GreytareError(
            "it has no limits that leave room", here, "Write low, high or both, low below high"
        )
    return Tolerance(
        quantity=quantity,
        limits=Limits(low=low, high=high),
        conditions={
            name: tuple(value) if isinstance(value := entry[name], list) else (value,)
            for name in _CONDITIONS
            if name in entry
        },
    )


def _table(value: object, where: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise GreytareError(f"{value!r} isn't a table", where, "Write {low = -0.33, high = 0.33}")
    return value


def _number(value: object, where: str, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise GreytareError(
            f"{value!r} isn't a usable number", where, f"Write one from {low:g} to {high:g}"
        )
    return float(value)
