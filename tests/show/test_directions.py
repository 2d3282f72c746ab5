"""More and less, above and below, at least and at most, each colour: every sentence says it right.

The records are made by hand; what they hold says which word is the right one.
"""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest
from matplotlib.figure import Figure

from profiler.errors import GreytareError
from profiler.onset.camera import parse_setting
from profiler.onset.development import Development
from profiler.records import Estimate, Meter
from profiler.results import ShutterRow
from profiler.show import development, follow, hidden, instruments, lenses, plots
from profiler.show.calibration import bars, changes, lesson, result, tables
from profiler.show.calibration import profile as profile_words
from profiler.show.card import card_page
from profiler.show.fleet import compare, decide, drift, record, two
from profiler.show.fleet import words as fleet_words
from profiler.show.glossary import GLOSSARY
from profiler.show.onset.marks import dial_strip
from profiler.show.onset.scale import VERDICTS
from profiler.show.plots import linearity, noise, sheet
from profiler.show.report import document


def about(value, half=0.2, *, bound=False):
    return Estimate(value=value, u=half / 2, low=value - half, high=value + half, lower_bound=bound)


# --- one calibration -----------------------------------------------------------------------


def test_the_glossary():
    assert "a frame got above what the meter asked for at the ISO label" in GLOSSARY["placement"]
    assert GLOSSARY["aim"] == "how many stops below clip a metered grey should land"
    assert GLOSSARY["offset"].endswith("negative means give less")


def step(kind, more):
    return SimpleNamespace(kind=kind, more=more)


def test_what_to_do_next():
    assert profile_words._what(step("readings", 3)) == (
        "read the meter three more times, some of them after the last frame"
    )
    assert profile_words._what(step("frames", 1)) == "shoot 1 more frame below clip"
    assert profile_words._what(step("frames", 4)) == "shoot 4 more frames below clip"


def test_shutter_times_that_stand_out(kept):
    rows = (ShutterRow(time_s=1 / 1024, deviation_ev=0.3, u_ev=0.02, frames=2),)
    shown = replace(kept, shutter=rows)
    assert profile_words._shutter(shown) == [
        "Shutter times off by more than their uncertainty: 1/1000 s +0.30 EV (u 0.02)"
    ]
    table = tables.shutter_table(shown)
    assert table.caption == "More light than the marked time states; negative: less"
    assert table.rows[0][1].startswith("+0.3")


def test_channels_whose_clip_was_not_seen_hold_at_least_that(kept, odd):
    seen, unseen = (tables.channel_table(one.results[0]) for one in (kept, odd))
    assert "grey above black, DN" in seen.head
    for sure, bound in zip(seen.rows, unseen.rows, strict=True):
        assert not any("least" in str(cell) for cell in sure)
        assert [str(cell).startswith("at least ") for cell in bound[2:]] == [True, False, True]


def test_a_floor_that_is_a_bound_lies_there_or_below():
    assert bars._floor_words(about(5.0, bound=True)).endswith("or below")
    assert bars._floor_words(about(5.0)) == "-5.0 ± 0.2"
    assert "clip, darker its 95 % interval" in bars.READ


def test_the_aim_lies_below_clip_and_the_end_of_the_line_above_the_grey(kept):
    assert result.aim_words(2.5) == "grey 2.50 stops below clip"
    one = replace(kept.results[0], linear_headroom_ev=about(2.1))
    assert result.linear_words(one) == "leaves it by 2 % at 2.1 ± 0.2 stops above the grey"


def test_changes_beyond_four_are_counted():
    moved = [changes.Change(result="ISO 100", figure=str(i), old="1", new="2") for i in range(6)]
    assert changes.summary(moved).endswith("; and 2 more.")


def test_a_lesson_of_a_bound(odd):
    true = {"offset_ev": 0.0, "clip_headroom_ev": 3.0}
    said = {fact.name: fact.text for fact in lesson.lesson_answer(odd, true).figures}
    assert said["found less true"].endswith("EV: a lower bound, as clip was not seen")
    assert said["found less true"].startswith(f"{odd.results[0].offset_ev.value:+.2f}")


@pytest.mark.parametrize(
    ("k_cd_m2", "gap", "verb"), [(12.5, "+0.30", "more"), (20.0, "-0.38", "less")]
)
def test_three_places_for_a_grey(kept, k_cd_m2, gap, verb):
    """ISO 12232:2006, 10/S against 78/S: 2.963 EV; spot log2(78/(q K)) with q 0.65: 3.263 EV."""
    said = document.three_zeros(replace(kept, meter=replace(kept.meter, k_cd_m2=k_cd_m2)))
    assert "ISO 12232's own mean exposure, 10/S, lies 2.96 stops below clip." in said
    assert re.search(r"A spot reading with K \d+(\.5)? cd/m² lies [23]\.\d\d below,", said)
    assert "lx lies 3.07 below." in said
    assert f"an offset of {gap} EV (give {abs(float(gap)):.1f} stop {verb})" in said


