"""Guesses at slips of the hand, and frames that fall into two groups."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.slips import Typed, propose, two_groups

READING = Typed(reading=True, f_number=8.0, time_s=1 / 125, iso=100.0)
SETTINGS = Typed(reading=False, f_number=8.0, time_s=1 / 60, iso=400.0)


@pytest.mark.parametrize(
    ("deviation", "typed", "guesses"),
    [
        # one stop more light than the reading says: f/11 was meant, or a meter left at ISO 50
        (1.02, READING, ["f/8 typed for f/11?", "1/125 s typed for 1/250 s?", "ISO 50?"]),
        (-1.0, READING, ["f/8 typed for f/5.6?", "1/125 s typed for 1/60 s?", "ISO 200?"]),
        (2.0, READING, ["f/8 typed for f/16?", "meter left at ISO 25?"]),
        # one stop more light than the frame's own settings say
        (
            1.0,
            SETTINGS,
            ["f/8 typed for f/5.6?", "1/60 s typed for 1/30 s?", "body left at ISO 800?"],
        ),
        (0.34, READING, ["f/8 typed for f/9?", "1/125 s typed for 1/160 s?"]),
    ],
)
def test_guesses(deviation, typed, guesses):
    text = propose(deviation, typed)
    for guess in guesses:
        assert guess in text


def test_an_ev_reading_leaves_nothing_to_guess_but_the_meter():
    typed = Typed(reading=True, f_number=None, time_s=None, iso=None)
    assert propose(1.0, typed) == ""


@pytest.mark.parametrize("deviation", [0.5, -0.17, 0.02])
def test_no_whole_third_no_guess(deviation):
    assert propose(deviation, READING) == ""


def test_two_groups():
    rng = np.random.default_rng(3)
    one = rng.normal(0.0, 0.05, 12)
    assert two_groups(one) == 0.0
    split = np.concatenate([one[:6], one[6:] + 2.0])
    assert two_groups(split) == pytest.approx(2.0, abs=0.1)
    assert two_groups(np.append(one, 2.0)) == 0.0  # one slip is no group
    assert two_groups(np.array([np.nan, 0.0, 0.1])) == 0.0
