"""Where spots land, which are lost or in doubt, what the exposure may do."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest

from profiler.errors import ExposureError, ProfileError, SheetError
from profiler.onset.placement import shadow, verdict
from profiler.onset.profile import Profile
from profiler.records import Estimate
from profiler.show.onset.place import given_words, headline

READING_U = math.hypot(0.1, 0.05) / math.sqrt(3.0)
IRIS_U = 0.05 / math.sqrt(3.0)


def estimate(value, half=0.2, **more):
    return Estimate(value=value, u=half / 2, low=value - half, high=value + half, **more)


def spot(placed, name):
    return next(each for each in placed.spots if each.name == name)


@pytest.mark.parametrize(
    ("value", "bound", "word"),
    [
        (0.3, False, "safe"),
        (0.1, False, "in doubt"),
        (-0.1, False, "in doubt"),
        (-0.3, False, "clipped"),
        (0.3, True, "safe"),
        (-0.3, True, "in doubt"),  # clip was not seen, so nothing is known to be over it
    ],
)
def test_verdict(value, bound, word):
    assert verdict(estimate(value, lower_bound=bound)) == word


@pytest.mark.parametrize(
    ("value", "word"), [(0.3, "clear"), (0.1, "in doubt"), (-0.1, "in doubt"), (-0.3, "below")]
)
def test_shadow(value, word):
    assert shadow(estimate(value)) == word
    assert shadow(None) == "not measured"


def test_places_are_arithmetic(profile):
    placed = profile.place(400, key="EV 12", spots=["a=EV 14.1", "b=EV 8.0"], setting="f/8 1/250")
    result = profile.find(400)
    # f/8 at 1/256 s is EV 14; at ISO 400 the meter asks for 2 stops over its EV at 100
    assert placed.key.placement_ev == pytest.approx(0.0)
    assert spot(placed, "a").placement_ev == pytest.approx(2.1)
    for name, channel in result.channels.items():
        distance = spot(placed, "a").channels[name]
        assert distance.value == pytest.approx(channel.headroom_ev - 2.1)
    assert spot(placed, "b").above_grey_ev.value == pytest.approx(-4.0)
    floor = spot(placed, "b").above_floor_ev
    assert floor.value == pytest.approx(result.footroom_ev.snr10.value - 4.0)


def test_what_counts_in_the_margin(profile):
    """Budget rows by hand: profile, shutter, own reading; the iris twice or not at all."""
    result = profile.find(400)
    calibration, shutter = result.clip_headroom_ev.u, result.frame_scatter_ev
    other = profile.place(400, spots=["a=EV 12.0"], setting="f/8 1/250").spots[0].below_clip_ev.u
    expected = math.sqrt(calibration**2 + shutter**2 + READING_U**2 + IRIS_U**2)
    assert other == pytest.approx(expected, abs=2e-5)
    same = profile.place(400, spots=["a=EV 12.0"], setting="f/5.6 1/500").spots[0].below_clip_ev.u
    assert same == pytest.approx(math.sqrt(expected**2 - 2 * IRIS_U**2), abs=2e-5)
    twice = profile.place(400, spots=["a=EV 12.0; EV 12.0"], setting="f/8 1/250").spots[0]
    halved = math.sqrt(expected**2 - READING_U**2 / 2.0)
    assert twice.below_clip_ev.u == pytest.approx(halved, abs=2e-5)


def test_the_keys_reading_counts_for_the_key_alone(profile):
    """The exposure is what it is, however it was found: a spot's margin has no key in it."""
    once = profile.place(400, key="EV 12.0", spots=["a=EV 12.0"])
    often = profile.place(400, key="EV 12.0; EV 12.0; EV 12.0; EV 12.0", spots=["a=EV 12.0"])
    assert often.spots[0].below_clip_ev.u == pytest.approx(once.spots[0].below_clip_ev.u)
    assert often.key.below_clip_ev.u < once.key.below_clip_ev.u
    both = math.hypot(READING_U, READING_U)
    assert once.spots[0].above_grey_ev.u == pytest.approx(both)
    assert often.spots[0].above_grey_ev.u == pytest.approx(math.hypot(READING_U, READING_U / 2))


