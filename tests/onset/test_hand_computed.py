"""Exposures computed by hand, with how each was found.

Sources: APEX (A_v = 2 log2 N, T_v = -log2 t, A_v + T_v = EV; ASA PH2.12-1961 and Exif annex C, from
memory) and ISO 2720:1974 (EV at ISO 100 = log2(100 E/C) with C = 250 lx, log2(100 L/K) with
K = 12.5 cd/m2; via colour-hdri). Marks stand for powers of two: f/5.6 is 2^2.5, f/11 is 2^3.5,
1/60 s is 2^-6 s. LV is the EV at ISO 100, tenths and thirds are of a stop, lights add as N^2, a
guide number grows with the root of power and ISO (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from profiler.exposure.readings import parse_reading
from profiler.onset.convert import convert
from profiler.onset.mix_camera import MixAsk, mixed_light
from profiler.onset.profile import Profile
from profiler.onset.ratio import RatioAsk, ratio_of
from profiler.onset.times import bracket_shutters
from profiler.records import Meter

READINGS = [
    ("LV 12", "spot", 12.0),  # by definition
    ("EV 12 at ISO 400", "spot", 10.0),  # 12 - log2(400/100)
    ("10.24 klx", "incident-flat", 12.0),  # 100 x 10240/250 = 4096 = 2^12
    ("6.4 klx", "incident-flat", 11.3219),  # 2560 = 2^8 x 10; log2 10 = 3.32193
    ("80 ft-c", "incident-flat", 8.4281),  # 80 x 10.76391 = 861.11 lx; x 0.4 = 344.45
    ("f/8 1/125 ASA 100", "spot", 13.0),  # A_v 6 + T_v 7
    ("f/5.6+1/3 1/60 ISO 400", "spot", 9.3333),  # 5 + 1/3 + 6 - 2
    ("f/5.6+2/3 1/30 ISO 200", "spot", 9.6667),  # 5 + 2/3 + 5 - 1
    ("f/8₅ ISO 100", "flash-flat", 6.5),  # A_v 6 and five tenths
    ("f/5.6₁ 1/60 ISO 100", "spot", 11.1),  # 5.1 + 6
    ("f/11+1/2 ISO 400", "flash-dome", 5.5),  # 7.5 - 2
    ("f/8.50 ISO 100", "flash-flat", 6.1749),  # 2 log2 8.5 = 2 x 3.08746
    ("f/16 bulb 64 s ISO 100", "spot", 2.0),  # 8 - 6
    ("f/8 2 min 8 s ISO 100", "spot", -1.0),  # 128 s = 2^7 s: 6 - 7
]


@pytest.mark.parametrize(("text", "mode", "ev100"), READINGS)
def test_readings(text, mode, ev100):
    assert parse_reading(text).metered_ev100(mode, Meter()) == pytest.approx(ev100, abs=6e-5)


def with_headroom(profile: Profile, stops: float) -> Profile:
    """The profile with clip just as many stops over the metered grey, in all channels."""

    def moved(result):
        shift = stops - result.clip_headroom_ev.value
        clip = replace(
            result.clip_headroom_ev,
            value=stops,
            low=result.clip_headroom_ev.low + shift,
            high=result.clip_headroom_ev.high + shift,
        )
        channels = {
            name: replace(channel, headroom_ev=stops) for name, channel in result.channels.items()
        }
        return replace(result, clip_headroom_ev=clip, channels=channels)

    return Profile(replace(profile.data, results=tuple(map(moved, profile.data.results))))


TIMES = [
    # t = N^2/(2^EV x S/100), the aim being where clip is, so that the offset is none
    ("EV 0", 100, "f/8", [], "bulb 64 s", 0.0),  # 64/1
    ("EV 1", 100, "f/16", [], "bulb 128 s", 0.0),  # 256/2
    ("EV -2", 400, "f/5.6", [], "30 s", 0.0),  # 32 x 4/4 = 32 s, which the mark 30 s runs
    ("EV 1.5", 100, "f/11", [], "bulb 45 s", 0.0081),  # 128/2.8284 = 45.255; log2(45.255/45)
    # 512/4/4 x 10^0.9 = 32 x 7.94328 = 254.185; log2(254.185/254)
    ("EV 2", 400, "f/22", ["ND 0.9"], "bulb 254 s", 0.0011),
]


@pytest.mark.parametrize(("reading", "iso", "aperture", "loss", "time", "left"), TIMES)
def test_times_beyond_the_dial(profile, reading, iso, aperture, loss, time, left):
    body = with_headroom(profile, 3.0)
    found = body.settings(reading, iso=iso, aperture=aperture, loss=loss, aim=3.0)
    assert found.setup.setting.shutter.label == time
    assert found.setup.left_ev == pytest.approx(left, abs=6e-5)


TURNS = [
    ("f/8 ISO 100", "f/11", [], 1.0),  # A_v 7 - 6
    ("f/11+5 ISO 100", "f/8", [], -1.5),  # 6 - 7.5
    ("f/8 ISO 100", "f/8", ["converter 2"], 2.0),  # 2 log2 2
]


@pytest.mark.parametrize(("reading", "aperture", "loss", "turn"), TURNS)
def test_the_flash_is_turned_for_an_aperture(flash_profile, reading, aperture, loss, turn):
    body = with_headroom(flash_profile, 3.0)
    found = body.settings(reading, iso=100, aperture=aperture, loss=loss, aim=3.0)
    assert found.turn_flash_ev == pytest.approx(turn, abs=1e-9)


def test_without_an_aperture_no_flash_is_turned(flash_profile):
    assert flash_profile.settings("f/8 ISO 100", iso=100).turn_flash_ev is None


F8, F4, F11 = "f/8 ISO 100", "f/4 ISO 100", "f/11 ISO 100"
MIXED = [
    # flash, ambient by its f-number at 1/64 s, more of the question, turn
    (F8, "f/4+0 1/60 ISO 100", {"aperture": "f/11"}, 0.8074),  # (128 - 16)/64 = 1.75
    # f/16 behind a lost stop asks for 512: (512 - 64)/64 = 7
    (F8, "f/8+0 1/60 ISO 100", {"aperture": "f/16", "loss": ["1 stop"]}, 2.8074),
    (F4, None, {"aperture": "f/8", "pops": 4}, 0.0),  # 4 x 16 = 64
    (F11, None, {"aperture": "f/8", "loss": "factor 4"}, 1.0),  # 64 x 4/128 = 2
    (F8, "f/11+0 1/60 ISO 100", {"aperture": "f/8"}, None),  # 128 of ambient alone for 64
]


@pytest.mark.parametrize(("flash", "ambient", "more", "turn"), MIXED)
def test_flash_for_an_aperture_in_ambient_light(flash, ambient, more, turn):
    ask = MixAsk(flash=flash, ambient=ambient, time="1/60", flash_reading="alone", **more)
    found = mixed_light(ask).mix.turn
    if turn is None:
        assert found.change_ev is None
        assert found.ambient_over_ev == pytest.approx(1.0)  # log2(128/64)
    else:
        assert found.change_ev.value == pytest.approx(turn, abs=6e-5)


def test_losses_come_off_the_light():
    found = mixed_light(MixAsk(flash=F8, loss=["ND 0.6"])).mix
    # N^2 = 64 x 10^-0.6 = 16.0761, so N = 4.00950
    behind = found.total.f_number * 2.0 ** (-found.lost_ev / 2.0)
    assert behind == pytest.approx(4.00950, abs=6e-6)


LAMPS = [
    # key, others, more of the question, over the key, sum at ISO 100, turns
    (F8, ["f/5.6 ISO 100"], {}, [-1.0], 6.58496, [0.0, 0.0]),  # log2(64 + 32)
    # log2(64 + 32 + 16) = log2 112
    (F8, ["a=f/5.6 ISO 100", f"b={F4}"], {}, [-1.0, -2.0], 6.80735, [0.0, 0.0, 0.0]),
    (F8, [F8], {"wanted": ["4:1"]}, [0.0], 7.0, [0.0, -2.0]),  # key : light 4 is two stops under
    (F8, [f"hair={F8}"], {"wanted": ["hair=1 stop over"]}, [0.0], 7.0, [0.0, 1.0]),
    (F8, [F8], {"aperture": "f/11"}, [0.0], 7.0, [0.0, 0.0]),  # 64 + 64 is f/11's 128
    # behind a lost stop f/11 asks for 256 of the 128; at ISO 400 for 32
    (F8, [F8], {"aperture": "f/11", "loss": ["1 stop"]}, [0.0], 7.0, [1.0, 1.0]),
    (F8, [F8], {"aperture": "f/11", "iso": 400.0}, [0.0], 7.0, [-2.0, -2.0]),
    # light a stop under first (64 + 32), then both to 128: log2(128/96) = 0.41504
    (F8, [F8], {"wanted": ["-1 stop"], "aperture": "f/11"}, [0.0], 7.0, [0.41504, -0.58496]),
    # 2^12 + 2^10 = 1.25 x 2^12 for f/8 at 1/64 s, which is EV 12: log2 1.25 = 0.32193 too much
    (
        "EV 12", ["EV 10"], {"aperture": "f/8", "time": "1/60"}, [-2.0], 12.32193,
        [-0.32193, -0.32193],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("key", "others", "more", "over", "total", "turns"), LAMPS)
def test_lights_read_alone(key, others, more, over, total, turns):
    found = ratio_of(RatioAsk(key=key, fill=others, **more), Meter())
    assert [lamp.over_key_ev.value for lamp in found.lamps[1:]] == pytest.approx(over, abs=6e-6)
    assert found.total_ev100.value == pytest.approx(total, abs=6e-6)
    assert [lamp.turn_ev for lamp in found.lamps] == pytest.approx(turns, abs=6e-6)
    assert math.fsum(lamp.share for lamp in found.lamps) == pytest.approx(1.0)


GUIDES = [
    # GN sqrt(S/100 x power); f-number over the distance; GN^2 C/S with C 250 lx
    ("GN 40 at 5 m power 1/4", 20.0, 4.0, 1000.0),  # 40/2; 20/5; 400 x 2.5
    ("GN 36 at 3 m ISO 200 power 1/2", 36.0, 12.0, 1620.0),  # root 1; 36/3; 1296 x 1.25
]


@pytest.mark.parametrize(("text", "guide", "f_number", "candela_s"), GUIDES)
def test_guide_numbers_at_part_power(text, guide, f_number, candela_s):
    found = convert(text)
    assert found.value("guide number") == pytest.approx(guide)
    assert found.value("f-number") == pytest.approx(f_number)
    assert found.value("effective candela-seconds") == pytest.approx(candela_s)
    said = next(line.text for line in found.lines if line.name == "guide number")
    assert text.rsplit(" ", 1)[-1] in said


BRACKETS = [
    # From 1/64 s: 2^-10.2 s at most is the third 2^-10.333 (1/1250), 2^-3.9 s at least the third
    # 2^-3.667 (1/13); 6.667 stops apart, so one frame between where 5 stops are the most: 2^-7.
    ((-4.2, 2.1), 5.0, ["1/1250 s", "1/125 s", "1/13 s"]),
    ((-4.2, 2.1), 7.0, ["1/1250 s", "1/13 s"]),
    # On marks nothing is rounded; 2^-6 s x 2^12 = 64 s has to be counted.
    ((0.0, 12.0), 12.0, ["1/60 s", "bulb 64 s"]),
]


@pytest.mark.parametrize(("changes", "most", "labels"), BRACKETS)
def test_the_smallest_bracket_in_safe_marks(changes, most, labels):
    found = bracket_shutters(1 / 64, changes, most, "exact", "third")
    assert [shutter.label for shutter in found] == labels


def test_there_are_36_cases_and_more():
    tables = (READINGS, TIMES, TURNS, MIXED, LAMPS, GUIDES, BRACKETS)
    assert sum(map(len, tables)) + 1 >= 36
