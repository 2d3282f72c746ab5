"""Flash and ambient added as light, with the readings' errors carried through."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.errors import ExposureError, SheetError
from profiler.onset.metered import read_meter_texts
from profiler.onset.mix import mix
from profiler.onset.mix_camera import MixAsk, MixedLight, camera_for, mixed_light
from profiler.onset.ratio import RatioAsk, ratio, ratio_of
from profiler.records import Meter
from profiler.show.onset.mix import mix_answer
from profiler.show.onset.ratio import ratio_answer

READING_U = math.hypot(0.1, 0.05) / math.sqrt(3.0)


def flash(text="f/8+0 ISO 100"):
    return read_meter_texts(text, "flash-flat", Meter())


def still(text):
    return read_meter_texts(text, "incident-flat", Meter())


def at_one_time(d, holds="alone", **options):
    """A mix with flash d stops over ambient, at f/8 flash, ISO 100, 1/64 s."""
    ambient = still(f"EV {6.0 - d + 6.0:.6f}")
    return mix(iso=100, flashes=[flash()], ambient=ambient, holds=holds, time_s=1 / 64, **options)


# Computed: share 2^d/(1 + 2^d), totals log2(1 + 2^d) and log2(1 + 2^-d).
@pytest.mark.parametrize(
    ("d", "percent", "over_ambient", "over_flash"),
    [
        (0.0, 50.00, 1.0000, 1.0000),
        (0.5, 58.58, 1.2716, 0.7716),
        (1.0, 66.67, 1.5850, 0.5850),
        (1.5, 73.88, 1.9368, 0.4368),
        (2.0, 80.00, 2.3219, 0.3219),
        (3.0, 88.89, 3.1699, 0.1699),
        (4.0, 94.12, 4.0875, 0.0875),
    ],
)
def test_share_and_totals(d, percent, over_ambient, over_flash):
    mixed = at_one_time(d)
    assert 100.0 * mixed.share.value == pytest.approx(percent, abs=0.005)
    total = mixed.total.stops.value
    assert total - mixed.ambient.stops.value == pytest.approx(over_ambient, abs=5e-5)
    assert total - mixed.flash.stops.value == pytest.approx(over_flash, abs=5e-5)
    assert mixed.over_ambient_ev.value == pytest.approx(d, abs=1e-5)


# Rule read at speedlighter.ca: two f/5.6 lights make f/8; the figures computed.
@pytest.mark.parametrize(
    ("texts", "f_number"),
    [
        (["f/5.6 ISO 100", "f/5.6 ISO 100"], 8.0),
        (["f/8 ISO 100", "f/8 ISO 100"], 11.314),
        (["f/8 ISO 100", "f/5.6 ISO 100"], 9.79796),
        (["f/8 ISO 400", "f/5.6 ISO 400"], 4.89898),
    ],
)
def test_several_flashes(texts, f_number):
    mixed = mix(iso=100, flashes=[flash(text) for text in texts])
    assert mixed.total.f_number == pytest.approx(f_number, abs=5e-4)
    assert mixed.share is None


# Computed: log2 n.
@pytest.mark.parametrize(
    ("pops", "stops"), [(2, 1), (3, 1.5850), (4, 2), (5, 2.3219), (6, 2.5850), (8, 3), (16, 4)]
)
def test_pops(pops, stops):
    mixed = mix(iso=100, flashes=[flash()], pops=pops)
    assert mixed.total.stops.value - 6.0 == pytest.approx(stops, abs=5e-5)


def test_time_moves_ambient_only():
    one = at_one_time(0.0)
    ambient = still("EV 12")
    half = mix(iso=100, flashes=[flash()], ambient=ambient, holds="alone", time_s=1 / 128)
    assert half.ambient.stops.value == pytest.approx(one.ambient.stops.value - 1.0)
    assert half.flash == one.flash


def test_a_flash_reading_that_holds_the_ambient_isnt_counted_twice():
    """ISO 10157:1991, scope: continuous light within the gate time counts too."""
    with_ambient = at_one_time(2.0, holds="with-ambient")
    assert with_ambient.total.f_number == pytest.approx(8.0)
    # f/8 holds f/4's quarter of it: three quarters are flash
    assert with_ambient.share.value == pytest.approx(0.75, abs=1e-6)
    assert at_one_time(2.0).total.f_number == pytest.approx(math.sqrt(80.0), abs=1e-4)


def test_it_is_asked_whether_the_reading_holds_the_ambient():
    with pytest.raises(ExposureError, match="may hold the ambient light"):
        at_one_time(1.0, holds=None)


def test_a_part_from_the_whole():
    whole, ambient = flash("f/8 ISO 100"), still("EV 10")
    found = mix(iso=100, total=whole, ambient=ambient, time_s=1 / 64)
    # N^2 = 64 - 16: f/6.93 (computed)
    assert found.flash.f_number == pytest.approx(math.sqrt(48.0))
    assert found.total.f_number == pytest.approx(8.0)
    other = mix(iso=100, total=whole, flashes=[flash("f/5.6 ISO 100")])
    assert other.ambient.f_number == pytest.approx(math.sqrt(32.0))
    assert other.share.value == pytest.approx(0.5)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.7, 0.9])
def test_the_changes_reach_the_share_and_keep_the_sum(share):
    mixed = at_one_time(1.0, share=share)
    change = mixed.change
    f, a = 2.0**6.0, 2.0**5.0
    power, time = 2.0**change.power_ev, change.time_factor
    assert f * power / (f * power + a) == pytest.approx(share, abs=1e-5)
    assert f / (f + a * time) == pytest.approx(share, abs=1e-5)
    assert power == pytest.approx(change.distance_factor**-2)
    assert (f * power + a) / 2.0**change.close_after_power_ev == pytest.approx(f + a, rel=1e-5)
    assert (f + a * time) / 2.0**change.close_after_time_ev == pytest.approx(f + a, rel=1e-5)
    assert change.time_s == pytest.approx(time / 64)


def test_a_wanted_difference_is_a_wanted_share():
    by_stops = at_one_time(0.0, over_ambient_ev=2.0).change
    assert by_stops.share == pytest.approx(0.8)
    assert by_stops.power_ev == pytest.approx(2.0)
    assert by_stops.time_factor == pytest.approx(0.25)


def monte_carlo(build, n=4000):
    """Spread of a quantity when each reading is off by its own error (second road)."""
    rng = np.random.default_rng(12)
    errors = rng.uniform(-0.1, 0.1, (n, 2))
    errors[:, 0] += rng.uniform(-0.05, 0.05, n)  # six decimals were typed for the ambient light
    return float(np.std([build(*pair) for pair in errors]))


@pytest.mark.parametrize("d", [-1.0, 0.0, 2.0])
def test_uncertainty_of_sum_and_share(d):
    mixed = at_one_time(d)

    def stops(f, a):
        return math.log2(2.0 ** (6 + f) + 2.0 ** (6 - d + a))

    def share(f, a):
        return 2.0 ** (6 + f) / (2.0 ** (6 + f) + 2.0 ** (6 - d + a))

    assert mixed.total.stops.u == pytest.approx(monte_carlo(stops), rel=0.05)
    assert mixed.share.u == pytest.approx(monte_carlo(share), rel=0.05)
    assert mixed.share.low < mixed.share.value < mixed.share.high


def test_uncertainty_of_what_is_left_of_a_whole():
    """Flash from the whole: the readings' errors stand in flash and ambient, and are correlated."""
    mixed = at_one_time(1.5, holds="with-ambient")
    a0 = 6.0 - 1.5

    def flash_stops(t, a):
        return math.log2(2.0 ** (6 + t) - 2.0 ** (a0 + a))

    def share(t, a):
        return 1.0 - 2.0 ** (a0 + a - 6 - t)

    assert mixed.flash.stops.u == pytest.approx(monte_carlo(flash_stops), rel=0.05)
    assert mixed.share.u == pytest.approx(monte_carlo(share), rel=0.05)
    # the whole was read directly: what was taken off and put back cancels
    assert mixed.total.stops.u == pytest.approx(READING_U)


