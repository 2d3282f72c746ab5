"""Numbers with as many digits as their uncertainty deserves."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from profiler.onset.dial import dial
from profiler.records import Estimate
from profiler.results import Span
from profiler.show import meter, words
from profiler.show.words import plus_minus, signed


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


def bound(value, half=0.2):
    return Estimate(value=value, u=half / 2, low=value - half, high=value + half, lower_bound=True)


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (3.1, "at least 3.1 ± 0.2 stops more"),
        (0.6, "at least 0.6 ± 0.2 stop more"),
        (-0.5, "at most 0.5 ± 0.2 stop less"),
        (-3.7, "at most 3.7 ± 0.2 stops less"),
    ],
)
def test_a_bound_from_below_turns_with_the_sign(value, told):
    """The truth lies above the bound: more of what is given, less of what is taken."""
    assert words.stops(bound(value), "more", "less") == told
    assert words.signed(bound(value)) == f"at least {value:+.1f} ± 0.2"
    assert words.plus_minus(bound(value), "stops") == f"at least {value:.1f} ± 0.2 stops"


def test_a_speed_falls_where_the_bounded_offset_rises():
    span = Span(value=4000.0, low=3500.0, high=4600.0, lower_bound=True)
    assert words.speed(span) == "at most 4000 (3500 to 4600)"


@pytest.mark.parametrize(
    ("left", "half", "spoken", "first"),
    [
        (0.1, 0.1, False, False),
        (-0.1, 0.14, False, False),
        (0.16, 0.1, True, False),
        (0.15, 0.3, False, False),
        (0.21, 0.3, True, True),
        (-0.4, 0.1, True, True),
        (0.04, 0.01, False, False),
    ],
)
def test_a_rest_is_told_where_it_exceeds_the_uncertainty(left, half, spoken, first):
    beside = Estimate(value=0.0, u=half / 2, low=-half, high=half)
    assert words.is_spoken(left, beside) is spoken
    assert words.belongs_in_headline(left) is first


def test_more_means_more_exposure():
    assert words.INTERVALS.endswith("more means more exposure.")


def test_counts():
    assert [words.count(n, "frame") for n in (1, 2)] == ["1 frame", "2 frames"]
    assert words.count(2, "body", "bodies") == "2 bodies"


def dial_of(value, half=0.1, *, lower_bound=False):
    headroom = Estimate(
        value=2.963 + value,
        u=half / 2,
        low=2.963 + value - half,
        high=2.963 + value + half,
        lower_bound=lower_bound,
    )
    return dial(SimpleNamespace(iso=400, clip_headroom_ev=headroom), 2.963)


def test_ei_and_offset_stand_with_an_or():
    assert meter.disagreement(dial_of(-0.3), 400) == (
        "At ISO 400 your meter and this body disagree: give 0.3 stop less (± 0.1), "
        "or set the meter to EI 500."
    )
    assert meter.disagreement(dial_of(0.505), 400) == (
        "At ISO 400 your meter and this body disagree: give 0.5 stop more (± 0.1), "
        "or set the meter to EI 250 and give 0.2 stop less on top."
    )
    assert meter.disagreement(dial_of(0.06, 0.2), 400).endswith(
        "agree within the uncertainty (+0.1 ± 0.2 stop): leave the meter at ISO 400, or set EI 400."
    )
    assert " or leave it at ISO 400 and " in meter.meter_sentence(dial_of(-0.3), 400)


@pytest.mark.parametrize(
    ("value", "bounded"),
    [(-3.3, "at most 3.3 ± 0.1 stops less"), (0.4, "at least 0.4 ± 0.1 stop more")],
)
def test_a_bound_is_no_instruction(value, bounded):
    found = dial_of(value, lower_bound=True)
    for text in (meter.disagreement(found, 400), meter.meter_sentence(found, 400)):
        assert "Shoot brighter frames, 1 to 2 stops over clip" in text
        assert "EI" not in text
        assert "give" not in text
    assert f"{bounded} than the meter says" in meter.offset_words(found)
    assert f"{bounded} than the meter says" in meter.disagreement(found, 400)
    assert meter.offset_words(found).startswith("not known")
    assert meter.offset_cell(found)[1] == f"not known, {bounded}"
    assert meter.ei_words(found) == (
        f"at most EI {found.ei_mark:g}, not to be set: clip was not seen"
    )
