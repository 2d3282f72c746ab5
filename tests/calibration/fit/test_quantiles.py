"""Quantiles against numpy's."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.quantiles import median, quantile, quantile_rows


@pytest.mark.parametrize("n", [1, 2, 5, 8, 101])
def test_against_numpy(n):
    values = np.random.default_rng(n).normal(size=(n, 3))
    for p in (0.0, 0.025, 0.5, 0.9, 1.0):
        assert quantile_rows(values, p) == pytest.approx(np.quantile(values, p, axis=0))
        assert quantile(values[:, 0], p) == pytest.approx(np.quantile(values[:, 0], p))
    assert median(values[:, 1]) == pytest.approx(np.median(values[:, 1]))


def test_nothing_has_no_quantile():
    with pytest.raises(ValueError, match="no values"):
        median([])
