"""Two calibrations of one photographer, label by label: what moved alike, and what by itself."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from profiler.calibration.fit import budget
from profiler.errors import ProfileError
from profiler.files.profile import load_profile
from profiler.fleet.compare import SIGNIFICANT, Difference, difference, half_width, usable
from profiler.fleet.correlation import Correlation
from profiler.fleet.read_rows import rows_of
from profiler.fleet.rows import Row
from profiler.records import Estimate
from profiler.results import METER_SOURCES, BudgetRow, ProfileData, Result, Source

QUANTITY: Final = "clip_headroom_ev"
"""Headroom moves as the offset does, whatever the aims."""
_ALIKE: Final = (
    Source.APERTURE_MARK,
    Source.CARD_REFLECTANCE,
    Source.PATCH_GRADIENT,
    Source.TIME_RULE,
)
_LEAST_LABELS: Final = 3
"""Of two labels that moved apart nobody can tell which one did."""


@dataclass(frozen=True, kw_only=True)
class Change:
    """One ISO label in one mode and light: the second calibration less the first, in EV.

    beyond_ev: what is left beyond the change of the labels that moved alike, without the errors
    that a series' labels share; None for a label alone. by_itself: more than chance explains.
    """

    whole: Difference
    beyond_ev: Estimate | None
    by_itself: bool

    @property
    def case(self) -> tuple[int, str, str]:
        """ISO label, mode, light."""
        return self.whole.a.iso, self.whole.a.mode, self.whole.a.light


@dataclass(frozen=True, kw_only=True)
class TwoCalibrations:
    """Two profiles held against each other.

    alike_ev: mean change of the labels that moved alike, with its 95 % interval. apart: labels
    moved differently, but two can't tell which did. differs: what isn't the same in both, first
    and second. iris_cancels: both at one aperture of one lens, so that its iris is common.
    first_only, second_only: cases that only one of them holds, or holds as a bound.
    """

    changes: tuple[Change, ...]
    alike_ev: Estimate
    apart: bool
    differs: Mapping[str, tuple[str, str]]
    iris_cancels: bool
    first_only: tuple[str, ...]
    second_only: tuple[str, ...]


def compare_two(first: Path, second: Path, sharing: Correlation | None = None) -> TwoCalibrations:
    """Return how the second calibration differs from the first, common errors taken out.

    Errors of the meter and the card cancel as in a fleet (fleet.correlation); the iris where both
    were shot at one aperture by a lens of one name on one body. Within a series all labels share
    reading, iris and card, so that labels are held against each other far more sharply.
    ProfileError where they have no mode, light and ISO label in common.
    """
    one, other = load_profile(first), load_profile(second)
    if {f.sha256 for f in one.provenance.frames} & {f.sha256 for f in other.provenance.frames}:
        raise ProfileError(
            "both rest on the same frames, so their errors are the same ones",
            f"{first} and {second}",
            "Give profiles of two series",
        )
    iris = _same_iris(one, other)
    rows = [
        {
            (row.mode, row.light, row.iso): row
            for row in rows_of(_at_aperture(data) if iris else data, path, below=path.parent)
        }
        for data, path in ((one, first), (other, second))
    ]
    both = [
        case
        for case in sorted(rows[0].keys() & rows[1].keys())
        if usable(rows[0][case], QUANTITY) and usable(rows[1][case], QUANTITY)
    ]
    if not both:
        raise ProfileError(
            "they have no ISO label in one mode and light in common whose clip both saw",
            f"{first} and {second}",
            "Calibrate both in the same way",
        )
    wholes = [difference(rows[1][case], rows[0][case], QUANTITY, sharing) for case in both]
    own = [_own_rows(one, case, rows[0]) + _own_rows(other, case, rows[1]) for case in both]
    alone = _standing_out([whole.value_ev for whole in wholes], own)
    alike = [i for i in range(len(both)) if i not in alone]
    return TwoCalibrations(
        changes=tuple(
            Change(
                whole=whole,
                beyond_ev=_beyond(i, wholes, own, [k for k in alike if k != i]),
                by_itself=i in alone,
            )
            for i, whole in enumerate(wholes)
        ),
        alike_ev=_mean([wholes[i] for i in alike], [own[i] for i in alike]),
        apart=_apart([whole.value_ev for whole in wholes], own),
        differs=_differs(one, other),
        iris_cancels=iris,
        first_only=tuple(_words(case) for case in sorted(rows[0].keys() - set(both))),
        second_only=tuple(_words(case) for case in sorted(rows[1].keys() - set(both))),
    )


def _standing_out(values: Sequence[float], own: Sequence[list[BudgetRow]]) -> set[int]:
    """Labels that moved by themselves: the furthest is taken out while it is more than chance."""
    alone: set[int] = set()
    if len(values) < _LEAST_LABELS:
        return alone
    while len(values) - len(alone) > _LEAST_LABELS - 1:
        left = [i for i in range(len(values)) if i not in alone]
        pulls = {
            i: _pull(values, own, i, [k for k in left if k != i], tries=len(values)) for i in left
        }
        furthest = max(left, key=lambda i: abs(pulls[i]))
        if abs(pulls[furthest]) <= 1.0:
            return alone
        alone.add(furthest)
    return alone


def _apart(values: Sequence[float], own: Sequence[list[BudgetRow]]) -> bool:
    return len(values) == _LEAST_LABELS - 1 and abs(_pull(values, own, 0, [1], tries=1)) > 1.0


def _pull(
    values: Sequence[float],
    own: Sequence[list[BudgetRow]],
    i: int,
    others: Sequence[int],
    *,
    tries: int,
) -> float:
    """Distance of one label from others over its interval, so wide that chance of `tries` counts.

    The probability of chance is shared out over the labels (Bonferroni).
    """
    u, dof = _beyond_u(own, i, others)
    apart = values[i] - _weighted([values[k] for k in others], [own[k] for k in others])
    return apart / (budget.coverage_factor(dof, 1.0 - SIGNIFICANT / tries) * u)


def _beyond(
    i: int, wholes: Sequence[Difference], own: Sequence[list[BudgetRow]], others: Sequence[int]
) -> Estimate | None:
    if not others:
        return None
    u, dof = _beyond_u(own, i, others)
    alike = _weighted([wholes[k].value_ev for k in others], [own[k] for k in others])
    return budget.expand(wholes[i].value_ev - alike, u, dof)


def _beyond_u(own: Sequence[list[BudgetRow]], i: int, others: Sequence[int]) -> tuple[float, float]:
    """Standard uncertainty of a label against the weighted mean of others, by their own errors."""
    weights = [1.0 / _variance(own[k]) for k in others]
    total = math.fsum(weights)
    rows = list(own[i])
    for k, weight in zip(others, weights, strict=True):
        rows += [_scaled(row, weight / total) for row in own[k]]
    u, dof = budget.combine(rows)
    return max(u, 1e-4), dof


def _mean(wholes: Sequence[Difference], own: Sequence[list[BudgetRow]]) -> Estimate:
    """Mean change of labels that moved alike: their own errors average, the shared ones don't."""
    value = _weighted([whole.value_ev for whole in wholes], own)
    averaged = 1.0 / math.fsum(1.0 / _variance(rows) for rows in own)
    shared = max(
        max(whole.u_ev**2 - _variance(rows), 0.0) for whole, rows in zip(wholes, own, strict=True)
    )
    u = math.sqrt(averaged + shared)
    half = max(half_width(u, (whole.a, whole.b), QUANTITY) for whole in wholes)
    return Estimate(value=value, u=u, low=value - half, high=value + half)


