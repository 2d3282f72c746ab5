"""What answers say: the answer in the first line, signs in words, no digits that aren't known."""

from __future__ import annotations

import re

import pytest

from profiler.onset.convert import convert
from profiler.onset.metered import read_meter_texts
from profiler.onset.mix import mix
from profiler.onset.mix_camera import MixedLight
from profiler.onset.plan import PlanAsk, planned
from profiler.onset.ratio import ratio
from profiler.records import LIGHTS, Estimate, Meter
from profiler.show.channels import pooled
from profiler.show.onset.convert import convert_answer
from profiler.show.onset.mix import mix_answer
from profiler.show.onset.place import place_answer
from profiler.show.onset.plan import CAUTIONS, plan_answer
from profiler.show.onset.plan_page import plan_page
from profiler.show.onset.ratio import ratio_answer
from profiler.show.onset.settings import settings_answer
from profiler.show.terminal import printed
from profiler.show.words import amount, margin, rounded_up, stops


def estimate(value, half, **more):
    return Estimate(value=value, u=half / 2, low=value - half, high=value + half, **more)


@pytest.mark.parametrize(
    ("value", "half", "words"),
    [
        (0.61, 0.21, "0.6 ± 0.2 stop below clip"),
        (-2.31, 0.21, "2.3 ± 0.2 stops above clip"),
        (-0.01, 0.21, "0.0 ± 0.2 stop above clip"),
        (6.43, 0.021, "6.43 ± 0.02 stops below clip"),
        (12.3, 1.4, "12.3 ± 1.4 stops below clip"),
    ],
)
def test_stops(value, half, words):
    assert stops(estimate(value, half), "below clip", "above clip") == words


def test_a_lower_bound_says_at_least():
    assert margin(estimate(2.0, 0.2, lower_bound=True)) == "at least 2.0 ± 0.2"


@pytest.mark.parametrize(
    ("ev", "words"),
    [(0.3, "0.3 stop more"), (-1.52, "1.5 stops less"), (0.04, "nothing"), (-1.0, "1.0 stop less")],
)
def test_amount(ev, words):
    assert amount(ev) == words


def test_greens_are_shown_as_one_where_they_agree():
    same = {"R": estimate(1, 0.2), "G1": estimate(2, 0.2), "G2": estimate(2.01, 0.2)}
    assert list(pooled(same)) == ["R", "G"]
    apart = same | {"G2": estimate(2.2, 0.2)}
    assert list(pooled(apart)) == ["R", "G1", "G2"]
    assert list(pooled({"Y": estimate(1, 0.2)})) == ["Y"]


def test_settings_words(profile):
    answer = profile.settings("EV 10.3", iso=400, aperture="f/8", mains_hz=50.0)
    text = printed(settings_answer(answer))
    first = text.splitlines()[0]
    assert first == (
        "Set f/8 1/100 s at ISO 400: the grey lands 3.1 ± 0.2 stops below clip (green first)."
    )
    assert "On the meter either set EI 500" in text
    assert "so that it asks for 0.3 stop less. Never both." in text
    assert "give 0.3 ± 0.2 stop less than the meter says" in text
    assert "! " not in text  # 1/100 s is free of 50 Hz mains


def test_a_meter_whose_linearity_nobody_measured_is_not_called_corrected(profile):
    text = printed(settings_answer(profile.settings("EV 12.3", iso=400, aperture="f/5.6")))
    assert "reading          EV 12.3 by spot, daylight\n" in f"{text}\n"
    assert "linearity" not in text


def test_settings_words_far_off(profile):
    answer = profile.settings("EV 15", iso=100, aperture="f/8", time="1/60")
    text = printed(settings_answer(answer))
    assert re.match(r"f/8 1/60 s at ISO 100 gives \d\.\d stops too much light:", text)
    assert re.search(r"ND 0\.9 takes that off|ND 1\.2 takes that off", text)
    assert "  ! " in text


def test_place_words(profile):
    placed = profile.place(
        400,
        key="EV 12",
        spots=["shirt=EV 14.1", "lamp=EV 17", "hair=EV 7.9", "door=EV 9; EV 11", "edge=EV 14.6"],
        setting="f/8 1/250",
    )
    text = printed(place_answer(placed))
    assert text.startswith("Clipped: lamp; in doubt at clip: edge; below the floor: hair.")
    assert "green first" in text.splitlines()[0]
    assert "averaged as stops (as stops EV 10.0, as light EV 10.3 at ISO 100)" in text
    assert "clipped: red, green, blue" in text
    assert "neutral as the calibration's grey card" in text
    assert "can't hold both: the body holds" in text
    assert " of doubt; a bracket of" in text


def test_place_words_where_all_is_well(profile):
    placed = profile.place(400, key="EV 12", spots=["shirt=EV 13", "door=EV 11"])
    text = printed(place_answer(placed))
    assert text.startswith("Nothing is lost: shirt lands ")
    assert "holds it, as it is" in text


def test_mix_words():
    flash = read_meter_texts("f/8+0 ISO 100", "flash-flat", Meter())
    ambient = read_meter_texts("f/4+0 1/60 ISO 100", "incident-flat", Meter())
    mixed = mix(iso=100, flashes=[flash], ambient=ambient, holds="alone", time_s=1 / 64, share=0.5)
    text = printed(mix_answer(MixedLight(mix=mixed, camera=None)))
    assert text.startswith("Together f/8+3 (± 0.1 stop), 80 % (78 to 82) of it flash.")
    assert re.search(r"power +2\.0 stops less flash +1\.3 stops opened", text)
    assert "flash at 2.00 x its distance (further off)" in text
    assert "4.00 x the time (longer, 1/16 s; not below sync)" in text
    assert "flash was read  alone" in text


