"""Every sentence means what its number says: directions, bounds, channels, by hand-made records."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from profiler.onset.camera import parse_setting, parse_shutter
from profiler.onset.corrections import parse_correction
from profiler.onset.latitude import Latitude, Margin
from profiler.onset.metered import read_meter_texts
from profiler.onset.mix import mix
from profiler.onset.mix_camera import MixedLight
from profiler.onset.place import Given
from profiler.onset.placement import both
from profiler.onset.plan import PlanAsk, planned
from profiler.onset.ratio import ratio
from profiler.onset.settings import Setup
from profiler.records import Estimate, Meter
from profiler.show import channels, marks
from profiler.show.onset import check, place, settings
from profiler.show.onset import marks as scale_marks
from profiler.show.onset import mix as mix_words
from profiler.show.onset.plan import plan_answer
from profiler.show.onset.plan_page import plan_page
from profiler.show.onset.ratio import ratio_answer


def about(value, half=0.2, *, bound=False):
    return Estimate(value=value, u=half / 2, low=value - half, high=value + half, lower_bound=bound)


def setup(left, *, below_clip=3.0, bound=False, floor=4.0):
    """A grey that lands `left` stops under the aim."""
    return Setup(
        iris=True,
        iso=400,
        setting=parse_setting("f/8 1/60"),
        left_ev=left,
        from_aim_ev=about(-left, bound=bound),
        below_clip_ev=about(below_clip, bound=bound),
        above_floor_ev=None if floor is None else about(floor),
    )


def found(left, **more):
    """What the headline of settings looks at."""
    return SimpleNamespace(
        setup=setup(left, **more),
        first_to_clip="G",
        others=(),
        iso=400,
        turn_flash_ev=None,
        beyond=None,
    )


@pytest.mark.parametrize(
    ("left", "told"),
    [
        (
            0.0,
            "Set f/8 1/60 s at ISO 400: the grey lands 3.0 ± 0.2 stops below clip (green first).",
        ),
        (0.3, "Set f/8 1/60 s at ISO 400, which leaves 0.3 stop still to give: the grey lands "),
        (-0.3, "Set f/8 1/60 s at ISO 400, which leaves 0.3 stop too much: the grey lands "),
        (0.8, "f/8 1/60 s at ISO 400 gives 0.8 stop too little light: the grey lands "),
        (-2.0, "f/8 1/60 s at ISO 400 gives 2.0 stops too much light: the grey lands "),
    ],
)
def test_what_is_left_over_stands_in_the_headline(left, told):
    assert settings.headline(found(left)).startswith(told)


def test_a_grey_beyond_clip_is_above_it():
    assert "1.0 ± 0.2 stop above clip" in settings.headline(found(-3.9, below_clip=-1.0))


def test_without_clip_nothing_is_to_be_set():
    text = settings.headline(found(0.0, bound=True))
    assert text.startswith("Shoot brighter frames first")
    assert "at least 3.0 ± 0.2 stops below clip" in text
    assert "Set " not in text
    assert "isn't known" in settings.left_words(setup(0.4, bound=True))


@pytest.mark.parametrize(
    ("left", "bound", "told"),
    [
        (1.0, False, "1.0 ± 0.2 stop below the aim"),
        (-1.0, False, "1.0 ± 0.2 stop above the aim"),
        (1.0, True, "at least 1.0 ± 0.2 stop below the aim"),
        (-1.0, True, "at most 1.0 ± 0.2 stop above the aim"),
        (0.0, False, "on the aim"),
    ],
)
def test_the_grey_lies_below_the_aim_where_light_is_lacking(left, bound, told):
    """A higher clip than the one seen moves the aim up, so a grey lies lower than it looks."""
    said = settings.from_aim_words(setup(left, bound=bound), 2.96)
    assert said.startswith(f"{told}, which is 2.96 stops below clip")


@pytest.mark.parametrize(("floor", "told"), [(4.0, "above SNR 10"), (-0.5, "below SNR 10")])
def test_the_floor(floor, told):
    assert settings.floor_words(setup(0.0, floor=floor)).endswith(told)
    assert settings.floor_words(setup(0.0, floor=None)).startswith("not known")


@pytest.mark.parametrize(
    ("left", "told"),
    [
        (0.1, "f/8 1/60 s, on the aim within the uncertainty"),
        (0.4, "f/8 1/60 s leaves 0.4 stop still to give"),
        (-0.4, "f/8 1/60 s leaves 0.4 stop too much"),
        (
            -1.4,
            "f/8 1/60 s leaves 1.4 stops too much; ND 0.3 takes that off but for 0.4 stop too much",
        ),
        (
            -0.7,
            "f/8 1/60 s leaves 0.7 stop too much; ND 0.3 takes that off "
            "but for 0.3 stop still to give",
        ),
    ],
)
def test_a_surplus_is_told_as_a_filter(left, told):
    assert settings.left_words(setup(left)) == told


def test_what_filters_take():
    lost = [parse_correction("ND 0.9")]
    assert settings.correction_words(lost, 3.0) == "ND 0.9: 3.0 stops lost, taken as exact"
    assert "1.0 stop gained" in settings.correction_words(lost, -1.0)
    assert settings.correction_words([], 0.0) == ""


def test_other_settings_are_short_or_over():
    record = found(0.0)
    record.others = (setup(0.4), setup(-0.4), setup(0.1))
    assert dict(settings._others(record))["alike"] == (
        "f/8 1/60 s (0.4 stop short), f/8 1/60 s (0.4 stop over), f/8 1/60 s"
    )
    record.others = (replace(setup(0.4), iso=100), replace(setup(-0.4), iso=800))
    assert dict(settings._others(record))["other labels"] == (
        "ISO 100: 0.4 stop still to give, ISO 800: 0.4 stop too much"
    )


# --- place ---------------------------------------------------------------------------------


def placed(latitude, *, seen=True, setting=None):
    given = Given(rule="aim", setting=setting, given_ev=10.0, corrections=(), iris=True)
    return SimpleNamespace(latitude=latitude, clip_seen=seen, given=given, iso=400)


def latitude(most, least, **more):
    settings = {
        "margin": Margin(holds_ev=6.4, needs_ev=6.2, doubt_ev=0.34),
        "one_frame": True,
        "shift_ev": 0.0,
        "shutter": None,
        "bracket_ev": (),
        "bracket_shutters": (),
    } | more
    return Latitude(
        highlight="lamp",
        shadow="hair",
        most_ev=most,
        least_ev=least,
        contrast_ev=about(6.0),
        range_ev=about(8.0),
        **settings,
    )


def test_what_the_exposure_may_do():
    free = dict(place._latitude(placed(latitude(about(1.0), about(-2.0)))))
    assert free["lamp, at clip"] == ("is safe up to 0.8 stop more (clips with 1.0 ± 0.2 stop more)")
    assert free["hair, at SNR 10"] == (
        "is safe down to 1.8 stops less (reaches it with 2.0 ± 0.2 stops less)"
    )
    why = "the body holds 6.4; the scene needs 6.2 plus 0.3 of doubt"
    assert free["one frame"] == f"holds it, as it is: {why}"
    tight = dict(place._latitude(placed(latitude(about(-1.0), about(2.0), shift_ev=-1.2))))
    assert tight["lamp, at clip"] == (
        "asks for 1.2 stops less to be safe (clips with 1.0 ± 0.2 stop less)"
    )
    assert tight["hair, at SNR 10"] == (
        "asks for 2.2 stops more to be safe (reaches it with 2.0 ± 0.2 stops more)"
    )
    assert tight["one frame"] == f"holds it, with 1.2 stops less: {why}"
    marked = latitude(about(-1.0), about(2.0), shift_ev=-1.2, shutter=parse_shutter("1/640"))
    assert dict(place._latitude(placed(marked)))["one frame"] == (
        f"holds it, with 1.2 stops less (1/640 s, rounded to the safe side): {why}"
    )


def test_a_bound_asks_for_no_change_and_no_bracket():
    free = latitude(about(1.0, bound=True), about(-2.0))
    rows = dict(place._latitude(placed(free, seen=False)))
    assert "clips with at least 1.0 ± 0.2 stop more" in rows["lamp, at clip"]
    tight = latitude(about(-1.0, bound=True), about(2.0), one_frame=False, bracket_ev=(-1.0, 2.0))
    rows = dict(place._latitude(placed(tight, seen=False)))
    assert "asks" not in rows["lamp, at clip"]
    assert "clips with at most 1.0 ± 0.2 stop less" in rows["lamp, at clip"]
    assert rows["one frame"].startswith("not known")


def test_a_bracket_in_stops_and_times():
    wide = latitude(
        about(-1.0),
        about(2.0),
        one_frame=False,
        bracket_ev=(-1.0, 1 / 3, 2.0),
        bracket_shutters=tuple(map(parse_shutter, ("1/125", "1/45", "1/15"))),
    )
    row = dict(place._latitude(placed(wide, setting=parse_setting("f/8 1/60"))))["one frame"]
    assert row == (
        "can't hold both: the body holds 6.4; the scene needs 6.2 plus 0.3 of doubt; "
        "a bracket of 3 frames does: -1.0, +0.3, +2.0 stops from here "
        "(1/125 s, 1/45 s, 1/15 s; rounded to the safe side)"
    )


def test_one_spot_needs_its_doubt_and_just_safe_is_no_change():
    alone = replace(latitude(about(0.2), about(-0.2)), shadow="lamp")
    rows = [text for _, text in place._latitude(placed(alone))]
    assert rows[0] == "is just safe as it is (clips with 0.2 ± 0.2 stop more)"
    assert rows[1] == "is just safe as it is (reaches it with 0.2 ± 0.2 stop less)"
    assert rows[3].endswith("the body holds 6.4; one spot needs its doubt, 0.3")


def test_a_spot_under_the_floor_is_not_called_safe():
    for dark, told in (
        ("below", "not clipped; below the floor (SNR 10) (± 0.2)"),
        ("in doubt", "not clipped; in doubt at the floor (SNR 10) (± 0.2)"),
        ("clear", "safe (± 0.2)"),
    ):
        assert place.verdict_words(landing("hair", CHANNELS, shadow=dark)) == told


def landing(name, by_channel, **more):
    distances = {c: about(v) for c, v in by_channel.items()}
    first = min(distances.values(), key=lambda d: d.value)
    settings = {"highlight": "safe", "shadow": "clear", "clipped": (), "doubtful": ()} | more
    settings["verdict"] = both(settings["highlight"], settings["shadow"])
    return SimpleNamespace(
        name=name,
        metered=read_meter_texts("EV 12", "spot", Meter()),
        placement_ev=0.0,
        below_clip_ev=first,
        channels=distances,
        above_grey_ev=about(1.5),
        above_floor_ev=about(5.0),
        **settings,
    )


CHANNELS = {"R": 2.1, "G1": 1.2, "G2": 1.21, "B": 3.3}


def test_each_channel_stands_in_its_column():
    spot = landing("lamp", CHANNELS, highlight="clipped", clipped=("R",), doubtful=("B", "G1"))
    table = place._spots(SimpleNamespace(landings=(spot,)))
    row = dict(zip(table.head, table.rows[0], strict=True))
    assert (row["R to clip"], row["G to clip"], row["B to clip"]) == ("2.1", "1.2", "3.3")
    assert (row["from grey"], row["to SNR 10"]) == ("+1.5", "5.0")
    assert row["verdict"] == "clipped: red; in doubt: blue, green (± 0.2)"


def test_colours_by_name():
    names = {c: channels.colour_name(c) for c in ("R", "G", "G1", "G2", "B")}
    assert names == {"R": "red", "G": "green", "G1": "green", "G2": "green", "B": "blue"}
    assert channels.with_rows("G1") == "Green 1 (rows of red)"
    assert channels.with_rows("G2") == "Green 2 (rows of blue)"


def test_the_scale_names_each_channel_at_its_height():
    drawn = scale_marks._clips(
        SimpleNamespace(clip_seen=True, channel_clip_ev={"R": 0.9, "G1": 0.0, "G2": 0.01, "B": 2.1})
    )
    assert [(mark.at, mark.text, mark.strong) for mark in drawn] == [
        (0.0, "green clips", True),
        (0.9, "red clips", False),
        (2.1, "blue clips", False),
    ]
    unseen = scale_marks._clips(
        SimpleNamespace(clip_seen=False, channel_clip_ev={"R": 0.0, "B": 0.02})
    )
    assert [mark.text for mark in unseen] == ["red and blue clip at least"]


def test_a_spot_of_the_scale():
    over = scale_marks._spot(landing("lamp", {"G": -1.3}, highlight="clipped"))
    assert (over.at, over.height, over.kind, over.verdict) == (1.3, "+1.3", "clipped", "clipped")
    assert (over.low, over.high) == pytest.approx((1.1, 1.5))
    dark = scale_marks._spot(landing("hair", {"G": 9.0}, shadow="below"))
    assert (dark.height, dark.kind, dark.verdict) == ("-9.0", "below", "below SNR 10")
    safe = scale_marks._spot(landing("wall", {"G": 2.0}))
    assert isinstance(safe, marks.Spot)
    assert (safe.kind, safe.verdict) == ("safe", "")


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (-1.3, "lamp lands 1.3 ± 0.2 stops above clip"),
        (1.3, "lamp lands 1.3 ± 0.2 stops below clip"),
    ],
)
def test_the_brightest_spot(value, told):
    scene = SimpleNamespace(landings=[landing("lamp", {"G": value})], first_to_clip="B")
    assert told in place.lost_words(scene)
    assert place.lost_words(scene).endswith("blue first.")


# --- light ---------------------------------------------------------------------------------


def mixed(share, *, flash="f/8 ISO 100", ambient="EV 12"):
    """Flash at f/8 against ambient at EV 12 for 1/64 s: equal amounts."""
    return mix(
        iso=100,
        flashes=[read_meter_texts(flash, "flash-flat", Meter())],
        ambient=read_meter_texts(ambient, "incident-flat", Meter()),
        holds="alone",
        time_s=1 / 64,
        share=share,
    )


def test_more_flash_is_nearer_and_the_iris_closes():
    answer = mix_words.mix_answer(MixedLight(mix=mixed(0.8), camera=None))
    assert answer.tables[0].caption.startswith("For 80 % flash (2.0 stops over the ambient light)")
    power, distance, time = answer.tables[0].rows
    assert power[1:] == ("2.0 stops more flash", "1.3 stops closed")
    assert distance[1:] == ("flash at 0.50 x its distance (nearer)", "1.3 stops closed")
    assert time[1].startswith("0.25 x the time (shorter, ")
    assert time[2] == "0.7 stop opened"


def test_less_flash_is_further_off_and_the_iris_opens():
    answer = mix_words.mix_answer(MixedLight(mix=mixed(0.2), camera=None))
    assert "2.0 stops under the ambient light" in answer.tables[0].caption
    power, distance, time = answer.tables[0].rows
    assert power[1:] == ("2.0 stops less flash", "0.7 stop opened")
    assert distance[1:] == ("flash at 2.00 x its distance (further off)", "0.7 stop opened")
    assert time[1].startswith("4.00 x the time (longer, ")
    assert time[2] == "1.3 stops closed"


@pytest.mark.parametrize(("flash", "word"), [("f/16 ISO 100", "over"), ("f/4 ISO 100", "under")])
def test_flash_over_or_under_the_ambient_light(flash, word):
    answer = mix_words.mix_answer(MixedLight(mix=mixed(None, flash=flash), camera=None))
    said = {fact.name: fact.text for fact in answer.figures}
    assert said["flash"] == f"2.0 ± 0.6 stops {word} the ambient light"


def camera(left, *, offset=-0.5, below=2.9, bound=False):
    return SimpleNamespace(
        iso=100,
        mode="flash-flat",
        offset_ev=offset,
        mark=SimpleNamespace(label="f/11"),
        left_ev=left,
        below_clip_ev=about(below, bound=bound),
        lens=None,
        flags=(),
    )


@pytest.mark.parametrize(
    ("left", "first", "row"),
    [
        (0.1, "set f/11 at ISO 100.", "f/11, on the aim within the uncertainty"),
        (
            0.4,
            "set f/11 at ISO 100, which leaves 0.4 stop still to give.",
            "f/11, leaves 0.4 stop still to give",
        ),
        (
            -0.4,
            "set f/11 at ISO 100, which leaves 0.4 stop too much.",
            "f/11, leaves 0.4 stop too much",
        ),
    ],
)
def test_the_f_number_for_a_mix(left, first, row):
    answer = mix_words.mix_answer(MixedLight(mix=mixed(None), camera=camera(left)))
    said = {fact.name: fact.text for fact in answer.figures}
    assert answer.headline.endswith(first)
    assert said["camera"] == row
    assert said["offset"].startswith("0.5 stop less than the meter says")
    assert said["grey"] == "2.9 ± 0.2 stops below clip"


def test_a_mix_without_clip_sets_nothing():
    found = camera(0.0, below=-0.4, bound=True)
    answer = mix_words.mix_answer(MixedLight(mix=mixed(None), camera=found))
    assert "set" not in answer.headline
    assert "hoot brighter frames" in answer.missing[0]
    assert ("grey at f/11", "at most 0.4 ± 0.2 stop above clip") in [
        (fact.name, fact.text) for fact in answer.figures
    ]


@pytest.mark.parametrize(("key", "word"), [("EV 12", "over"), ("EV 8", "under")])
def test_key_over_or_under_fill(key, word):
    readings = [read_meter_texts(text, "spot", Meter()) for text in (key, "EV 10")]
    said = {fact.name: fact.text for fact in ratio_answer(ratio(*readings)).figures}
    assert said["key over fill"].endswith(f"stops {word}")
    assert said["lit over shadow"].endswith("over")


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (0.6, "0.6 ± 0.2 stop more light"),
        (-0.6, "0.6 ± 0.2 stop less light"),
        (0.02, "as much light as predicted (± 0.2 stop)"),
        (None, "not known"),
    ],
)
def test_a_check_says_which_way(value, told):
    estimate = None if value is None else about(value)
    assert check.difference(SimpleNamespace(deviation_ev=estimate)) == told


@pytest.mark.parametrize(
    ("verdict", "told"),
    [
        ("within", "Nothing to do. A check can't find a change smaller than its margin."),
        ("outside", "Then shoot once more with a fresh reading. If it stays outside, calibrate"),
        ("not known", "Shoot the card so that it lies 1 to 5 stops below clip, and check again."),
    ],
)
def test_what_to_do_after_a_check(verdict, told):
    assert told in check.advice(SimpleNamespace(verdict=verdict))


def test_tenths_are_more_light_and_too_much_ambient_light_asks_for_less():
    answer = mix_words.mix_answer(MixedLight(mix=mixed(None), camera=None))
    assert "f/8+3 is f/8 with three tenths of a stop more light." in answer.closing
    drowned = SimpleNamespace(
        mix=SimpleNamespace(turn=SimpleNamespace(change_ev=None)), camera=None
    )
    assert mix_words._turning(drowned) == [
        ("to change", "a shorter time, a smaller aperture, or less ambient light")
    ]


@pytest.mark.parametrize(("ev", "word"), [(0.6, "more"), (-0.6, "less")])
def test_another_lens_passes_more_light_or_less(ev, word):
    lens = SimpleNamespace(model="Tarn 50", light_ev=about(ev), aperture=None)
    told = f"Tarn 50: 0.6 ± 0.2 stop {word} light than the calibrated lens"
    assert settings.lens_words(lens).startswith(told)


@pytest.mark.parametrize(
    ("readings", "step", "page", "blanks"),
    [
        (
            1,
            "Read the meter once, before the first frame, at the card.",
            "1 before the frames",
            {""},
        ),
        (
            2,
            "Read the meter before the first and after the last frame, at the card.",
            "1 before the frames, 1 after them",
            {" before", " after"},
        ),
        (
            5,
            "3 before the first frame, 2 after the last.",
            "3 before the frames, 2 after them",
            {"s before", "s after"},
        ),
    ],
)
def test_readings_before_and_after_the_frames(readings, step, page, blanks):
    plan = planned(PlanAsk(isos=(400,), readings=readings))
    answer = plan_answer(plan)
    assert step in answer.steps[1]
    assert page in [fact.text for fact in (*answer.figures, *answer.rows)]
    sheet = plan_page(plan)
    assert {side for side in blanks if f"<div>reading{side}</div>" in sheet} == blanks
    order = [sheet.index(f"<div>reading{side}</div>") for side in blanks if "before" in side]
    order += [sheet.index(f"<div>reading{side}</div>") for side in blanks if "after" in side]
    assert order == sorted(order)


@pytest.mark.parametrize(("time", "word"), [("1/500", "below"), ("1/15", "above")])
def test_where_a_grey_lands_from_clip(profile, time, word):
    """EV 12 at f/8 asks for 1/64 s at ISO 100: ISO 400 is a quarter of it."""
    found = profile.settings("EV 12", iso=400, aperture="f/8", time=time)
    said = {fact.name: fact.text for fact in settings.settings_answer(found).figures}
    assert said["grey from clip"].endswith(f" {word}")
