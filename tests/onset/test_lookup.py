"""Nothing is answered for what a profile doesn't hold; the refusal lists what it does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from profiler.errors import ExposureError, ProfileError
from profiler.onset.aperture import (
    MIDDLE,
    NARROW,
    WIDE,
    accepts,
    as_measured,
    band_of,
    band_words,
    given_ev,
    iris_cancels,
)
from profiler.onset.camera import Aperture, CameraSetting, Shutter
from profiler.onset.profile import Profile


def as_t_stops(profile):
    """The profile as if T-stops had placed its frames."""
    results = tuple(replace(r, measured_by_t_stop=True) for r in profile.data.results)
    return Profile(replace(profile.data, results=results))


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"iso": 1600}, "ISO 1600 was not measured"),
        ({"iso": 400, "mode": "incident-dome"}, "ISO 400 by incident-dome was not measured"),
        ({"iso": 400, "light": "led"}, "ISO 400 in led was not measured"),
        ({"iso": 400, "aperture": 2.0}, "the aperture f/2 was not measured"),
        ({"iso": 400, "aperture": 3.5}, "the aperture f/3.5 was not measured"),
    ],
)
def test_refusal_lists_what_there_is(profile, asked, words):
    with pytest.raises(ProfileError, match=words) as caught:
        profile.find(**asked)
    assert "f/4 and smaller" in str(caught.value)
    if "aperture" not in asked:
        assert "ISO 100, 400 by spot in daylight" in str(caught.value)


def test_several_modes_must_be_told_apart(two_modes):
    with pytest.raises(ProfileError, match="meter mode incident-flat or spot"):
        two_modes.find(400)
    assert two_modes.find(400, "spot").mode == "spot"
    assert "by incident-flat" in two_modes.holdings


def test_several_lights_must_be_told_apart(profile):
    results = profile.data.results
    more = Profile(
        replace(profile.data, results=(*results, *(replace(r, light="led") for r in results)))
    )
    with pytest.raises(ProfileError, match="light daylight or led"):
        more.find(400)
    assert more.find(400, light="led").light == "led"


def test_results_at_several_apertures_must_be_told_apart(profile, wide_profile):
    both = Profile(
        replace(profile.data, results=(*profile.data.results, *wide_profile.data.results))
    )
    with pytest.raises(ProfileError, match="several apertures for ISO 400"):
        both.find(400)
    assert both.find(400, aperture=2.0).aperture_band == (2.0, 2.0)
    assert both.find(400, aperture=11.0).aperture_band == (5.6, 5.6)


# measured at, asked for, accepted: from f/4 down the band counts, wider only what was measured
@pytest.mark.parametrize(
    ("fixture", "aperture", "accepted"),
    [
        ("profile", 5.6, True),
        ("profile", 4.0, True),
        ("profile", 22.0, True),
        ("profile", 3.5, False),
        ("profile", 1.4, False),
        ("wide_profile", 2.0, True),
        ("wide_profile", 2.2, False),
        ("wide_profile", 1.8, False),
        ("wide_profile", 5.6, False),
    ],
)
def test_aperture_bands(request, fixture, aperture, accepted):
    result = request.getfixturevalue(fixture).find(400)
    assert accepts(result, aperture) is accepted


@pytest.mark.parametrize(
    ("aperture", "band"),
    [
        (1.4, WIDE),
        (2.5, WIDE),
        (2.8, MIDDLE),
        (3.3, MIDDLE),
        (3.5, MIDDLE),
        (4.0, NARROW),
        (4.5, NARROW),
        (32, NARROW),
    ],
)
def test_band_of(aperture, band):
    assert band_of(aperture) == band


def test_words_for_what_was_measured(profile, wide_profile):
    assert band_words(profile.find(400)) == "f/4 and smaller"
    assert band_words(wide_profile.find(400)) == "f/2"


def test_the_iris_cancels_only_where_it_stood(profile):
    result = profile.find(400)
    assert iris_cancels(result, 5.6)
    assert iris_cancels(result, 2**2.5)
    assert not iris_cancels(result, 8.0)
    assert not iris_cancels(result, None)
    first, *rest = result.frames
    mixed = replace(result, frames=(replace(first, aperture=8.0), *rest))
    assert not iris_cancels(mixed, 5.6)


def test_t_stops_and_f_numbers_are_not_mixed_unknowingly(profile):
    by_f, by_t = profile.find(400), as_t_stops(profile).find(400)
    t_stop, f_number = Aperture(marked=5.6, word="T"), Aperture(marked=5.6)
    with pytest.raises(ExposureError, match="measured by f-numbers"):
        as_measured(t_stop, by_f, None)
    with pytest.raises(ExposureError, match="measured by T-stops"):
        as_measured(f_number, by_t, None)
    # T = N/sqrt(tau): f/2 at 80 % is T2.2361 (common practice, computed)
    assert as_measured(Aperture(marked=2.0), by_t, 0.8).exact() == pytest.approx(2.23607, abs=5e-6)
    back = as_measured(Aperture(marked=2.2360680, word="T", computed=True), by_f, 0.8)
    assert (back.word, back.exact()) == ("f", pytest.approx(2.0, abs=1e-7))
    assert as_measured(t_stop, by_t, None) is t_stop


def test_marks_count_by_the_profiles_time_rule(profile):
    setting = CameraSetting(aperture=Aperture(marked=8.0), shutter=Shutter(marked_s=1 / 60))
    exact = profile.find(400)
    marked = replace(exact, time_rule=replace(exact.time_rule, used="as-marked"))
    ev = [given_ev(setting, r, lost_ev=0.0, flash=False, series="third") for r in (exact, marked)]
    assert ev[0] == pytest.approx(12.0)
    # 1/60 against 1/64 s: 0.0931 EV (computed)
    assert ev[0] - ev[1] == pytest.approx(0.0931, abs=5e-5)
