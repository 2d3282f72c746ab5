"""All bodies of a model against their median, with those that stand out."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from profiler.calibration.fit.budget import coverage_factor
from profiler.fleet import p_values
from profiler.fleet.columns import measured
from profiler.fleet.compare import SIGNIFICANT, exact_value, usable
from profiler.fleet.correlation import Correlation, factors
from profiler.fleet.decide import current_rows, moment
from profiler.fleet.rows import Row, Value, sorted_rows

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FEW_FOR_SPREAD: Final = 5
"""Fewer bodies than this don't show how much a model spreads."""


@dataclass(frozen=True, kw_only=True)
class Deviation:
    """A body against the median of the others of its model.

    u_ev: of the difference by measurement alone; significant: by that (95 %). outlier: stands out
    of the spread of the model as well, allowing for the number of bodies looked at (5 %);
    probability: of so much by chance, corrected for their number.
    """

    row: Row
    others: int
    median_ev: float
    difference_ev: float
    u_ev: float
    significant: bool
    probability: float
    outlier: bool

    @property
    def half_ev(self) -> float:
        """Half the 95 % interval of the difference by measurement alone, in EV."""
        return coverage_factor(math.inf) * self.u_ev


@dataclass(frozen=True, kw_only=True)
class ModelGroup:
    """All bodies of one model in one lens, mode, light and ISO label.

    chi_squared about their mean, over n - 1: Birge ratio squared, 1 where uncertainties explain all
    of the spread; probability: of as much by chance. spread_ev: standard deviation from body to
    body beyond the uncertainties. bounds: bodies left out because only a lower bound is known.
    aim_stops: of an offset, None for what doesn't depend on it. only: the value of the one body
    that there is, None where there are several or none.
    """

    make: str
    model: str
    case: tuple[str, ...]
    quantity: str
    aim_stops: float | None
    median_ev: float
    spread_ev: float
    chi_squared: float
    birge_ratio: float
    probability: float
    deviations: tuple[Deviation, ...]
    bounds: tuple[Row, ...]
    only: Value | None = None

    @property
    def spread_known(self) -> bool:
        """Whether there are enough bodies to show the spread; it stands at 0 where not."""
        return len(self.deviations) >= FEW_FOR_SPREAD


def compare_models(
    rows: Sequence[Row], quantity: str, sharing: Correlation | None = None
) -> list[ModelGroup]:
    """Return each model's bodies against the median of the others, outliers told.

    Of each body counts the latest result by the meter that most bodies of its group share, else its
    latest by any other: how two meters differ would count as a difference of bodies.
    """
    table = current_rows(rows)
    held: dict[tuple[object, ...], list[Row]] = defaultdict(list)
    for row in table.take(measured(table, quantity)):
        aim = row.aim_stops if quantity == "offset_ev" else 0.0
        held[(row.camera_make, row.camera_model, row.case, aim)].append(row)
    return [
        _group(sorted_rows(_by_shared_meter(members)), quantity, sharing or Correlation())
        for _, members in sorted(held.items(), key=lambda item: repr(item[0]))
    ]


def _by_shared_meter(rows: Sequence[Row]) -> list[Row]:
    """One row of each body: the latest by the meter that most of them share, else the latest."""
    shared = shared_meter(rows)
    chosen: dict[tuple[str, str, str], Row] = {}
    for row in rows:
        other = chosen.get(row.body)
        rank = (row.meter == shared and shared is not None, moment(row))
        if other is None or rank >= (other.meter == shared and shared is not None, moment(other)):
            chosen[row.body] = row
    return list(chosen.values())


def shared_meter(rows: Sequence[Row]) -> tuple[str, str, str] | None:
    """Return the meter with a serial that most bodies were measured by; None without one.

    Of two that as many share, the one that was used last.
    """
    bodies: dict[tuple[str, str, str], set[tuple[str, str, str]]] = defaultdict(set)
    last: dict[tuple[str, str, str], tuple[str, int]] = {}
    for row in rows:
        if row.meter is not None:
            bodies[row.meter].add(row.body)
            last[row.meter] = max(last.get(row.meter, ("", 0)), moment(row))
    return max(bodies, key=lambda meter: (len(bodies[meter]), last[meter], meter), default=None)