# (key + fill) : fill, Wikipedia "Lighting ratio" crediting the ASC: 200 + 100 fc, 800 + 200
@pytest.mark.parametrize(
    ("key", "fill", "both", "plain"),
    [("200 fc", "100 fc", 3.0, 2.0), ("800 lx", "200 lx", 5.0, 4.0), ("EV 9", "EV 9", 2.0, 1.0)],
)
def test_lighting_ratio_by_both_definitions(key, fill, both, plain):
    found = ratio(still(key), still(fill))
    assert found.lighting_ratio.value == pytest.approx(both)
    assert found.key_to_fill.value == pytest.approx(plain)
    assert found.key_over_fill_ev.value == pytest.approx(math.log2(plain))
    assert found.lit_over_shadow_ev == pytest.approx(math.log2(both))
    assert found.lighting_ratio.low < both < found.lighting_ratio.high


def test_the_bodys_f_number(flash_profile):
    result = flash_profile.find(100)
    mixed = mix(iso=100, flashes=[flash("f/8+5 ISO 100")])
    camera = camera_for(mixed, result)
    offset = result.clip_headroom_ev.value - result.aim_stops
    assert 2.0 * math.log2(camera.f_number) == pytest.approx(6.5 - offset)
    assert camera.below_clip_ev.value == pytest.approx(result.aim_stops + camera.left_ev)
    assert camera.below_clip_ev.u > result.clip_headroom_ev.u
    by_method, method_camera = flash_profile.mix(iso=100, flash="f/8+5 ISO 100")
    assert (by_method, method_camera) == (mixed, camera)


