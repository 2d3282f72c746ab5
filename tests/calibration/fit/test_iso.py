"""Steps between ISO labels: analogue, push, pull, dual gain."""

from __future__ import annotations

from dataclasses import replace

import pytest

from profiler.calibration.fit.iso import LabelNoise, label_steps

BASE = LabelNoise(
    iso=100,
    metered_dn=2400.0,
    metered_u_ev=0.01,
    span_dn=15500.0,
    clip_seen=True,
    gain_e_per_dn=4.0,
    gain_u=0.02,
    read_noise_e=5.0,
    read_noise_u=0.05,
    gap_period=1,
)
ANALOGUE = replace(BASE, iso=200, gain_e_per_dn=2.0, gain_u=0.01, read_noise_e=4.2)


def step(high: LabelNoise):
    return label_steps([high, BASE])[0]


def test_true_analogue_step():
    found = step(ANALOGUE)
    assert (found.iso, found.below) == (200, 100)
    assert (found.asked_ev, found.step_ev) == (1.0, pytest.approx(1.0))
    assert found.u_ev == pytest.approx(0.01414, abs=1e-5)
    assert found.headroom_change_ev == pytest.approx(0.0)
    assert (found.digital, found.dual_gain) == ("", False)


def test_label_error():
    assert step(replace(ANALOGUE, metered_dn=2400.0 * 2**0.12)).step_ev == pytest.approx(1.12)


def test_push_leaves_gaps():
    assert step(replace(ANALOGUE, gap_period=2)).digital == "push"


def test_pull_leaves_the_gain_where_it_was():
    low = replace(BASE, iso=50, metered_dn=4800.0)  # shot at 100's gain, twice the light
    found = label_steps([low, BASE])[0]
    assert found.digital == "pull"
    assert found.step_ev == pytest.approx(0.0)
    assert found.headroom_change_ev == pytest.approx(1.0)


def test_a_gain_that_is_known_to_a_hundredth_shows_a_pull_and_one_to_a_fifth_does_not():
    # u = sqrt(2) x 1 % / ln 2 = 0.02 EV; at 20 % it is 0.41 EV, and 0.2 + 3 u hides a whole stop
    for part, told in ((0.01, "pull"), (0.2, "")):
        high = replace(BASE, gain_e_per_dn=40.0, gain_u=40.0 * part)
        low = replace(high, iso=50, metered_dn=4800.0)
        assert label_steps([low, high])[0].digital == told


def test_dual_gain_shows_in_the_read_noise():
    assert step(replace(ANALOGUE, read_noise_e=1.6)).dual_gain


def test_what_was_not_measured_is_not_judged():
    found = step(replace(ANALOGUE, gain_e_per_dn=None, read_noise_e=None, clip_seen=False))
    assert (found.digital, found.dual_gain, found.headroom_change_ev) == ("", False, None)