def _group(rows: list[Row], quantity: str, sharing: Correlation) -> ModelGroup:
    import numpy as np

    aim = rows[0].aim_stops if quantity == "offset_ev" else None
    exact = [row for row in rows if usable(row, quantity)]
    bounds = tuple(row for row in rows if not usable(row, quantity))
    y = np.array([exact_value(row, quantity).value for row in exact])
    if len(exact) < 2:
        return ModelGroup(
            make=rows[0].camera_make,
            model=rows[0].camera_model,
            case=rows[0].case,
            quantity=quantity,
            aim_stops=aim,
            median_ev=float(y[0]) if exact else math.nan,
            spread_ev=0.0,
            chi_squared=0.0,
            birge_ratio=1.0,
            probability=1.0,
            deviations=(),
            bounds=bounds,
            only=exact_value(exact[0], quantity) if exact else None,
        )
    own, loads = factors(exact, quantity, sharing)
    n = len(exact)
    chi_squared = _chi_squared(y, own, loads)
    spread = _spread(y, own)
    medians = _medians_of_others(y)
    u = np.sqrt(_variance_against_median(own, loads))
    z = (y - medians) / np.sqrt(u**2 + spread**2)
    dof = max(2.0, p_values.MAD_EFFICIENCY * (n - 1)) if spread > 0.0 else math.inf
    by_chance = p_values.holm([p_values.two_sided(float(value), dof) for value in z])
    deviations = tuple(
        Deviation(
            row=row,
            others=n - 1,
            median_ev=float(medians[i]),
            difference_ev=float(y[i] - medians[i]),
            u_ev=float(u[i]),
            significant=abs(float(y[i] - medians[i])) > coverage_factor(math.inf) * float(u[i]),
            probability=by_chance[i],
            outlier=n > 2 and by_chance[i] < SIGNIFICANT,  # of two, nobody can say which
        )
        for i, row in enumerate(exact)
    )
    return ModelGroup(
        make=rows[0].camera_make,
        model=rows[0].camera_model,
        case=rows[0].case,
        quantity=quantity,
        aim_stops=aim,
        median_ev=float(np.median(y)),
        spread_ev=spread,
        chi_squared=chi_squared,
        birge_ratio=math.sqrt(chi_squared / (n - 1)),
        probability=p_values.chi_squared_tail(chi_squared, n - 1),
        deviations=deviations,
        bounds=bounds,
    )


def _chi_squared(
    y: NDArray[np.float64], own: NDArray[np.float64], loads: NDArray[np.float64]
) -> float:
    """(y - mean)^T V^-1 (y - mean) about the generalised mean, V = diag(own) + loads loads^T.

    V^-1 by the matrix inversion lemma, so that the cost stays linear in the number of bodies.
    """
    import numpy as np

    inner = np.eye(loads.shape[1]) + (loads / own[:, None]).T @ loads

    def solve(vector: NDArray[np.float64]) -> NDArray[np.float64]:
        plain = vector / own
        corrected: NDArray[np.float64] = (
            plain - (loads @ np.linalg.solve(inner, loads.T @ plain)) / own
        )
        return corrected

    ones = solve(np.ones_like(y))
    centred = y - float(ones @ y) / float(ones.sum())
    return max(0.0, float(centred @ solve(centred)))


def _spread(y: NDArray[np.float64], own: NDArray[np.float64]) -> float:
    """Standard deviation from body to body beyond their own uncertainties; few outliers don't bend
    it. Errors common to all shift all bodies alike, so they aren't part of it."""
    import numpy as np

    if y.size < FEW_FOR_SPREAD:
        return 0.0
    seen = p_values.MAD_TO_SD * float(np.median(np.abs(y - np.median(y))))
    return math.sqrt(max(0.0, seen**2 - float(np.median(own))))


def _medians_of_others(y: NDArray[np.float64]) -> NDArray[np.float64]:
    import numpy as np

    ranks = np.argsort(np.argsort(y, kind="stable"), kind="stable")
    ordered = np.sort(y)
    m = y.size - 1
    low, high = (m - 1) // 2, m // 2
    # leaving out rank r moves every place at or beyond r up by one
    medians: NDArray[np.float64] = 0.5 * (
        ordered[low + (low >= ranks)] + ordered[high + (high >= ranks)]
    )
    return medians


def _variance_against_median(
    own: NDArray[np.float64], loads: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Variance (EV^2) of each result minus the median of the others.

    var(y_i) + var(median) - 2 cov; the median's variance is what its members have in common, plus
    pi/(2m + pi - 2) of their mean own variance, m members (asymptotically pi/2m, exact for one).
    Good to 3 % of u where one meter was used, to 7 % where several were, in sessions.
    """
    m = own.size - 1
    squares = (loads**2).sum(axis=1)
    others = loads.sum(axis=0) - loads
    with_others = (loads * others).sum(axis=1) / m
    common = (others**2).sum(axis=1) - (squares.sum() - squares)
    common = common / max(1, m * (m - 1))
    mean_variance = ((own + squares).sum() - (own + squares)) / m
    share = math.pi / (2.0 * m + math.pi - 2.0)
    if m == 1:
        common = 0.0 * common
    of_median = common + share * (mean_variance - common)
    variance: NDArray[np.float64] = own + squares + of_median - 2.0 * with_others
    return variance.clip(min=1e-10)