# wrong input -> words
@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({}, ExposureError, "there is no flash"),
        ({"flashes": [flash()], "pops": 0}, ExposureError, "isn't a number of pops"),
        ({"flashes": [flash()], "ambient": still("EV 8")}, ExposureError, "may hold the ambient"),
        (
            {"flashes": [flash()], "ambient": still("EV 8"), "holds": "alone"},
            ExposureError,
            "ambient light needs the camera's time",
        ),
        ({"flashes": [flash()], "share": 0.5}, ExposureError, "needs the ambient light"),
        ({"total": flash()}, ExposureError, "one part can be found"),
        (
            {"total": flash(), "flashes": [flash()]},
            ExposureError,
            "flash light alone is f/8",
        ),
        (
            {"flashes": [flash(), flash()], "ambient": still("EV 8"), "holds": "with-ambient"},
            ExposureError,
            "can't be added",
        ),
        (
            {
                "flashes": [flash()],
                "ambient": still("EV 8"),
                "holds": "alone",
                "time_s": 1 / 60,
                "share": 1.0,
            },
            ExposureError,
            "must lie between 0 and 1",
        ),
        ({"flashes": [flash()], "iso": 0}, ExposureError, "above 0"),
    ],
)
def test_wrong_input(options, error, words):
    with pytest.raises(error, match=words):
        mix(**({"iso": 100} | options))


def test_a_flash_reading_needs_its_f_number():
    with pytest.raises(SheetError, match="needs the f-number"):
        flash("EV 8")


@settings(max_examples=60, deadline=None)
@given(st.floats(-4.0, 4.0), st.floats(1 / 1000, 1.0), st.sampled_from([100, 400]))
def test_whole_less_part_gives_the_other_part(d, time_s, iso):
    ambient = still(f"EV {5.0 + d:.6f}")
    whole = mix(iso=iso, flashes=[flash()], ambient=ambient, holds="alone", time_s=time_s)
    shown = f"f/{whole.total.f_number!r} ISO {iso}"
    reading = read_meter_texts(shown, "flash-flat", Meter())
    # a number that is near a mark counts as the mark: take the exact light instead
    shift = whole.total.stops.value - math.log2(iso / 100.0) - reading.ev100
    if abs(shift) < 1e-9 and whole.share.value > 0.01:
        back = mix(iso=iso, total=reading, ambient=ambient, time_s=time_s)
        assert back.flash.stops.value == pytest.approx(whole.flash.stops.value, abs=1e-6)


def test_a_share_that_is_already_there_asks_for_nothing():
    even = mix(
        iso=100,
        flashes=[flash("f/8 ISO 100")],
        ambient=still("f/8 1/60 ISO 100"),
        holds="alone",
        time_s=1 / 64,
        share=0.5,
    )
    answer = mix_answer(MixedLight(mix=even, camera=None))
    assert answer.lead == ("The light is already mixed that way: 50 % flash.",)
    assert answer.tables == ()