def test_how_bounds_are_meant():
    bounds, measured, *_ = document.reading_notes()
    assert bounds == (
        "A headroom that is a lower bound, because no frame reached clip, makes the offset a lower "
        "bound and the EI an upper one; both say so."
    )
    assert measured.endswith("What was not measured is not here: measure it before you rely on it.")


def test_pages_of_a_profile(kept):
    report = " ".join(document.report_page(kept).split())
    assert "what a frame lies off that line is drawn below" in report
    assert "Offset and headroom share every source below." in report
    assert "against the next lower one" in report
    assert "Clip at ISO 100: stops above the metered grey per channel: R " in report
    card = " ".join(card_page(kept).split())
    assert "or the compensation alone; + more, − less exposure." in card


def test_a_picture_for_a_class_says_above_the_meter(kept):
    assert "placement: EV above the meter" in words_of(sheet.untold(kept.results[-1]))


# --- pictures ------------------------------------------------------------------------------


def words_of(figure):
    """Every text of a figure: axes, legends, titles, notes."""
    return [text.get_text() for text in figure.findobj(lambda x: hasattr(x, "get_text"))]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "response",
            ["placement: stops above what the meter asked for (EV)", "level above black, DN"],
        ),
        (
            "overview",
            ["placement: stops above what the meter asked for (EV)", "level above black, DN"],
        ),
        (
            "clip",
            [
                "placement: stops above what the meter asked for (EV)",
                "level above black, % of clip",
                "clips at, EV above the grey",
            ],
        ),
        ("transfer", ["signal above black, DN"]),
        ("shutter", ["more light than stated, EV"]),
    ],
)
def test_axes_say_above_and_more(kept, name, said):
    found = words_of(plots.PLOTS[name](kept, kept.results[-1]))
    assert set(said) <= set(found)
    for text in found:
        for word in ("placement", "level above"):
            assert not text.startswith(word) or text in said


def test_a_response_alone_names_its_axes(kept):
    axes = Figure().add_subplot()
    plots.draw_response(axes, kept.results[0])
    assert axes.get_xlabel() == "placement: stops above what the meter asked for (EV)"
    assert axes.get_ylabel() == "level above black, DN"


def test_bounds_in_pictures_are_at_least(odd):
    found = words_of(plots.PLOTS["iso"](odd, None))
    assert any(text.endswith(": at least") for text in found)


def test_noise_asks_for_more_levels(odd):
    with pytest.raises(GreytareError, match="Shoot frames at three levels or more per ISO label"):
        noise.transfer(odd, odd.results[1])


def test_a_spot_in_the_dark_is_below_the_floor():
    assert VERDICTS["below"][-1] == "below SNR 10"


@pytest.mark.parametrize(("left", "told"), [(0.2, "0.2 stop more"), (-0.2, "0.2 stop less")])
def test_the_exact_setting_beside_a_mark(left, told):
    strip = dial_strip(parse_setting("f/8 1/60"), left, "exact", "third", by_time=True)
    assert strip.rest == told
    assert strip.title.endswith(f"the exact setting: {told}")


# --- raw development -----------------------------------------------------------------------


def developed(ev, iso=100):
    return Development(
        iso=iso,
        mode="spot",
        light="daylight",
        correction_ev=None if ev is None else about(ev),
        grey_of_clip=0.12,
        aimed_of_clip=0.128,
        noise_profile={},
    )


def test_a_correction_makes_brighter_or_darker():
    answer = development.development_answer([developed(0.6), developed(-0.6, 200), developed(None)])
    assert "ISO 100 0.6 ± 0.2 stop brighter; ISO 200 0.6 ± 0.2 stop darker." in answer.headline
    table = answer.tables[0]
    assert table.head[2:] == ("correction, stops", "grey before", "after")
    assert [row[3] for row in table.rows] == ["12.0 % of clip"] * 2 + ["at most 12.0 % of clip"]
    assert "positive is brighter." in " ".join(answer.closing)
    several = development.development_answer([developed(0.6)] * 6)
    assert several.headline.endswith("; 2 more below.")


# --- meters and lenses ---------------------------------------------------------------------


