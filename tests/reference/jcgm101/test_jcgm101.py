"""JCGM 101:2008, clause 9 (inputs from memory; results recomputed exactly or with 4e6 trials)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from profiler.calibration.fit.budget import bounded, combine, stated
from profiler.calibration.fit.montecarlo import (
    BLOCK,
    LEAST_BLOCKS,
    MOST_BLOCKS,
    check_interval,
    numerical_tolerance,
    propagate,
    summary,
    unit_draws,
)

TRIALS = 400_000  # the 97.5 % point of these is then good to some 0.01


def rectangle(u: float):
    return bounded("rectangle", u * math.sqrt(3.0), "9.2")


def test_9_2_2_four_normals():
    rows = [stated("normal", 1.0, "9.2.2") for _ in range(4)]
    assert combine(rows)[0] == pytest.approx(2.0)
    drawn = propagate(rows, trials=TRIALS)
    assert drawn.u == pytest.approx(2.0, abs=0.01)
    assert (drawn.low, drawn.high) == pytest.approx((-3.92, 3.92), abs=0.03)


def test_9_2_3_four_rectangles():
    # exact: Irwin-Hall, 3.87941
    rows = [rectangle(1.0)] * 4
    assert combine(rows)[0] == pytest.approx(2.0)
    drawn = propagate(rows, trials=TRIALS)
    assert (drawn.low, drawn.high) == pytest.approx((-3.87941, 3.87941), abs=0.02)


def test_9_2_4_one_rectangle_rules():
    rows = [rectangle(1.0)] * 3 + [rectangle(10.0)]
    u, dof = combine(rows)
    assert (u, dof) == (pytest.approx(10.149, abs=5e-4), math.inf)
    drawn = propagate(rows, trials=TRIALS)
    assert (drawn.low, drawn.high) == pytest.approx((-17.0, 17.0), abs=0.05)
    assert 1.96 * u == pytest.approx(19.9, abs=0.05)  # what linear propagation would say


@pytest.mark.parametrize(
    ("x1", "mean", "u"),
    # x1^2 + x2^2 in 1e-6, u 0.005 each, x2 = 0; exact
    [(0.0, 50.0, 50.0), (0.010, 150.0, 112.0)],
)
def test_9_4_noise_in_quadrature(x1, mean, u):
    rng = np.random.default_rng(94)
    y = (x1 + rng.normal(0, 0.005, TRIALS)) ** 2 + rng.normal(0, 0.005, TRIALS) ** 2
    drawn = summary(1e6 * y)
    assert drawn.mean == pytest.approx(mean, abs=0.6)
    assert drawn.u == pytest.approx(u, abs=0.8)


def test_9_4_far_from_zero():
    rng = np.random.default_rng(95)
    y = (0.050 + rng.normal(0, 0.005, TRIALS)) ** 2 + rng.normal(0, 0.005, TRIALS) ** 2
    assert summary(1e6 * y).mean == pytest.approx(2550.0, abs=4.0)


@pytest.mark.parametrize(
    ("name", "sd"), [("rectangular", 0.57735), ("triangular", 0.40825), ("arcsine", 0.70711)]
)
def test_bounded_distributions(name, sd):
    values = unit_draws(name, np.random.default_rng(6), TRIALS)
    assert np.std(values) == pytest.approx(sd, abs=0.002)
    assert np.max(np.abs(values)) <= 1.0


def test_t_row_is_wider_than_its_u():
    # JCGM 101, 6.4.9: standard deviation of a scaled t is sqrt(nu/(nu-2)) u
    drawn = propagate([stated("few", 1.0, "t", dof=5.0)], trials=TRIALS)
    assert drawn.u == pytest.approx(math.sqrt(5.0 / 3.0), abs=0.02)


@pytest.mark.parametrize(
    ("u", "tolerance"),
    # 7.9.2: u = c 10^r; one digit, two where the first is a 1
    [(2.0, 0.5), (10.149, 0.5), (0.072, 0.005), (0.0999, 0.005), (0.1, 0.005), (0.19, 0.005),
     (0.2, 0.05), (0.035, 0.005), (0.0, 0.0)],
)  # fmt: skip
def test_7_9_2_numerical_tolerance(u, tolerance):
    assert numerical_tolerance(u) == pytest.approx(tolerance)


@pytest.mark.parametrize(
    ("rows", "half", "valid", "apart"),
    [
        ([stated("normal", 1.0, "9.2.2")] * 4, 3.92, True, 0.0),
        ([rectangle(1.0)] * 4, 3.92, True, 0.0406),  # 3.92 against Irwin-Hall's 3.87941
        ([rectangle(1.0)] * 3 + [rectangle(10.0)], 19.9, False, 2.9),
        # the same in EV, small enough for the tolerance to bite
        ([rectangle(0.01)] * 3 + [rectangle(0.1)], 0.199, False, 0.029),
    ],
)
def test_8_linear_propagation_is_valid_within_the_tolerance(rows, half, valid, apart):
    check = check_interval(rows, half, combine(rows)[0])
    assert check.valid is valid
    assert check.apart_ev == pytest.approx(apart, abs=0.02 * half)
    assert BLOCK * LEAST_BLOCKS <= check.trials <= BLOCK * MOST_BLOCKS


def test_7_9_4_trials_go_on_while_the_comparison_is_open():
    """95 % of a normal ends at 1.95996 u; trials end soon where all is clear."""
    rows = [stated("only", 0.19, "exact")]
    end = 1.95996 * 0.19
    clear = check_interval(rows, end + 0.05, 0.19)
    assert not clear.valid
    near = check_interval(rows, end + 0.0049, 0.19)
    assert near.trials >= 3 * clear.trials
    assert near.half_ev == pytest.approx(end, abs=0.001)  # a fifth of the tolerance
    assert check_interval(rows, end + 0.0075, 0.19).valid is False
    assert check_interval(rows, end - 0.0025, 0.19).valid is True
    assert check_interval(rows, end + 0.0049, 0.19) == near


def test_unknown_distribution():
    with pytest.raises(ValueError, match="isn't a bounded distribution"):
        unit_draws("gamma", np.random.default_rng(0), 3)