def test_key_and_fill_are_read_by_flash_as_their_form_says():
    found = ratio_of(RatioAsk(key="f/11+2 ISO 100", fill="f/8 ISO 100"), Meter())
    assert found.flash
    assert found.key_over_fill_ev.value == pytest.approx(1.2)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"fill": "200 lx"}, "flash and steady light don't compare"),
        ({"fill": ["a=f/8 ISO 100", "a=f/4 ISO 100"]}, "two lights are called 'a'"),
        ({"fill": ["key=f/8 ISO 100"]}, "two lights are called 'key'"),
        ({"fill": []}, "there is no other light"),
        ({"fill": "f/8 ISO 100", "wanted": ["hair=4:1"]}, "there is no light 'hair'"),
        ({"fill": "f/8 ISO 100", "wanted": ["1 stop"]}, "stops alone may be over or under"),
        ({"fill": "f/8 ISO 100", "wanted": ["0:1"]}, "it isn't a place beside the key"),
        ({"fill": "f/8 ISO 100", "wanted": ["much"]}, "it isn't a place beside the key"),
        ({"fill": ["f/8 ISO 100"] * 2, "wanted": ["4:1"]}, "it names no light"),
    ],
)
def test_lights_that_cannot_be_told_apart_are_asked_back(more, words):
    with pytest.raises(ExposureError, match=words):
        ratio_of(RatioAsk(key="f/8 ISO 100", **more), Meter())


def test_steady_light_needs_a_time_for_an_aperture():
    with pytest.raises(ExposureError, match="needs the camera's time"):
        ratio_of(RatioAsk(key="EV 12", fill="EV 10", aperture="f/8"), Meter())


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({}, "Lighting ratio 5.0:1 as (key + fill) : fill; key : fill is 4.0:1."),
        ({"wanted": ["1 stop under"]}, "Turn fill up by 1.0 stop; key stays."),
        ({"wanted": ["3 stops under"]}, "Turn fill down by 1.0 stop; key stays."),
        ({"wanted": ["4:1"]}, "Nothing to turn: fill as wanted."),
        (
            {"aperture": "f/8"},
            "Turn key down by 0.3 stop, fill down by 0.3 stop; that is for f/8 at ISO 100.",
        ),
        ({"aperture": "f/9"}, "Nothing to turn: together they are right for f/9 at ISO 100."),
    ],
)
def test_which_light_to_turn_is_said_first(more, told):
    ask = RatioAsk(key="f/8+0 ISO 100", fill="f/4+0 ISO 100", **more)
    assert ratio_answer(ratio_of(ask, Meter())).headline.startswith(told)


@pytest.mark.parametrize(
    ("aperture", "ambient", "told"),
    [
        ("f/11", None, "for f/11 at ISO 100 turn the flash up by 1.0 stop (± 0.2)."),
        ("f/5.6", None, "for f/5.6 at ISO 100 turn the flash down by 1.0 stop (± 0.2)."),
        ("f/8", None, "right for f/8 at ISO 100."),
        (
            "f/8",
            "f/11 1/60 ISO 100",
            "the ambient light alone is 1.0 stop over what f/8 at ISO 100 asks for, whatever the "
            "flash gives.",
        ),
    ],
)
def test_what_the_flash_needs_is_said_first(aperture, ambient, told):
    ask = MixAsk(
        flash="f/8+0 ISO 100", ambient=ambient, time="1/60", flash_reading="alone",
        aperture=aperture,
    )  # fmt: skip
    assert mix_answer(mixed_light(ask)).headline.endswith(told)


def test_a_part_that_is_the_whole_is_told_in_f_numbers():
    """EV 12 at 1/64 s and ISO 100 asks for f/8."""
    with pytest.raises(ExposureError) as seen:
        mix(
            iso=100,
            flashes=[flash("f/8+0 ISO 100")],
            ambient=still("EV 12.0"),
            holds="with-ambient",
            time_s=1 / 64,
        )
    assert seen.value.what == (
        "ambient light alone is f/8, as much as flash and ambient light together (f/8)"
    )
    assert seen.value.field == "ambient"


def test_a_wanted_share_is_told_as_marks_to_set():
    """Flash f/8 with ambient f/2.8 at 1/64 s: for 70 % the flash falls by 3.0 - 1.22 stops.

    The ambient light stays at N^2 = 8, so the whole has 8/0.3, which is f/5.16.
    """
    ask = MixAsk(flash="f/8+0 ISO 100", ambient="EV 9.0", flash_reading="alone", time="1/60")
    found = mixed_light(replace(ask, share=0.7))
    assert found.wanted.by_power.label == "f/5"
    answer = mix_answer(found)
    assert answer.headline.endswith(
        " For 70 % flash turn the flash down by 1.8 stops and set f/5 at ISO 100."
    )
    power, _, time = answer.tables[0].rows
    assert power[2].endswith("opened, to f/5")
    # 3.43 x 1/64 s is 1/18.7 s
    assert "longer, 1/20 s;" in time[1]
    assert time[2] == "0.3 stop closed, to f/10"
    assert "turn" not in mix_answer(mixed_light(ask)).headline