def test_between_modes_each_readings_rows_count(two_modes):
    placed = two_modes.place(
        400, key="EV 12.0", mode="incident-flat", spots=["a=EV 12.0"], setting="f/5.6 1/500"
    )
    said = placed.spots[0].above_grey_ev
    # two readings today, two in the calibration, and the card behind the incident one
    card = 0.08 / math.sqrt(3.0)
    expected = math.sqrt(4 * READING_U**2 + card**2)
    assert said.u == pytest.approx(expected, abs=1e-3)
    # K 12.5 and C 250 read an 18 % card 0.1965 EV apart (ISO 2720:1974, computed)
    assert said.value == pytest.approx(-0.1965, abs=0.15)


def test_exposure_by_aim_or_as_metered(profile):
    aim = profile.place(400, key="EV 12")
    assert aim.key.below_clip_ev.value == pytest.approx(aim.aim_stops)
    meter = profile.place(400, key="EV 12", setting="meter")
    assert meter.key.placement_ev == pytest.approx(0.0)
    lower = profile.place(400, key="EV 12", aim=3.5)
    assert lower.key.below_clip_ev.value == pytest.approx(3.5)


def test_lost_and_doubtful_channels_are_named(profile):
    result = profile.find(400)
    green = result.clip_headroom_ev.value
    placed = profile.place(
        400, spots=[f"a=EV {12 + green + 0.3:.2f}", "b=EV 17"], setting="f/8 1/250"
    )
    assert set(spot(placed, "a").clipped) == {"G1", "G2"}
    assert spot(placed, "a").highlight == "clipped"
    assert set(spot(placed, "b").clipped) == set(result.channels)


def test_without_a_seen_clip_nothing_is_called_clipped(profile):
    result = profile.find(400)
    unseen = replace(
        result,
        clip_headroom_ev=replace(result.clip_headroom_ev, lower_bound=True),
        channels={n: replace(c, clip_seen=False) for n, c in result.channels.items()},
    )
    blind = Profile(replace(profile.data, results=(unseen,)))
    placed = blind.place(400, spots=["lamp=EV 17", "door=EV 10"], setting="f/8 1/250")
    assert [s.highlight for s in placed.spots] == ["in doubt", "safe"]
    assert not placed.clip_seen
    assert all(s.below_clip_ev.lower_bound for s in placed.spots)


def test_without_noise_there_is_no_floor(profile):
    quiet = Profile(
        replace(
            profile.data, results=tuple(replace(r, footroom_ev=None) for r in profile.data.results)
        )
    )
    placed = quiet.place(400, key="EV 12", spots=["hair=EV 5"])
    assert placed.spots[0].shadow == "not measured"
    assert placed.latitude.least_ev is None
    assert placed.latitude.one_frame is None
    assert placed.latitude.range_ev is None
    assert (placed.latitude.shift_ev, placed.latitude.bracket_ev) == (0.0, ())


def test_latitude_keeps_what_is_named(profile):
    placed = profile.place(
        400,
        key="EV 12",
        spots=["lamp=EV 17", "shirt=EV 14.0", "hair=EV 8.4", "cellar=EV 3"],
        setting="f/8 1/250",
        keep=["shirt"],
        shadows=["hair"],
    )
    latitude = placed.latitude
    assert (latitude.highlight, latitude.shadow) == ("shirt", "hair")
    nearest = min(d.value for d in spot(placed, "shirt").channels.values())
    assert latitude.most_ev.value == pytest.approx(nearest)
    assert latitude.most_ev.low < latitude.most_ev.value
    assert latitude.least_ev.value == pytest.approx(-spot(placed, "hair").above_floor_ev.value)
    assert latitude.one_frame is True
    assert latitude.contrast_ev.value == pytest.approx(14.0)
    # with the most exposure that is safe, the highlight is safe by a hair
    again = profile.place(
        400, spots=[f"shirt=EV {14.0 + latitude.most_ev.low - 0.001:.6f}"], setting="f/8 1/250"
    )
    assert again.spots[0].highlight == "safe"
    over = profile.place(
        400, spots=[f"shirt=EV {14.0 + latitude.most_ev.low + 0.01:.6f}"], setting="f/8 1/250"
    )
    assert over.spots[0].highlight == "in doubt"