def _weighted(values: Sequence[float], own: Sequence[list[BudgetRow]]) -> float:
    weights = [1.0 / _variance(rows) for rows in own]
    pairs = zip(weights, values, strict=True)
    return math.fsum(w * v for w, v in pairs) / math.fsum(weights)


def _variance(rows: Sequence[BudgetRow]) -> float:
    return max(math.fsum(row.contribution_ev**2 for row in rows), 1e-8)


def _scaled(row: BudgetRow, part: float) -> BudgetRow:
    return replace(row, contribution_ev=part * row.contribution_ev)


def _own_rows(
    data: ProfileData, case: tuple[str, str, int], rows: Mapping[tuple[str, str, int], Row]
) -> list[BudgetRow]:
    """The sources that the labels of a series don't share: the rest moves them alike."""
    mode, light, iso = case
    series = [r for r in data.results if (r.mode, r.light) == (mode, light)]
    result = next(r for r in series if r.iso == iso)
    shared = _ALIKE + (METER_SOURCES if _one_reading(series) else ())
    return [row for row in result.budget if row.source not in shared]


def _one_reading(series: Sequence[Result]) -> bool:
    """Whether all labels rest on the same readings: each then has 1/sqrt(k) of one's error."""
    shares = [
        row.sensitivity
        for result in series
        for row in result.budget
        if row.source == Source.METER_REPEATABILITY
    ]
    if len(shares) < len(series) or max(shares) - min(shares) > 0.01 * max(shares):
        return False
    readings = 1.0 / max(shares) ** 2
    return abs(readings - round(readings)) < 0.02 * readings


def _same_iris(one: ProfileData, other: ProfileData) -> bool:
    marks = {
        None if r.at_measured_aperture is None else r.at_measured_aperture.aperture
        for r in (*one.results, *other.results)
    }
    named = bool(one.lens.model) and one.lens == other.lens
    body = bool(one.camera.serial) and one.camera == other.camera
    return named and body and len(marks) == 1 and None not in marks


def _at_aperture(data: ProfileData) -> ProfileData:
    """The profile with the intervals of its one aperture in place of those for any."""
    results = []
    for result in data.results:
        here = result.at_measured_aperture
        if here is None:
            raise ValueError("the result has no interval for one aperture")
        results.append(
            replace(
                result,
                offset_ev=here.offset_ev,
                exposure_index=here.exposure_index,
                clip_headroom_ev=here.clip_headroom_ev,
                effective_dof=here.effective_dof,
                budget=tuple(row for row in result.budget if row.source != Source.APERTURE_MARK),
            )
        )
    return replace(data, results=tuple(results))


def _differs(one: ProfileData, other: ProfileData) -> dict[str, tuple[str, str]]:
    def told(data: ProfileData) -> dict[str, str]:
        camera, meter = data.camera, data.meter
        apertures = sorted({result.aperture_band for result in data.results})
        return {
            "made": data.provenance.created[:10],
            "body": f"{camera.make} {camera.model} {camera.serial}".strip(),
            "lens": data.lens.model,
            "apertures": ", ".join(f"{a:g}" if a == b else f"{a:g} to {b:g}" for a, b in apertures),
            "meter": f"{meter.make} {meter.model} {meter.serial}".strip(),
            "meter constants": f"K {meter.k_cd_m2:g}, C {meter.c_flat_lx:g} flat, "
            f"{meter.c_dome_lx:g} dome",
        }

    first, second = told(one), told(other)
    return {name: (first[name], second[name]) for name in first if first[name] != second[name]}


def _words(case: tuple[str, str, int]) -> str:
    return f"ISO {case[2]}, {case[0]}, {case[1]}"
