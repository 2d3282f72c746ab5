"""Histories: slopes with honest uncertainty, control limits, adjustments, the next check."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import fleetlab
import numpy as np
import pytest

from profiler.errors import GreytareError
from profiler.fleet import bench
from profiler.fleet.decide import judge
from profiler.fleet.drift import common_drift, histories
from profiler.fleet.read_rows import profile_rows
from profiler.fleet.tolerances import parse_tolerances

SLOW = fleetlab.REPEAT_U * math.sqrt(0.5)
FAST = math.sqrt(fleetlab.U**2 - SLOW**2)
TOLERANCES = parse_tolerances("interval_days = 365\n[tolerances]\noffset_ev = {limit = 0.5}", "t")
DAYS = (0, 180, 365, 550, 730)


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    folder = tmp_path_factory.mktemp("base")
    path = fleetlab.keep(folder, "a", fleetlab.profile("1", 0.0), date="2024-01-01")
    return profile_rows(path, below=folder)[0]


def row(base, serial, offset, day, **changes):
    when = (date(2024, 1, 1) + timedelta(days=day)).isoformat()
    half = 1.959964 * fleetlab.U
    return replace(
        base,
        camera_serial=serial,
        series=f"{serial}/{when}",
        offset_ev=offset,
        offset_low_ev=offset - half,
        offset_high_ev=offset + half,
        date=when,
        **changes,
    )


def history(base, offsets, days=DAYS, tolerances=None, **changes):
    rows = [row(base, "1", y, d, **changes) for y, d in zip(offsets, days, strict=True)]
    (found,) = histories(rows, "offset_ev", tolerances=tolerances)
    return found


def test_a_straight_history_is_met_exactly(base):
    found = history(base, [0.1 + 0.2 * d / 365.25 for d in DAYS])
    assert found.trend.slope_ev_per_year == pytest.approx(0.2)
    assert found.trend.level_ev == pytest.approx(0.1 + 0.2 * 730 / 365.25)
    assert found.trend.birge_ratio == pytest.approx(0.0, abs=1e-6)
    # what all readings of one meter share doesn't bear on the slope
    x = np.array(DAYS) / 365.25
    assert found.trend.u_ev_per_year == pytest.approx(FAST / np.sqrt(((x - x.mean()) ** 2).sum()))


def test_slopes_are_as_uncertain_as_they_say(base):
    """Pulls over 200 drawn histories, each alone, and the share of false alarms."""
    rng = np.random.default_rng(7)
    pulls, alarms = [], 0
    for _ in range(200):
        truth = 0.05 * np.array(DAYS) / 365.25
        y = truth + rng.normal(0.0, SLOW) + rng.normal(0.0, FAST, len(DAYS))
        trend = history(base, [float(v) for v in y]).trend
        pulls.append((trend.slope_ev_per_year - 0.05) / trend.u_ev_per_year)
        alarms += not trend.low_ev_per_year <= 0.05 <= trend.high_ev_per_year
    # scatter beyond the uncertainties widens u, so the pulls lie a little closer
    assert np.mean(pulls) == pytest.approx(0.0, abs=4.0 / math.sqrt(200))
    assert 0.8 < np.std(pulls) < 1.1
    assert alarms <= 10 + 4 * math.sqrt(9.5)


def test_a_drift_counts_only_if_it_stands_out(base):
    steep = history(base, [0.3 * d / 365.25 for d in DAYS])
    assert steep.trend.significant
    assert steep.trend.probability < 1e-3
    flat = history(base, [0.01, -0.01, 0.0, 0.02, -0.02])
    assert not flat.trend.significant


def test_many_histories_raise_no_false_alarm(base):
    rng = np.random.default_rng(2)
    alarms = 0
    for _ in range(10):
        rows = [
            row(base, f"{k:03d}", float(rng.normal(0.0, FAST)), d)
            for k in range(100)
            for d in DAYS[:3]
        ]
        found = histories(rows, "offset_ev")
        alarms += any(h.trend.significant for h in found)
    assert alarms <= 2


def test_control_limits(base):
    found = history(base, [0.0, 0.0, 0.0, 0.0, 0.5])
    first, *middle, last = found.points
    assert (first.low_ev, first.outside, first.change_ev) == (None, False, None)
    assert not any(point.outside for point in middle)
    assert last.centre_ev == pytest.approx(0.0)
    # own errors of this one and of the mean of four; the meter's slow ones cancel
    assert last.high_ev == pytest.approx(3.0 * FAST * math.sqrt(1.25))
    assert last.outside
    assert last.change_ev == pytest.approx(0.5)
    assert last.change_u_ev == pytest.approx(FAST * math.sqrt(2.0))
    assert last.change_significant


def test_an_adjustment_begins_anew(base):
    days = (0, 365, 366, 500, 730)
    offsets = (0.0, 0.8, 0.0, 0.01, 0.02)
    states = ("", "as-found", "as-left", "", "")
    rows = [row(base, "1", y, d, state=s) for y, d, s in zip(offsets, days, states, strict=True)]
    (found,) = histories(rows, "offset_ev")
    assert found.adjusted == 2
    # what the adjustment changed on purpose is held against nothing before it
    assert [p.low_ev is None for p in found.points] == [True, False, True, False, False]
    assert [p.outside for p in found.points] == [False, True, False, False, False]
    assert not found.trend.significant
    assert not found.latest.outside
    (kept,) = histories([replace(r, state="") for r in rows], "offset_ev")
    assert kept.adjusted == 0


def test_each_adjustment_begins_anew(base):
    offsets = (0.8, 0.0, 0.02, 0.8, 0.01, 0.0)
    states = ("as-found", "as-left", "", "as-found", "as-left", "")
    rows = [
        row(base, "1", y, 100 * k, state=s)
        for k, (y, s) in enumerate(zip(offsets, states, strict=True))
    ]
    (found,) = histories(rows, "offset_ev")
    assert found.adjusted == 4
    assert [p.low_ev is None for p in found.points] == [True, True, False, False, True, False]
    assert [p.outside for p in found.points] == [False, False, False, True, False, False]


def test_another_meter_or_mode_is_another_history(base):
    rows = [row(base, "1", 0.0, d) for d in DAYS]
    rows += [replace(r, meter_serial="M2") for r in rows] + [replace(r, iso=800) for r in rows]
    assert len(histories(rows, "offset_ev")) == 3


def test_next_check_after_the_usual_interval(base):
    found = history(base, [0.0] * 5, tolerances=TOLERANCES)
    last = date.fromisoformat(found.latest.row.date)
    assert date.fromisoformat(found.next_check) == last + timedelta(days=365)
    assert found.why == "the usual interval of 365 days"
    (single,) = histories([row(base, "1", 0.0, 0)], "offset_ev", tolerances=TOLERANCES)
    assert single.trend is None
    assert single.next_check == "2024-12-31"


def test_next_check_before_a_drift_leaves_the_limits(base):
    slope = 0.18
    found = history(base, [slope * d / 365.25 for d in DAYS], tolerances=TOLERANCES)
    ahead = (date.fromisoformat(found.next_check) - date.fromisoformat(found.latest.row.date)).days
    level = slope * 730 / 365.25
    # from the numbers of the trend, with the line's own uncertainty, one limit of 0.5 EV
    trend, years = found.trend, ahead / 365.25
    u = math.sqrt(
        trend.level_u_ev**2
        + (trend.u_ev_per_year * years) ** 2
        + 2 * trend.correlation * trend.level_u_ev * trend.u_ev_per_year * years
    )
    assert 0 < ahead < 365
    assert (0.5 - level - slope * years) / u == pytest.approx(1.645, abs=0.02)
    assert found.why == "by its trend the verdict will no longer be in"


def test_next_check_at_once_when_in_doubt(base):
    found = history(base, [0.45] * 5, tolerances=TOLERANCES)
    assert found.next_check == found.latest.row.date
    assert found.why == "its verdict is undecided already"
    assert (found.verdict, found.early) == ("undecided", True)


RULES = (
    'rule = "simple"',
    'rule = "guard-band"',
    'rule = "guard-band"\nguard = 0.4',
    'rule = "conformance"\nprobability = 0.8',
    'rule = "conformance"',
)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("dof", [None, 3.0])
def test_drift_and_decide_give_one_verdict(base, rule, dof):
    """A body whose verdict is in is due after the usual interval, any other one at once."""
    limits = parse_tolerances(f"{rule}\n[tolerances]\noffset_ev = {{limit = 0.5}}", "t")
    seen = set()
    rows = [row(base, f"{k:02d}", 0.02 * k, 0, effective_dof=dof) for k in range(60)]
    all_judged = judge(rows, limits, date(2024, 1, 2))
    all_found = histories(rows, "offset_ev", tolerances=limits)
    for judged, found in zip(all_judged, all_found, strict=True):
        assert found.body == judged.row.body
        assert found.verdict == judged.verdict
        assert (found.next_check == found.latest.row.date) is (judged.verdict != "in")
        seen.add(judged.verdict)
    assert {"in", "out"} <= seen


def test_bodies_that_all_move_alike_accuse_the_meter(base):
    rng = np.random.default_rng(6)
    rows = [
        row(base, f"{k:02d}", float(0.15 * d / 365.25 + rng.normal(0.0, 0.05)), d)
        for k in range(20)
        for d in DAYS
    ]
    (found,) = common_drift(histories(rows, "offset_ev"))
    assert found.bodies == 20
    assert found.meter == ("Sprig", "Lm-3", "000731")
    assert found.slope_ev_per_year == pytest.approx(0.15, abs=4 * found.u_ev_per_year)
    still = [replace(r, offset_ev=float(rng.normal(0.0, 0.05))) for r in rows]
    assert common_drift(histories(still, "offset_ev")) == []


def test_bounds_and_bad_dates(base):
    with pytest.raises(GreytareError, match="no result has an exact offset_ev"):
        histories([row(base, "1", 0.0, 0, lower_bound=True)], "offset_ev")
    with pytest.raises(GreytareError, match="'last week' isn't a date"):
        histories([replace(row(base, "1", 0.0, 0), date="last week")], "offset_ev")


@pytest.mark.parametrize(
    ("cluster", "free", "dof"),
    [
        ([0, 1, 2, 3], 0.75, 3.0),  # nobody errs together: each brings its part
        # 2²/2 = 2 between, 7 - 2 = 5 within: 7²/(2²/1 + 5²/3)
        ([0, 0, 1, 2], 1.0, 49.0 / (4.0 + 25.0 / 3.0)),
        ([0, 0, 1, 2], 0.5, 49.0 / (8.0 + 50.0 / 3.0)),
        # 3²/4 between with one of four parts, 7 - 9/4 within with three
        ([0, 0, 0, 0], 0.25, 49.0 / (2.25**2 / 0.25 + 4.75**2 / 0.75)),
    ],
)
def test_degrees_of_freedom_where_a_session_errs_together(cluster, free, dof):
    """Welch-Satterthwaite, JCGM 100:2008, G.4.1, of what is left of four calibrations."""
    left = np.array([1.0, 1.0, 2.0, -1.0])
    assert bench._satterthwaite(left, np.array(cluster), free) == pytest.approx(dof)


@pytest.mark.parametrize(("dof", "prior"), [(5.0, 4.0), (2.0, 12.0)])
def test_how_alike_histories_scatter(dof, prior):
    """s² of histories is s0² F(dof, prior) (Smyth 2004); drawn, not derived."""
    rng = np.random.default_rng(7)
    s2 = 1e-4 * rng.f(dof, prior, 4000)
    found, size = bench._prior(s2 * dof, np.full(s2.size, dof))
    assert found == pytest.approx(prior, rel=0.2)
    assert size == pytest.approx(1e-4, rel=0.1)
    one = 1e-4 * rng.chisquare(dof, 4000)
    alike, size = bench._prior(one, np.full(one.size, dof))
    assert alike > 50.0
    assert size == pytest.approx(1e-4, rel=0.1)