def test_range_of_the_body_knows_nothing_of_the_meter(profile):
    """Floor to clip is log2 of two levels: its margin is the noise's and the clip's."""
    placed = profile.place(400, key="EV 12")
    span = placed.latitude.range_ev
    result = profile.find(400)
    assert span.value == pytest.approx(
        result.clip_headroom_ev.value + result.footroom_ev.snr10.value
    )
    line = [row.contribution_ev for row in result.budget if row.source != "clip"]
    noise = math.sqrt(result.footroom_ev.snr10.u**2 - math.hypot(*line) ** 2)
    assert span.u == pytest.approx(noise, abs=1e-4)
    assert span.u < 0.6 * READING_U


def test_a_bracket_holds_what_one_frame_cannot(profile):
    names = {"window": 15.0, "skin": 11.0, "cellar": 4.0}
    spots = [f"{name}=EV {ev}" for name, ev in names.items()]
    placed = profile.place(400, spots=spots, setting="f/8 1/250")
    latitude = placed.latitude
    assert latitude.one_frame is False
    assert len(latitude.bracket_ev) >= 2
    # each spot lies between clip and floor, with its margins, in one frame at least
    for landing in placed.spots:
        assert any(
            min(d.low for d in landing.channels.values()) >= shift - 1e-9
            and landing.above_floor_ev.low >= -shift - 1e-9
            for shift in latitude.bracket_ev
        ), landing.name


def test_one_frame_must_hold_both_with_their_margins(profile):
    """A contrast within the range, but by less than the two margins, asks for a bracket."""
    span = profile.place(400, key="EV 12").latitude.range_ev.value
    spots = ["top=EV 14.0", f"bottom=EV {14.0 - span + 0.2:.3f}"]
    latitude = profile.place(400, spots=spots, setting="f/8 1/250").latitude
    assert latitude.least_ev.value < latitude.most_ev.value
    assert latitude.one_frame is False
    roomy = ["top=EV 14.0", f"bottom=EV {14.0 - span + 0.6:.3f}"]
    assert profile.place(400, spots=roomy, setting="f/8 1/250").latitude.one_frame is True


def test_a_shift_is_proposed_where_one_frame_holds_it(profile):
    placed = profile.place(400, spots=["shirt=EV 15.5", "door=EV 12.5"], setting="f/8 1/250")
    latitude = placed.latitude
    assert latitude.one_frame is True
    assert latitude.shift_ev < 0.0
    assert latitude.shift_ev == pytest.approx(latitude.most_ev.low)


@pytest.mark.parametrize("top", [15.5, 15.53, 15.6, 15.68, 15.8])
@pytest.mark.parametrize("marks", ["third", "half"])
def test_the_mark_for_a_shift_keeps_both(profile, top, marks):
    """Nearest rounding would leave the highlight in doubt for some of these."""
    spots = [f"shirt=EV {top}", "door=EV 12.5"]
    shutter = profile.place(400, spots=spots, setting="f/8 1/250", marks=marks).latitude.shutter
    again = profile.place(400, spots=spots, setting=f"f/8 {shutter.label}", marks=marks)
    assert [spot.verdict for spot in again.spots] == ["safe", "safe"]
    assert again.latitude.shift_ev == 0.0
    assert again.latitude.shutter == shutter


