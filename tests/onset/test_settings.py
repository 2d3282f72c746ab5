"""From a reading to EI, compensation and camera setting."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from profiler.errors import ExposureError, ProfileError, SheetError
from profiler.onset.profile import Profile
from profiler.onset.settings import dial
from profiler.show.onset.settings import headline


def with_headroom(profile, headroom_ev, aim=None, iso=400):
    """The profile with another headroom, its uncertainty kept."""

    def moved(result):
        h = result.clip_headroom_ev
        shift = headroom_ev - h.value
        return replace(
            result,
            aim_stops=result.aim_stops if aim is None else aim,
            clip_headroom_ev=replace(h, value=headroom_ev, low=h.low + shift, high=h.high + shift),
        )

    results = tuple(moved(r) for r in profile.data.results if r.iso == iso)
    return Profile(replace(profile.data, results=results))


def ev_of(setup, marks="third"):
    """log2(N^2/t) of a setup, by its own road."""
    n = setup.setting.aperture.exact(marks)
    return math.log2(n * n / setup.setting.shutter.seconds("exact", marks))


def test_sign_of_offset_and_exposure_index(profile):
    """Headroom 3.5 over an aim of 2.963 is +0.537: EI 400 becomes 276 (computed)."""
    answer = dial(with_headroom(profile, 3.5).find(400), 2.963)
    assert answer.offset_ev.value == pytest.approx(0.537)
    assert answer.ei.value == pytest.approx(275.7, abs=0.1)
    assert answer.ei.low < answer.ei.value < answer.ei.high
    assert answer.ei_mark == 250
    # EI 250 (exact 251.98) makes the meter ask for more than 276 does: 0.13 EV too much
    assert answer.ei_left_ev == pytest.approx(math.log2(251.984 / 275.7), abs=1e-3)
    assert answer.compensation_ev == 0.5
    assert answer.compensation_left_ev == pytest.approx(0.037)


def test_ei_and_compensation_are_one_shift(profile):
    """Either alone gives the camera what the offset says."""
    answer = profile.settings("EV 10.3", iso=400, aperture="f/5.6")
    ev_by_ei = 10.3 + math.log2(answer.dial.ei.value / 100.0)
    ev_by_steps = 10.3 + 2.0 - answer.dial.compensation_ev - answer.dial.compensation_left_ev
    wanted = ev_of(answer.setup) - answer.setup.left_ev
    assert ev_by_ei == pytest.approx(wanted, abs=1e-9)
    assert ev_by_steps == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("marks", ["third", "half", "full"])
@pytest.mark.parametrize("aperture", ["f/4", "f/5.6", "f/8", "f/11", "f/16"])
def test_time_for_an_aperture(profile, marks, aperture):
    answer = profile.settings("EV 11", iso=100, aperture=aperture, marks=marks)
    step = {"third": 1 / 3, "half": 0.5, "full": 1.0}[marks]
    assert abs(answer.setup.left_ev) <= 0.5 * step + 1e-9
    offset = answer.dial.offset_ev.value
    wanted = ev_of(answer.setup, marks) - answer.setup.left_ev
    assert wanted == pytest.approx(11.0 - offset, abs=1e-9)


def test_aperture_for_a_time(profile):
    answer = profile.settings("EV 13", iso=100, time="1/60")
    assert answer.setup.setting.shutter.label == "1/60 s"
    assert abs(answer.setup.left_ev) <= 1 / 6
    offset = answer.dial.offset_ev.value
    assert ev_of(answer.setup) - answer.setup.left_ev == pytest.approx(13.0 - offset, abs=1e-9)


def test_iso_for_both(profile):
    answer = profile.settings("EV 12", aperture="f/8", time="1/250")
    assert answer.iso == 400
    assert [other.iso for other in answer.others] == [100]
    assert abs(answer.setup.left_ev) < abs(answer.others[0].left_ev)
    # two stops between the labels, their own headrooms apart
    gap = answer.others[0].left_ev - answer.setup.left_ev
    apart = profile.find(100).clip_headroom_ev.value - profile.find(400).clip_headroom_ev.value
    assert gap == pytest.approx(2.0 + apart, abs=1e-9)


def test_surplus_light_is_told_at_a_fixed_setting(profile):
    answer = profile.settings("EV 15", iso=100, aperture="f/8", time="1/60")
    assert answer.setup.left_ev < -2.0
    assert any(guard.name == "off-the-aim" and guard.warns for guard in answer.guards)


def test_where_the_grey_lands(profile):
    answer = profile.settings("EV 10.3", iso=400, aperture="f/8")
    setup, result = answer.setup, profile.find(400)
    x = 10.3 + 2.0 - ev_of(setup)
    assert setup.below_clip_ev.value == pytest.approx(result.clip_headroom_ev.value - x)
    assert setup.from_aim_ev.value == pytest.approx(x - answer.dial.offset_ev.value)
    assert setup.above_floor_ev.value == pytest.approx(result.footroom_ev.snr10.value + x)
    # what is stated of the grey is never surer than the profile and today's reading together
    reading = math.hypot(0.1, 0.05) / math.sqrt(3.0)
    calibration = result.clip_headroom_ev.u
    iris = 0.05 / math.sqrt(3.0)
    expected = math.sqrt(calibration**2 + reading**2 + iris**2 + result.frame_scatter_ev**2)
    assert setup.below_clip_ev.u == pytest.approx(expected, abs=1e-6)
    same_iris = profile.settings("EV 10.3", iso=400, aperture="f/5.6").setup.below_clip_ev.u
    assert same_iris == pytest.approx(math.sqrt(expected**2 - 2.0 * iris**2), abs=1e-6)


def test_without_a_wish_the_measured_aperture_is_used(profile):
    assert profile.settings("EV 10", iso=100).setup.setting.aperture.marked == 5.6


def test_settings_alike_give_the_same_exposure(profile):
    answer = profile.settings("EV 12", iso=100, aperture="f/5.6")
    assert [o.setting.aperture.marked for o in answer.others] == [4.0, 8.0, 11.0, 16.0, 22.0]
    for other in answer.others:
        assert ev_of(other) - other.left_ev == pytest.approx(
            ev_of(answer.setup) - answer.setup.left_ev, abs=1e-9
        )


def test_filters_and_extension_lengthen_the_time(profile):
    plain = profile.settings("EV 13", iso=100, aperture="f/8").setup
    lost = profile.settings("EV 13", iso=100, aperture="f/8", loss=["3 stops", "magnification 1"])
    # (1 + 1)^2 is two stops (common practice)
    assert lost.lost_ev == pytest.approx(5.0)
    gap = (ev_of(plain) - plain.left_ev) - (ev_of(lost.setup) - lost.setup.left_ev)
    assert gap == pytest.approx(5.0, abs=1e-9)


def test_cine_angle_is_found_and_given(profile):
    found = profile.settings("EV 9", iso=100, aperture="f/4", fps=24.0)
    shutter = found.setup.setting.shutter
    assert shutter.seconds() == pytest.approx(shutter.angle_deg / (360.0 * 24.0))
    assert abs(found.setup.left_ev) < 0.01
    given_angle = profile.settings("EV 10.5", iso=400, time="180deg 24fps")
    assert given_angle.setup.setting.shutter.seconds() == pytest.approx(1 / 48)
    with pytest.raises(ExposureError, match="more than a full turn at 24 fps"):
        profile.settings("EV 3", iso=100, aperture="f/8", fps=24.0)


def test_a_shutter_opens_for_a_full_turn_at_most(profile):
    opens = profile.settings("EV 9", iso=100, aperture="f/4", fps=24.0).setup.setting.shutter
    longest_fps = 24.0 * 360.0 / opens.angle_deg
    full = profile.settings("EV 9", iso=100, aperture="f/4", fps=0.999 * longest_fps)
    assert full.setup.setting.shutter.angle_deg == pytest.approx(359.6, abs=0.3)
    with pytest.raises(ExposureError, match=r"asks for 36[1-4] deg, more than a full turn"):
        profile.settings("EV 9", iso=100, aperture="f/4", fps=1.005 * longest_fps)


def test_t_stops_need_the_lenss_transmission(profile):
    with pytest.raises(ExposureError, match="measured by f-numbers"):
        profile.settings("EV 10", iso=400, aperture="T5.6")
    t = profile.settings("EV 10", iso=400, aperture="T5.6", transmission=0.8)
    n = profile.settings("EV 10", iso=400, aperture="f/5.6")
    wanted_t = math.log2(1.0 / t.setup.setting.shutter.seconds()) - t.setup.left_ev
    wanted_n = math.log2(1.0 / n.setup.setting.shutter.seconds()) - n.setup.left_ev
    # the lens stands wider open by sqrt(0.8) than the T-stop's number says
    assert wanted_t - wanted_n == pytest.approx(-math.log2(0.8), abs=1e-9)


def test_guards(profile, flash_profile):
    led = profile.settings("EV 10.3", iso=400, aperture="f/5.6", mains_hz=50.0)
    mains = next(guard for guard in led.guards if guard.name == "mains")
    assert mains.warns
    assert "free of it: 1/100 s, 1/50 s" in mains.text
    calm = profile.settings("EV 9", iso=100, time="1/25", mains_hz=50.0)
    assert not next(guard for guard in calm.guards if guard.name == "mains").warns
    sync = flash_profile.settings("f/8 ISO 100", iso=100, time="1/500", sync_s=1 / 200)
    assert any(g.name == "sync" and g.warns for g in sync.guards)
    sync = flash_profile.settings("f/8 ISO 100", iso=100, time="1/125", sync_s=1 / 200)
    assert not any(g.warns for g in sync.guards if g.name == "sync")


def test_flash_gives_an_aperture(flash_profile):
    answer = flash_profile.settings("f/8+5 ISO 100", iso=100)
    offset = answer.dial.offset_ev.value
    n = answer.setup.setting.aperture.exact()
    assert 2.0 * math.log2(n) - answer.setup.left_ev == pytest.approx(6.5 - offset, abs=1e-9)
    assert answer.setup.setting.shutter is None


def test_readings_are_averaged_both_ways(profile):
    stops = profile.settings("EV 10; EV 12", iso=100, aperture="f/8").metered
    light = profile.settings("EV 10; EV 12", iso=100, aperture="f/8", average="light").metered
    assert stops.ev100 == pytest.approx(11.0)
    assert light.ev100 == pytest.approx(math.log2((2**10 + 2**12) / 2.0))
    assert stops.as_light_ev100 == light.ev100
    one = profile.settings("EV 11", iso=100, aperture="f/8").metered
    u = [math.hypot(*(row.contribution_ev for row in m.rows())) for m in (one, stops, light)]
    assert u[1] == pytest.approx(u[0] / math.sqrt(2.0))
    # the brighter reading rules the mean light: 4/5 and 1/5 of it
    assert u[2] == pytest.approx(u[0] * math.hypot(0.8, 0.2))


def test_a_lower_bound_stays_one(profile):
    result = profile.find(400)
    bound = replace(result, clip_headroom_ev=replace(result.clip_headroom_ev, lower_bound=True))
    answer = Profile(replace(profile.data, results=(bound,))).settings("EV 10", iso=400)
    assert answer.dial.offset_ev.lower_bound
    assert answer.dial.ei.lower_bound
    assert answer.setup.below_clip_ev.lower_bound
    assert any(guard.name == "clip-not-seen" for guard in answer.guards)


def test_the_aim_can_be_another(profile):
    usual = profile.settings("EV 10", iso=400, aperture="f/8").dial
    lower = profile.settings("EV 10", iso=400, aperture="f/8", aim=4.0).dial
    assert lower.offset_ev.value == pytest.approx(profile.find(400).clip_headroom_ev.value - 4.0)
    assert lower.ei.value > usual.ei.value


# wrong input -> error and words
@pytest.mark.parametrize(
    ("reading", "options", "error", "words"),
    [
        ("8 furlongs", {"iso": 400}, SheetError, "unknown unit, 'furlongs'"),
        ("f/0 1/60 ISO 100", {"iso": 400}, SheetError, "f-number in 'f/0' is not above 0"),
        ("f/8 1/60", {"iso": 400}, SheetError, "no ISO value"),
        ("EV 10", {}, ExposureError, "the ISO label is missing"),
        ("", {"iso": 400}, ExposureError, "has no reading"),
        (
            "650 lx",
            {"iso": 400},
            ExposureError,
            "the profile was made by spot, and no meter shows this by spot. Give a spot reading",
        ),
        ("EV 10", {"iso": 400, "aperture": "f/0"}, ExposureError, "not above 0"),
        ("EV 10", {"iso": 400, "aperture": "wide"}, ExposureError, "aperture 'wide'"),
        ("EV 10", {"iso": 400, "time": "f/8"}, ExposureError, "it isn't a time"),
        ("EV 10", {"iso": 400, "aperture": "f/2"}, ProfileError, "f/2 was not measured"),
        (
            "EV 14",
            {"iso": 400, "time": "1/8000"},
            ProfileError,
            "the profile holds f/4 and smaller",
        ),
        ("EV 5", {"iso": 100, "time": "1/32000"}, ProfileError, "asks for f/0.0"),
        ("EV 10", {"iso": 400, "loss": ["4"]}, ExposureError, "a bare number"),
        ("EV 10", {"iso": 200}, ProfileError, "ISO 200 was not measured"),
    ],
)
def test_wrong_input(profile, reading, options, error, words):
    with pytest.raises(error, match=words):
        profile.settings(reading, **options)


@hypothesis_settings(max_examples=60, deadline=None)
@given(
    st.floats(6.0, 16.0),
    st.sampled_from([4.0, 5.6, 8.0, 11.0, 16.0]),
    st.sampled_from([100, 400]),
)
def test_going_back_from_the_setting_gives_the_reading(profile, ev, marked, iso):
    answer = profile.settings(f"EV {ev:.6f}", iso=iso, aperture=f"f/{marked}")
    setup = answer.setup
    back = ev_of(setup) - setup.left_ev + answer.dial.offset_ev.value - math.log2(iso / 100.0)
    assert back == pytest.approx(ev, abs=1e-6)


def test_a_setting_beyond_the_dials_comes_with_a_filter(profile):
    """At EV 16 and ISO 400 f/4 asks for about 2^-14.3 s, some 1.3 stops beyond 2^-13 s."""
    found = profile.settings("EV 16.0", iso=400, aperture="f/4")
    assert found.setup.setting.label == "f/4 1/20000 s"
    assert found.beyond.over_ev == pytest.approx(4 / 3)
    assert (found.beyond.nd_density, found.beyond.iso) == (0.6, 100)
    assert headline(found) == (
        "f/4 1/20000 s at ISO 400 is beyond most shutters (1/8000 s): put on ND 0.6 and set "
        "f/4 1/5000 s."
    )
    behind = profile.settings("EV 16.0", iso=400, aperture="f/4", loss="ND 0.6")
    assert behind.setup.setting == found.beyond.setting
    assert behind.beyond is None
    closed = profile.settings("EV 13.1", iso=400, time="180deg 24fps")
    assert closed.setup.setting.label == "f/29 180deg 24fps"
    assert "is beyond most lenses (f/22): put on ND 0.3 and set f/20" in headline(closed)
    assert profile.settings("EV 13.1", iso=400, aperture="f/22").beyond is None


def test_an_aperture_that_the_profile_lacks_comes_with_the_time_for_one_it_has(profile):
    """Each stop that the aperture is wider is a stop that the time must be longer."""
    with pytest.raises(ProfileError, match=r"asks for f/1\.1 at 1/60 s") as seen:
        profile.settings("EV 4.0", iso=400, time="1/60")
    assert seen.value.mend.startswith("Take 1/5 s at f/4, or an ISO label 3.7 stops higher")
    assert profile.settings("EV 4.0", iso=400, time="1/5").setup.setting.label == "f/4 1/5 s"
    with pytest.raises(ExposureError, match=r"1[12]\.\d stops too much") as seen:
        profile.settings("EV 13.1", iso=400, time="60 s")
    assert "Add ND 3.9 (" in seen.value.mend
