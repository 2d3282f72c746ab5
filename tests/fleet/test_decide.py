"""Verdicts: risks over many simulated decisions, bounds, expiry, adjustments, tolerances."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import fleetlab
import numpy as np
import pytest

from profiler.errors import GreytareError
from profiler.fleet.columns import Values
from profiler.fleet.decide import adjustments, body_verdicts, counts, current_rows, judge
from profiler.fleet.read_rows import profile_rows
from profiler.fleet.rules import WORST, Limits, Rule, decide, describe, stated_risk
from profiler.fleet.tolerances import parse_tolerances

LIMITS = Limits(low=-0.333, high=0.333)
RULES = [
    Rule(name="simple"),
    Rule(name="guard-band", guard=1.0),
    Rule(name="guard-band", guard=0.83),
    Rule(name="conformance", probability=0.95),
]
TODAY = date(2026, 6, 1)


def found(values, u, limits, rule, *, lower_bound=False):
    """The verdicts on values of one standard uncertainty, with their probabilities."""
    y = np.asarray(values, dtype=np.float64)
    half = 1.959964 * u
    decisions = decide(
        Values(
            value=y,
            u=np.full(y.shape, u),
            low=y - half,
            high=y + half,
            dof=np.full(y.shape, np.inf),
            lower_bound=np.full(y.shape, lower_bound),
        ),
        limits,
        rule,
    )
    return np.array(WORST)[decisions.verdict], decisions.probability


@pytest.mark.parametrize("rule", RULES, ids=lambda r: f"{r.name} {r.guard:g}")
@pytest.mark.parametrize("edge", [-0.333, 0.333])
def test_false_accepts_at_a_limit_are_as_stated(rule, edge):
    """5000 decisions on bodies that lie on a limit: the worst case of the rule."""
    n = 5000
    drawn = edge + np.random.default_rng(106).normal(0.0, 0.06, n)
    verdicts, _ = found(drawn, 0.06, LIMITS, rule)
    risk = stated_risk(rule)
    spread = (risk * (1.0 - risk) / n) ** 0.5
    assert np.mean(verdicts == "in") == pytest.approx(risk, abs=4.0 * spread)
    # and the other way round: as many false rejections of bodies that just conform
    assert np.mean(verdicts == "out") == pytest.approx(risk, abs=4.0 * spread)


@pytest.mark.parametrize("rule", RULES, ids=lambda r: f"{r.name} {r.guard:g}")
def test_a_lower_bound_is_never_in_below_an_upper_limit(rule):
    verdicts, _ = found([0.0, 0.5], 0.01, LIMITS, rule, lower_bound=True)
    assert list(verdicts) == ["undecided", "out"]
    verdicts, chances = found([2.5, 1.5], 0.05, Limits(low=2.0), rule, lower_bound=True)
    assert list(verdicts) == ["in", "undecided"]
    assert np.isnan(chances).all()


def row(tmp_path, serial, offset, name=None, **details):
    details.setdefault("date", "2026-03-01")
    path = fleetlab.keep(
        tmp_path, name or f"{serial} {details['date']}", fleetlab.profile(serial, offset), **details
    )
    return profile_rows(path, below=tmp_path)[0]


TOLERANCES = """
rule = "guard-band"
interval_days = 90
[tolerances]
offset_ev = {limit = 0.333}
[[tolerance]]
quantity = "clip_headroom_ev"
low = 2.5
iso = [100, 400]
mode = "spot"
[[tolerance]]
quantity = "clip_headroom_ev"
low = 99
iso = 800
"""


def test_the_worst_current_verdict_is_the_bodys(tmp_path):
    rows = [
        row(tmp_path, "1", 0.0),
        row(tmp_path, "2", 0.33),
        row(tmp_path, "3", 0.9),
        row(tmp_path, "4", 0.9, date="2025-01-01"),
        row(tmp_path, "4", 0.0),
    ]
    judged = judge(rows, parse_tolerances(TOLERANCES, "t"), TODAY)
    found = {one.body[2]: one for one in body_verdicts(judged)}
    assert {k: v.verdict for k, v in found.items()} == {
        "1": "in",
        "2": "undecided",
        "3": "out",
        "4": "in",
    }
    assert counts(list(found.values())) == {"in": 2, "out": 1, "undecided": 1}
    assert [(j.quantity, j.expires, j.expired) for j in found["1"].judged] == [
        ("offset_ev", "2026-05-30", True),
        ("clip_headroom_ev", "2026-05-30", True),
    ]
    assert not any(
        one.expired for one in judge(rows[:3], parse_tolerances(TOLERANCES, "t"), date(2026, 5, 30))
    )


def test_another_meter_has_a_verdict_of_its_own(tmp_path):
    a = row(tmp_path, "1", 0.0)
    b = replace(a, meter_serial="other", date="2025-01-01", offset_ev=0.9)
    assert len(current_rows([a, b])) == 2
    assert current_rows([a, b], by_meter=False) == [a]


def test_as_found_then_as_left(tmp_path):
    rows = [
        row(tmp_path, "1", 0.6, "f", state="as-found"),
        row(tmp_path, "1", 0.02, "l", state="as-left"),
        row(tmp_path, "2", 0.1, "g", state="as-found"),
    ]
    judged = judge(rows, parse_tolerances(TOLERANCES, "t"), TODAY)
    (pair,) = [p for p in adjustments(judged) if p.found.quantity == "offset_ev"]
    assert (pair.found.verdict, pair.left.verdict) == ("out", "in")
    assert pair.change_ev == pytest.approx(-0.58)
    # one meter: half of its repeatability cancels
    expected = 2 * (fleetlab.U**2 - 0.5 * fleetlab.REPEAT_U**2)
    assert pair.u_ev == pytest.approx(expected**0.5)
    verdict = {one.body[2]: one.verdict for one in body_verdicts(judged)}
    assert verdict == {"1": "in", "2": "in"}


def test_no_tolerance_holds(tmp_path):
    only = parse_tolerances("[tolerances]\noffset_ev = {limit = 1, iso = 3200}", "t")
    with pytest.raises(GreytareError, match="no tolerance holds"):
        judge([row(tmp_path, "1", 0.0)], only, TODAY)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "it holds no tolerance"),
        ("rule = 3", "isn't a decision rule"),
        ('rules = "simple"', "'rules' is not known"),
        ("[tolerances]\noffset = {limit = 1}", "'offset' isn't a quantity"),
        ("[tolerances]\noffset_ev = {}", "no limits that leave room"),
        ("[tolerances]\noffset_ev = {low = 1, high = 0}", "no limits that leave room"),
        ("[tolerances]\noffset_ev = {limit = -1}", "limit is not a positive number"),
        ("[tolerances]\noffset_ev = {limit = 1, low = 0}", "limit is not a positive number"),
        ("[tolerances]\noffset_ev = {limit = true}", "isn't a usable number"),
        ("[tolerances]\noffset_ev = {limit = 1, isos = 3}", "'isos' is not known"),
        ("[tolerances]\noffset_ev = 0.3", "isn't a table"),
        ("guard = 11\n[tolerances]\noffset_ev = {limit = 1}", "isn't a usable number"),
        ("interval_days = 0.5\n[tolerances]\noffset_ev = {limit = 1}", "isn't a number of days"),
        ("[[tolerances]]", "isn't a table"),
        ("x", "isn't valid TOML"),
    ],
)
def test_refused_tolerances(text, says):
    with pytest.raises(GreytareError, match=says):
        parse_tolerances(text, "t.toml")


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        # ILAC-G8:09/2019 prints 50 % for no guard band, 2.5 % for U, 5 % for 0.83 U
        (Rule(name="simple"), "a false verdict has a probability of up to 50 % (ILAC"),
        (Rule(name="guard-band", guard=1.0), "a false verdict has a probability of at most 2.5 %"),
        (Rule(name="guard-band", guard=0.83), "Guard band of 0.83 U"),
        (Rule(name="guard-band", guard=0.83), "a false verdict has a probability of at most 5.2 %"),
        (Rule(name="conformance", probability=0.95), "in from 95 % that the true value lies"),
        (Rule(name="conformance", probability=0.95), "a probability of at most 5 % (JCGM 106"),
    ],
)
def test_the_risk_of_a_rule_is_told(rule, said):
    assert said in describe(rule)