def test_where_no_mark_keeps_both_none_is_named(profile):
    """The window between the two margins is narrower than a full stop, and no mark lies in it."""
    span = profile.place(400, key="EV 12").latitude.range_ev.value
    named = []
    for i in range(10):
        top = 14.05 + 0.1 * i
        spots = [f"top=EV {top:.3f}", f"bottom=EV {top - span + 1.0:.3f}"]
        placed = profile.place(400, spots=spots, setting="f/8 1/250", marks="full")
        assert placed.latitude.one_frame
        named.append(placed.latitude.shutter is not None)
    assert set(named) == {True, False}


def test_the_bracket_is_the_smallest(profile):
    """With a frame less, neighbours would overlap by less than a stop."""
    spots = ["window=EV 19", "cellar=EV 3"]
    latitude = profile.place(400, spots=spots, setting="f/8 1/250").latitude
    frames = latitude.bracket_ev
    assert [s.label for s in latitude.bracket_shutters] == [
        s.label for s in sorted(latitude.bracket_shutters, key=lambda s: s.marked_s)
    ]
    assert frames[0] <= latitude.most_ev.low
    assert frames[-1] >= latitude.least_ev.high
    room = latitude.range_ev.low - 1.0
    assert max(b - a for a, b in itertools.pairwise(frames)) <= room
    assert (frames[-1] - frames[0]) / (len(frames) - 2) > room


def test_the_key_is_a_spot_of_the_headline(profile):
    placed = profile.place(
        400, key="EV 16.0", spots=["shirt=EV 18.3"], setting="f/8 1/250", keep=["shirt"]
    )
    assert headline(placed).startswith("Clipped: shirt, grey (key). The brightest, shirt lands")


@pytest.mark.parametrize(
    ("key", "setting", "kept"), [("EV 12.0", "f/5.6 1/640", 0), ("EV 14.3", "f/5.6 1/250", -1)]
)
def test_a_bracket_keeps_the_frame_in_use_and_stays_on_the_dial(profile, key, setting, kept):
    """At f/5.6 1/640 s the shirt is safe and the hair is lost, a stop and a third more turns it."""
    spots = ["shirt=EV 14.3", "hair=EV 8.1"]
    placed = profile.place(400, key=key, spots=spots, setting=setting, keep=["shirt"])
    latitude = placed.latitude
    assert latitude.bracket_ev[kept] == 0.0
    assert latitude.bracket_shutters[kept].label == setting.split()[1] + " s"
    assert all(3 * shift == pytest.approx(round(3 * shift)) for shift in latitude.bracket_ev)
    marks = ", ".join(shutter.label for shutter in latitude.bracket_shutters)
    assert headline(placed).endswith(f" A bracket of 2 frames holds shirt and hair: {marks}.")


def test_a_bracket_by_angle_has_the_steps_of_a_dial_too(profile):
    spots = ["shirt=EV 14.3", "hair=EV 8.1"]
    latitude = profile.place(400, spots=spots, setting="f/5.6 48deg 24fps").latitude
    assert latitude.bracket_shutters == ()
    assert latitude.bracket_ev[-1] == 0.0
    assert all(3 * shift == pytest.approx(round(3 * shift)) for shift in latitude.bracket_ev)


def test_the_key_on_the_aim_is_a_setting_of_the_camera(profile, flash_profile):
    """The grey lands on the aim or up to one mark below it, as settings finds for the mark."""
    given = profile.place(400, key="EV 12.3").given
    assert given.mark.aperture.label == "f/5.6"
    assert -1 / 3 <= given.mark_ev <= 0.0
    time = given.mark.shutter.label
    left = profile.settings("EV 12.3", iso=400, aperture="f/5.6", time=time).setup.left_ev
    assert left == pytest.approx(-given.mark_ev)
    assert given.mark.label in given_words(profile.place(400, key="EV 12.3"))
    bright = given_words(profile.place(400, key="EV 17.0"))
    assert "the key on the aim, beyond most shutters (1/8000 s) without ND 0.6" in bright
    flash = flash_profile.place(100, key="f/8+0 ISO 100").given
    assert flash.mark.shutter is None
    left = flash_profile.settings("f/8+0 ISO 100", iso=100, aperture=flash.mark.label).setup.left_ev
    assert left == pytest.approx(-flash.mark_ev)
    assert -1 / 3 <= flash.mark_ev <= 0.0


