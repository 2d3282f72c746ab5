"""Numbers with as many digits as their uncertainty deserves."""

from __future__ import annotations

import pytest

from profiler.records import Estimate
from profiler.show.rounding import plus_minus, signed


@pytest.mark.parametrize(
    ("value", "half", "plain", "with_sign"),
    [
        (0.537, 0.2, "0.5 ± 0.2", "+0.5 ± 0.2"),
        (-0.537, 0.02, "-0.54 ± 0.02", "-0.54 ± 0.02"),
        (-0.04, 0.2, "0.0 ± 0.2", "0.0 ± 0.2"),
        (0.04, 0.2, "0.0 ± 0.2", "0.0 ± 0.2"),
        (0.06, 0.2, "0.1 ± 0.2", "+0.1 ± 0.2"),
    ],
)
def test_a_sign_stands_before_what_is_not_zero(value, half, plain, with_sign):
    estimate = Estimate(value=value, u=half / 2.0, low=value - half, high=value + half)
    assert plus_minus(estimate) == plain
    assert signed(estimate) == with_sign
