"""The line with frame errors: truth recovered, honest uncertainty, slips found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares

from profiler.calibration.fit import response
from profiler.calibration.fit.response import LineData, deviations, fit_lines, solve_line

BLACK = np.full(4, 512.0)
METERED = np.array([900.0, 2000.0, 2000.0, 1300.0])


def label(seed: int, scatter_ev: float, slip_ev: float = 0.0, black_known: bool = True) -> LineData:
    """Eight frames from 4.5 stops under grey to clip, four channels, 14 bit."""
    rng = np.random.default_rng(seed)
    x = np.linspace(-4.5, 2.6, 8)
    error = rng.normal(0.0, scatter_ev, 8)
    error[4] += slip_ev
    signal = METERED * 2.0 ** (x + error)[:, None]
    u = np.sqrt(0.02**2 + (0.0005 * signal) ** 2 + signal / 20000.0)
    level = BLACK + signal + rng.normal(0.0, 1.0, signal.shape) * u
    return LineData(
        placement_ev=x,
        level_dn=level,
        level_u_dn=u,
        use=(level < 0.9 * 16383) & (signal > 80.0),
        black_dn=BLACK,
        black_u_dn=np.full(4, 0.3 if black_known else np.inf),
    )


def log_errors(fits):
    return [float(np.log2(fit.metered_dn[1] / METERED[1])) for fit in fits]


def test_exact_frames_give_the_metered_level():
    fit = fit_lines([label(1, 0.0)])[0]
    assert log_errors([fit])[0] == pytest.approx(0.0, abs=0.001)
    assert fit.slips == ()


def test_a_cell_at_black_has_no_deviation():
    """Its logarithm is none; the other channels tell the frame's deviation."""
    data = LineData(
        placement_ev=np.array([0.0, 1.0]),
        level_dn=np.array([[612.0, 512.0], [712.0, 912.0]]),
        level_u_dn=np.ones((2, 2)),
        use=np.ones((2, 2), dtype=bool),
        black_dn=np.full(2, 512.0),
        black_u_dn=np.full(2, 0.3),
    )
    deviation, u, rest = deviations(data, data.black_dn, np.log2([100.0, 200.0]))
    assert deviation == pytest.approx([0.0, 0.0])
    # 100 DN known to 1 DN: 1/(100 ln 2); both channels: 1/(sqrt(200² + 400²) ln 2)
    assert u == pytest.approx([1.0 / (100.0 * np.log(2.0)), 1.0 / (447.2136 * np.log(2.0))])
    assert np.isnan(rest[0, 1])
    assert rest[1] == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize("slip_ev", [0.5, 2.0])
def test_the_heavy_tailed_fit_has_settled(slip_ev):
    """Student's t with 3 degrees of freedom: another round of its weights moves nothing."""
    data = label(5, 0.05, slip_ev)
    black_dn, log_metered = response._robust(data)
    deviation, u, _ = deviations(data, black_dn, log_metered)
    off = np.where(np.isfinite(deviation), deviation, 0.0)
    weight = (response._ROBUST_DOF + 1.0) / (response._ROBUST_DOF + off**2 / (0.05**2 + u**2))
    again = response.solve_line(data, 0.05, weight, (black_dn, log_metered))
    assert again.log_metered == pytest.approx(log_metered, abs=1e-4)


def test_black_comes_from_the_line_where_nothing_else_knows_it():
    fit = fit_lines([label(2, 0.01, black_known=False)])[0]
    u = np.sqrt(np.diag(fit.covariance))[:4]
    assert np.all(np.abs(fit.black_dn - BLACK) < 4.0 * u)
    assert np.all(u < 5.0)


@pytest.mark.parametrize("scatter", [0.05, 0.15])
def test_stated_uncertainty_matches_what_happens(scatter):
    pulls = []
    for seed in range(150):
        for fit in fit_lines([label(3 * seed + k, scatter) for k in range(3)]):
            nu = fit.scatter_dof  # the pull has Student's t distribution
            spread = np.sqrt(fit.covariance[5, 5] * nu / (nu - 2.0))
            pulls.append(log_errors([fit])[0] / spread)
    # 450 values: standard error of the mean 0.047, of the spread 0.033
    assert abs(np.mean(pulls)) < 0.16
    assert 0.9 < np.std(pulls) < 1.1


def test_repeats_of_a_time_widen_what_the_line_states():
    """Eight times of three frames that share 0.05 EV: as 24 frames the pull would spread by 1.7."""
    pulls = []
    for seed in range(120):
        rng = np.random.default_rng(seed)
        time = np.repeat(np.arange(8), 3)
        x = np.linspace(-4.5, 2.6, 8)[time]
        error = rng.normal(0.0, 0.05, 8)[time] + rng.normal(0.0, 0.005, 24)
        signal = METERED * 2.0 ** (x + error)[:, None]
        u = np.sqrt(0.02**2 + (0.0005 * signal) ** 2 + signal / 20000.0)
        data = LineData(
            placement_ev=x,
            level_dn=BLACK + signal + rng.normal(0.0, 1.0, signal.shape) * u,
            level_u_dn=u,
            use=(signal < 0.9 * 15871.0) & (signal > 80.0),
            black_dn=BLACK,
            black_u_dn=np.full(4, 0.3),
            time=time,
        )
        fit = fit_lines([data])[0]
        pulls.append(log_errors([fit])[0] / np.sqrt(fit.covariance[5, 5]))
    assert 0.85 < np.std(pulls) < 1.3


def test_one_slip_is_found_and_left_out():
    for seed in range(40):
        clean = fit_lines([label(100 + seed, 0.05)])[0]
        spoilt = fit_lines([label(100 + seed, 0.05, slip_ev=1.0)])[0]
        assert spoilt.slips == (4,)
        assert abs(log_errors([spoilt])[0] - log_errors([clean])[0]) < 0.05
        assert spoilt.deviation_ev[4] == pytest.approx(1.0, abs=0.25)


def test_scatter_alone_is_no_slip():
    slips = sum(
        len(fit.slips)
        for seed in range(100)
        for fit in fit_lines([label(3 * seed + k, 0.05) for k in range(3)])
    )
    assert slips == 0


def test_solver_agrees_with_scipy():
    """A second road: the same residuals through scipy.optimize.least_squares."""
    data = label(7, 0.05)
    line = solve_line(data, 0.05, np.ones(8))
    black, log_metered, covariance = line.black_dn, line.log_metered, line.covariance
    rows, columns = np.nonzero(data.use)

    def residuals(p):
        signal = 2.0 ** (p[4 + columns] + data.placement_ev[rows] + p[8 + rows])
        cells = (data.level_dn[rows, columns] - p[columns] - signal) / data.level_u_dn[
            rows, columns
        ]
        return np.concatenate([cells, p[8:] / 0.05, (p[:4] - data.black_dn) / data.black_u_dn])

    start = np.concatenate([BLACK, np.log2(METERED), np.zeros(8)])
    other = least_squares(residuals, start, x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14)
    assert black == pytest.approx(other.x[:4], abs=1e-4)
    assert log_metered == pytest.approx(other.x[4:8], abs=1e-6)
    other_covariance = np.linalg.inv(other.jac.T @ other.jac)[:8, :8]
    assert np.sqrt(np.diag(covariance)) == pytest.approx(
        np.sqrt(np.diag(other_covariance)), rel=1e-3
    )


def test_shapes_that_disagree_are_a_programming_mistake():
    with pytest.raises(ValueError, match="shapes don't agree"):
        replace(label(1, 0.0), placement_ev=np.zeros(3))
