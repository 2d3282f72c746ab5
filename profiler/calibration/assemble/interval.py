"""The 95 % interval that a budget gives."""

from __future__ import annotations

from profiler.calibration.fit import budget, montecarlo
from profiler.records import Estimate, Flag
from profiler.results import BudgetRow


def interval(
    value: float, rows: tuple[BudgetRow, ...], *, lower_bound: bool
) -> tuple[Estimate, tuple[Flag, ...]]:
    """Return the value with its 95 % interval after the GUM, held against a Monte Carlo of it.

    Where an end differs by more than the numerical tolerance (JCGM 101:2008, 8), the interval is
    the Monte Carlo one; with a flag where the digits shown differ.
    """
    u, dof = budget.combine(rows)
    linear = budget.expand(value, u, dof, lower_bound=lower_bound)
    half = 0.5 * (linear.high - linear.low)
    check = montecarlo.check_interval(rows, half, u)
    if check.valid:
        return linear, ()
    simulated = Estimate(
        value=value,
        u=u,
        low=value - check.half_ev,
        high=value + check.half_ev,
        lower_bound=lower_bound,
    )
    seen = check.apart_ev > 10.0 ** -budget.decimals(half)
    return simulated, (Flag(name="monte-carlo", size=check.apart_ev),) if seen else ()


def half_width_ev(rows: tuple[BudgetRow, ...]) -> float:
    """Return half the interval that these rows give, in EV."""
    found, _ = interval(0.0, rows, lower_bound=False)
    return found.high