def test_ratio_words_say_both_definitions():
    key = read_meter_texts("800 lx", "incident-flat", Meter())
    fill = read_meter_texts("200 lx", "incident-flat", Meter())
    text = printed(ratio_answer(ratio(key, fill)))
    assert text.startswith("Lighting ratio 5.0:1 as (key + fill) : fill; key : fill is 4.0:1.")


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("EV 12", "EV 12: EV at ISO 100 = 12.00, luminance = 512.0 cd/m2, illuminance = 10240 lx."),
        ("ND 0.9", "ND 0.9: stops = 2.9897 stops, factor = 7.9433."),
    ],
)
def test_conversion_words(text, first):
    words = printed(convert_answer(convert(text)))
    assert words.splitlines()[0] == first


def test_conversion_shows_its_constants():
    assert "K 12.5 cd/m2" in printed(convert_answer(convert("EV 12")))
    assert "C 250 lx" in printed(convert_answer(convert("EV 12")))


@pytest.mark.parametrize("light", LIGHTS)
def test_cautions_come_with_the_light(light):
    mode = "flash-flat" if light == "flash" else "spot"
    text = printed(plan_answer(planned(PlanAsk(isos=(100,), light=light, mode=mode))))
    assert ("sun through a finder" in text) is (light == "daylight")
    assert ("hot enough to burn" in text) is (light == "tungsten")
    assert ("capacitors" in text) is (light == "flash")
    assert ("Lamps on the mains" in text) is (light in ("tungsten", "led", "fluorescent", "flash"))
    assert CAUTIONS["closing"] in text


def test_plan_words():
    plan = planned(PlanAsk(isos=(100, 400), reading="EV 11.0"))
    text = printed(plan_answer(plan))
    assert re.match(r"\d+ frames, about \d+ min: the offset will be known to ± 0\.11 stop", text)
    rows = [line for line in text.splitlines() if re.match(r"\s+(1/\d+|0\.\d) s", line)]
    assert len(rows) == sum(len(label.frames) for label in plan.labels)
    assert "lens cap on" in text
    assert "clip may lie here" in text


def test_page_stands_alone_and_has_a_box_for_every_frame():
    plan = planned(PlanAsk(isos=(100, 400), reading="EV 11"))
    html = plan_page(plan)
    assert html.count('class="box"') == plan.frame_count
    assert not re.search(r"https?://|<script|<link|<img|url\(", html)
    assert "@page" in html
    for label in plan.labels:
        assert f"<h2>ISO {label.iso}</h2>" in html


def test_page_escapes_what_was_typed():
    plan = planned(PlanAsk(isos=(100,), reading="EV 11"))
    from dataclasses import replace

    html = plan_page(replace(plan, reading="<b>EV 11</b>"))
    assert "<b>EV" not in html


@pytest.mark.parametrize(
    ("half", "places", "shown"),
    [
        (0.149, 1, "0.2"),
        (0.131, 1, "0.2"),
        (0.111, 1, "0.1"),
        (0.21, 1, "0.2"),
        (0.23, 1, "0.3"),
        (0.3, 1, "0.3"),
        (0.0149, 2, "0.02"),
        (0.0, 1, "0.1"),
        (28.05, 0, "28"),
    ],
)
def test_half_an_interval_is_never_shown_more_than_a_tenth_too_small(half, places, shown):
    """The last one is that of JCGM 100, 7.2.6."""
    assert rounded_up(half, places) == shown


def test_a_reading_in_whole_steps_is_told_once(profile):
    """EV 12 leaves half a step on each side, EV 12.0 a twentieth: the interval says which."""
    told = (
        "! EV 12 was taken as shown in whole steps, which widens the interval: if your meter "
        "shows tenths, type them, as in EV 12.0."
    )
    metered = read_meter_texts("EV 12", "incident-flat", Meter())
    flash = read_meter_texts("f/8+0 ISO 100", "flash-flat", Meter())
    mixed = mix(iso=100, flashes=[flash], ambient=metered, holds="alone", time_s=1 / 64)
    answers = {
        "settings": settings_answer(profile.settings("EV 12", iso=400, aperture="f/8")),
        "place": place_answer(profile.place(400, key="EV 12", spots=["hair=EV 8.1"])),
        "mix": mix_answer(MixedLight(mix=mixed, camera=None)),
        "ratio": ratio_answer(ratio(metered, metered)),
        "plan": plan_answer(planned(PlanAsk(isos=(400,), reading="EV 12"))),
    }
    assert {name: printed(answer).count(told) for name, answer in answers.items()} == dict.fromkeys(
        answers, 1
    )
    for fine in ("EV 12.0", "EV 12; EV 12.1", "4100 lx", "f/8 1/60 ISO 100"):
        assert read_meter_texts(fine, "incident-flat", Meter()).coarse is None
    assert read_meter_texts("EV 12", "spot", Meter(resolution_ev=1.0)).coarse is None
    assert read_meter_texts("EV 10 at ISO 400", "spot", Meter()).coarse.finer == (
        "EV 10.0 at ISO 400"
    )