def compared(mean, *, differ):
    levels = (
        SimpleNamespace(shown_ev100=5.0, difference_ev=about(mean - 0.1)),
        SimpleNamespace(shown_ev100=9.0, difference_ev=about(mean + 0.1)),
    )
    one, other = (SimpleNamespace(meter=Meter(make="Sprig", model=m)) for m in ("A", "B"))
    return SimpleNamespace(one=one, other=other, levels=levels, mean_ev=about(mean), differ=differ)


@pytest.mark.parametrize(("mean", "word"), [(0.4, "more"), (-0.4, "less")])
def test_two_meters(mean, word):
    answer = instruments.meters_answer(compared(mean, differ=True))
    assert answer.headline.startswith(
        f"Sprig A shows 0.4 ± 0.2 stop {word} than Sprig B on average"
    )
    assert answer.headline.endswith(", more than chance.")
    assert answer.tables[0].caption == "Sprig A less Sprig B"
    alike = instruments.meters_answer(compared(mean, differ=False))
    assert alike.headline.endswith(", no more than the readings' own scatter.")
    drawn = linearity.meters_apart(compared(mean, differ=True))
    assert drawn.axes[0].get_ylabel() == "first less second, EV"


@pytest.mark.parametrize(("value", "word"), [(0.3, "more"), (-0.3, "less")])
def test_a_meter_that_strays(value, word):
    levels = (
        SimpleNamespace(shown_ev100=5.0, deviation_ev=about(value)),
        SimpleNamespace(shown_ev100=9.0, deviation_ev=about(0.0)),
    )
    found = SimpleNamespace(levels=levels, strays=True, meter=Meter(make="Sprig"))
    assert f"it shows {word} than its own mean at EV 5.0." in instruments._headline(found)
    assert linearity.linearity(found).axes[0].get_ylabel() == "more than its mean, EV"


@pytest.mark.parametrize(("loss", "word"), [(0.3, "less"), (-0.3, "more")])
def test_a_lens_that_loses_light_gives_less(loss, word):
    lens = SimpleNamespace(loss_ev=about(loss), at_aperture=5.6)
    assert lenses._loss(lens) == f"0.3 ± 0.2 stop {word} light at f/5.6"


# --- faults to find ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "seen"),
    [
        # a pulse that is caught in part shows most; a whole period shows none
        ("mains-flicker", "most at times shorter than a period"),
        ("knee", "the brightest frames under clip fall below the line"),
        ("clip-channel", "green ends on a lower level than red and blue"),
        # smoothing makes neighbours alike
        ("noise-reduction", "neighbours differ by less (column “neighbours”) than the pixels"),
        # a pair takes the pattern out
        ("pattern-noise", "the noise of a patch (column “noise”) is far above that of a pair"),
        ("shutter-late", "looks like a black that is too low"),
    ],
)
def test_what_a_fault_looks_like(name, seen):
    assert seen in hidden.CLUES[name].seen


def test_names_of_faults():
    assert hidden.CLUES["knee"].name == "the response bends before it clips"
    assert hidden.CLUES["clip-channel"].name == (
        "green clips at a lower code than the other channels"
    )


# --- a series that grows -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "word"), [(0.4, "0.4 stop more light"), (-0.4, "0.4 stop less light")]
)
def test_a_frame_that_is_off(size, word):
    wrong = SimpleNamespace(files=("a.dng",), size_ev=size, kind="light", detail="")
    assert follow.wrong_words(wrong).startswith(f"a.dng got {word} than the setting says")


def test_what_a_series_waits_for():
    growing = SimpleNamespace(wrong=(), held=("a.dng",), waiting=(), caps=())
    said = follow._nothing_yet(growing).headline
    assert said.endswith("too dark to show where the card lies. A brighter frame will tell.")
    (note,) = follow._notes(growing)
    assert note.text.startswith("Waiting for a brighter frame that shows the card")
    assert follow._some(tuple("abcde")) == "a, b, c and 2 more"
    assert "falls on the card otherwise than before" in follow._CHANGED["shadow"]


# --- a fleet -------------------------------------------------------------------------------


def value(ev, *, bound=False):
    return SimpleNamespace(
        value=ev, low=ev - 0.2, high=ev + 0.2, u=0.1, expanded=0.2, lower_bound=bound
    )


def test_bounds_of_a_fleet():
    assert fleet_words.value_words(value(0.5, bound=True)) == "at least +0.5 ± 0.2"
    assert fleet_words.value_words(value(0.5)) == "+0.5 ± 0.2"
    assert fleet_words.limits_words(None, 0.12) == "at most +0.12"
    assert fleet_words.limits_words(-0.3, None) == "at least -0.30"


def row(*, bound):
    return SimpleNamespace(
        lower_bound=bound,
        exposure_index=408.0,
        exposure_index_low=380.0,
        exposure_index_high=430.0,
        value=lambda _name: value(0.5, bound=bound),
    )