def test_the_margin_adds_up(profile):
    latitude = profile.place(400, spots=["a=EV 14", "b=EV 9"], setting="f/8 1/250").latitude
    margin = latitude.margin
    assert margin.needs_ev == pytest.approx(5.0)
    assert margin.holds_ev == pytest.approx(latitude.range_ev.value, abs=0.05)
    spare = latitude.most_ev.low - latitude.least_ev.high
    assert margin.holds_ev - margin.needs_ev - margin.doubt_ev == pytest.approx(spare)


def test_averages_as_light_and_as_stops(profile):
    light = profile.place(400, key="EV 12", spots=["a=EV 9; EV 11"], average="light").spots[0]
    assert light.metered.as_stops_ev100 == pytest.approx(10.0)
    assert light.metered.ev100 == pytest.approx(math.log2((2**9 + 2**11) / 2.0))


def test_flash_spots_are_read_by_flash_spot(flash_profile):
    with pytest.raises(ProfileError, match="flash-spot in flash was not measured"):
        flash_profile.place(100, key="f/8 ISO 100", spots=["a=f/11 ISO 100"])
    placed = flash_profile.place(100, key="f/8 ISO 100", setting="f/8")
    assert placed.key.placement_ev == pytest.approx(0.0)


# wrong input -> error and words
@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"spots": ["hair"]}, ExposureError, "spot 'hair': it has no reading"),
        ({"spots": ["hair="]}, ExposureError, "spot 'hair': it has no reading"),
        ({"spots": ["=EV 8"]}, ExposureError, "the spot has no name"),
        ({"spots": ["a=EV 8", "a=EV 9"]}, ExposureError, "two spots are called 'a'"),
        ({"spots": ["a=8"], "key": "EV 12"}, SheetError, "spot 'a': '8': '8' has no unit"),
        (
            {"spots": ["a=650 lx"], "setting": "f/8 1/60"},
            ExposureError,
            "no meter shows this by spot",
        ),
        ({"spots": ["a=EV 8"]}, ExposureError, "without a key reading"),
        ({}, ExposureError, "there is no reading"),
        ({"key": "EV 12", "setting": "f/8"}, ExposureError, "the time is missing"),
        ({"key": "EV 12", "setting": "1/60"}, ExposureError, "the aperture is missing"),
        ({"key": "EV 12", "setting": "f/8 1/60 ISO 400"}, ExposureError, "has no place in it"),
        ({"key": "EV 12", "setting": "f/8 0.5"}, ExposureError, "'0.5' has no unit"),
        ({"key": "EV 12", "setting": "f/2 1/60"}, ProfileError, "f/2 was not measured"),
        ({"key": "EV 12", "keep": ["hat"]}, ExposureError, "there is no spot 'hat'"),
        ({"key": "EV 12", "mode": "incident-flat"}, ProfileError, "incident-flat was not measured"),
    ],
)
def test_wrong_input(profile, options, error, words):
    with pytest.raises(error, match=words):
        profile.place(400, **options)


def test_incident_key_with_spots_needs_both_modes(two_modes):
    only = tuple(r for r in two_modes.data.results if r.mode == "incident-flat")
    incident = Profile(replace(two_modes.data, results=only))
    with pytest.raises(ProfileError, match="ISO 400 by spot in daylight was not measured"):
        incident.place(400, key="EV 12", spots=["a=EV 11"])