def test_a_bound_in_a_record():
    """Headroom is at least that, so the EI is at most what its interval ends at."""
    assert record._exposure_index(row(bound=True)) == "at most 430"
    assert record._exposure_index(row(bound=False)) == "400 (exact 410, 380 to 430)"
    assert record._number(row(bound=True), "offset_ev", sign=True) == "at least +0.50 ± 0.20"
    assert record._number(row(bound=False), "offset_ev", sign=True) == "+0.50 ± 0.20"


def test_what_is_held_against_what(monkeypatch):
    for module in (compare,):
        monkeypatch.setattr(module, "short_name", lambda row: row.name)
        monkeypatch.setattr(module, "meter_words", lambda row: row.meter)
    a = SimpleNamespace(name="Halden 1", meter="Sprig A", case=None, aim_stops=3.0)
    b = SimpleNamespace(name="Halden 2", meter="Sprig B", case=None, aim_stops=3.0)
    found = SimpleNamespace(a=a, b=b, quantity="offset_ev")
    cases = SimpleNamespace(words=lambda *_: "ISO 400")
    assert compare.difference_what([found], meters=True).endswith(
        "by one meter less that by another"
    )
    assert compare.difference_what([found], meters=False).endswith("Halden 1 less that of Halden 2")
    assert compare.difference_name(found, cases, meters=True) == (
        "Halden 1, ISO 400: Sprig A less Sprig B"
    )


def test_doubts_about_many_bodies():
    name = next(iter(decide.OWN_DOUBTS))
    one = SimpleNamespace(doubts=(name,), body=("Halden", "H2", "1"), asset_tag="")
    (said,) = decide._doubts([one] * 7)
    assert said.endswith(" and 2 more.")


def test_what_is_archived_is_there_no_more():
    one = SimpleNamespace(
        reason="archived", series="s", body=("Halden", "H2", "1"), asset_tag="", why=""
    )
    assert decide.absent_words(one).endswith("its series are archived: their files are gone.")


def test_a_verdict_on_a_bound():
    one = SimpleNamespace(
        row=SimpleNamespace(case=("spot", "daylight", 400)),
        quantity="clip_headroom_ev",
        value_ev=3.0,
        expanded_ev=0.2,
        low_ev=-0.3,
        high_ev=None,
        verdict="in",
        expired=False,
        expires="",
        probability=None,
    )
    for bound, told in ((True, "at least +3.00"), (False, "+3.00")):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(decide, "case_words", lambda _case: "ISO 400")
            one.lower_bound = bound
            assert decide.judged_cells(one)[2] == told


def test_histories_of_one_day_and_what_bodies_share():
    one = SimpleNamespace(trend=None, outside=False, bench=None)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drift, "MOST_HISTORIES", 0)
        told = drift.drift_answer([one], [], None, None)
    assert "A trend needs calibrations of two days at least." in told.closing
    assert drift.bench_words([one])[-1] == (
        "Of the trends that count, 5 % at most are chance, on average over many fleets."
    )
    common = SimpleNamespace(
        meter=("Sprig", "A", "7"), bodies=9, slope_ev_per_year=-0.2, u_ev_per_year=0.03
    )
    assert drift.common_words(common).endswith(
        "EV a year (u 0.030): look at Sprig A 7, or at the light, before the bodies"
    )


# --- two calibrations of one body ----------------------------------------------------------


def change(beyond, *, by_itself=False, iso=400):
    a = SimpleNamespace(iso=iso, mode="spot", light="daylight", case=None)
    whole = SimpleNamespace(a=a, value_ev=beyond or 0.0)
    return SimpleNamespace(
        whole=whole, beyond_ev=None if beyond is None else about(beyond), by_itself=by_itself
    )


def both(alike, *changes):
    return SimpleNamespace(alike_ev=about(alike), changes=changes or (change(None),), apart=False)


@pytest.mark.parametrize(("ev", "word"), [(0.5, "more"), (-0.5, "less")])
def test_the_second_calibration_asks_for_more_or_less(ev, word, monkeypatch):
    told = two._headline(both(ev, change(None), change(None)))
    assert f"the second asks for 0.5 ± 0.2 stop {word} exposure than the first" in told
    monkeypatch.setattr(two, "_case", lambda _one: "ISO 400")
    assert two._alone_words(change(ev)) == (
        f"ISO 400: 0.5 ± 0.2 stop {word} than the other labels moved."
    )


def test_calibrations_that_agree():
    told = two._headline(both(0.1, change(None), change(None)))
    assert "moved by no more than the uncertainty (+0.1 ± 0.2 stop)" in told
