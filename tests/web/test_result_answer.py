"""Terminal, page and report hold the words of one Answer for any calibration."""

from __future__ import annotations

import html
import random
import re
from dataclasses import replace
from pathlib import Path

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.files.profile import load_profile
from profiler.flags import KINDS
from profiler.onset.dial import dial
from profiler.records import LIGHTS, MODES, Flag
from profiler.results import ModeRow, ShutterRow
from profiler.show.answer import Answer, Table, main_of, remark_of
from profiler.show.calibration.changes import changes
from profiler.show.calibration.profile import profile_answer
from profiler.show.card import card_row
from profiler.show.report import document as report
from profiler.show.terminal import printed
from profiler.simulate.memory import measure_in_memory
from profiler.web.rendering import fragment

KEPT = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v1.profile.json"
COUNT = 150
REPORTS = 25


@pytest.fixture(scope="module")
def calibrated():
    """Calibrated: three labels; one that never reached clip; two modes; a body without colours."""
    made = [load_profile(KEPT)]
    for body, mode, shots in (
        ("halden-h2", "spot", 10),
        ("halden-h2", ("spot", "incident-flat"), None),
        ("merle-m1", "spot", None),
    ):
        loaded = simulate.load_body(body)
        spec = simulate.standard_series(
            loaded, 5, mode=mode, labels=(loaded.labels[0].iso,), size=(96, 64), pairs=True
        )
        spec = replace(spec, shots=spec.shots[:shots])
        made.append(pipeline.fit(*measure_in_memory(spec, 0.6), light="daylight"))
    return made


def varied(rng: random.Random, profile):
    """A profile as it might have come out: other values, bounds, flags, gaps."""
    results = rng.sample(profile.results, rng.randint(1, len(profile.results)))
    profile = replace(
        profile,
        results=tuple(result_of(rng, result) for result in results),
        iso_steps=profile.iso_steps if len(results) > 1 else (),
        camera=replace(profile.camera, serial=rng.choice(["", "007"])),
    )
    if rng.random() < 0.3:
        late = ShutterRow(time_s=1 / 60, deviation_ev=0.2, u_ev=0.02, frames=4)
        profile = replace(profile, shutter=(late,))
    if rng.random() < 0.3:
        gap = ModeRow(
            iso=100, mode="spot", against="incident-flat", gap_ev=0.5, u_ev=0.1,
            expected_ev=0.4, left_ev=0.1,
        )  # fmt: skip
        profile = replace(profile, modes=(gap,))
    return profile


def result_of(rng: random.Random, result):
    """A result whose aim, doubt, bound, floor, flags and light are drawn anew."""
    moved, half = rng.choice([0.0, rng.uniform(-4.0, 4.0)]), rng.choice([0.0, 0.004, 0.07, 0.6])
    bound = rng.random() < 0.3

    def shifted(estimate, by):
        value = estimate.value + by
        return replace(
            estimate, value=value, u=half / 2, low=value - half, high=value + half,
            lower_bound=bound,
        )  # fmt: skip

    def divided(span, by):
        ratio = 2.0**-by
        return replace(
            span, value=span.value * ratio, low=span.low * ratio, high=span.high * ratio,
            lower_bound=bound,
        )  # fmt: skip

    flags = tuple(
        Flag(name=name, size=rng.uniform(0.0, 3.0), unit=rng.choice(["EV", "DN"]))
        for name in rng.sample([*KINDS, "from-later"], rng.randint(0, 3))
    )
    return replace(
        result,
        mode=rng.choice(MODES),
        light=rng.choice(LIGHTS),
        offset_ev=shifted(result.offset_ev, moved),
        clip_headroom_ev=shifted(result.clip_headroom_ev, moved),
        exposure_index=divided(result.exposure_index, moved),
        saturation_speed=divided(result.saturation_speed, moved),
        footroom_ev=rng.choice([result.footroom_ev, None]),
        aperture_band=rng.choice([result.aperture_band, (0.0, 0.0), (4.0, 8.0)]),
        saturation_budget=rng.choice([result.saturation_budget, ()]),
        channels={
            name: replace(channel, clip_seen=not bound) for name, channel in result.channels.items()
        },
        flags=flags,
    )


def profiles(calibrated, count):
    rng = random.Random(1_912)
    return [varied(rng, rng.choice(calibrated)) for _ in range(count)]


def texts(answer: Answer) -> list[str]:
    """Every text of an answer and of its parts, in no order."""
    named = [text for fact in (*answer.figures, *answer.rows) for text in (fact.name, fact.text)]
    notes = [note.text for note in answer.notes]
    cells = [text for table in answer.tables for text in cells_of(table)]
    whole = (answer.topic, answer.headline, *answer.lead, *answer.steps, *answer.closing)
    parts = [text for part in answer.parts for text in texts(part)]
    found = (*named, *notes, *cells, *whole, *answer.missing, *parts)
    return [text for text in found if text]


def cells_of(table: Table) -> list[str]:
    rows = [cell for row in (*table.rows, *table.foot) for cell in row]
    return [table.caption, *table.head, *map(main_of, rows), *map(remark_of, rows)]


def shown(markup: str) -> str:
    """What a page says, without its marks and without the names for those who can't see it."""
    bare = re.sub(r'<svg.*?</svg>|aria-label="[^"]*"', "", markup, flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]*>", " ", bare))


def letters(text: str) -> str:
    """A text without what a front end sets between the words, its letters sorted."""
    bare = re.sub(r"(?m)^  [!-] |^\d\. |Look out:|Missing:|What it rests on|\s", "", text)
    return "".join(sorted(bare.lower()))


def test_terminal_and_page_say_the_same(calibrated):
    for profile in profiles(calibrated, COUNT):
        answer = profile_answer(profile, budget=True)
        text, page = printed(answer), shown(fragment("result_answer.html", answer=answer))
        said = texts(answer)
        for words in said:
            assert words in text
            assert words.lower() in page.lower()
        # nothing is said by one alone, but for the commas between remarks
        assert letters(page) == letters(" ".join(said))
        assert letters(text).replace(",", "") == letters(page).replace(",", "")


def test_the_report_holds_the_same_words(calibrated, monkeypatch):
    monkeypatch.setattr(report, "_svg", lambda *_args, **_more: "<svg></svg>")
    for profile in profiles(calibrated, REPORTS):
        page = shown(report.report_body(profile))
        for words in texts(profile_answer(profile, budget=True)):
            if words != report.title(profile):
                assert words in page
        assert report.title(profile) in shown(report.report_page(profile))


def test_figures_follow_from_the_numbers(calibrated):
    """A bound says so in each figure and on the card, and nothing tells anybody to set it."""
    bounds = 0
    for profile in profiles(calibrated, COUNT):
        for result, part in zip(profile.results, profile_answer(profile).parts, strict=True):
            found, card = dial(result, result.aim_stops), card_row(result)
            offset, ei, headroom = (fact.text for fact in part.figures[:3])
            assert f"EI {found.ei_mark:g}" in ei
            assert card.ei.endswith(f"{found.ei_mark:g}")
            if found.offset_ev.lower_bound:
                bounds += 1
                assert offset.startswith("at least")
                assert headroom.startswith("at least")
                assert ei.startswith("at most")
                assert "not to be set" in ei
                assert "give" not in f"{offset} {ei} {part.headline}"
                assert (card.ei[0], card.give[0], card.headroom[0]) == ("≤", "≥", "≥")
            elif found.offset_ev.low > 0.0:
                assert offset.endswith("more")
                assert card.give.startswith("+")
                assert "more (±" in part.headline
            elif found.offset_ev.high < 0.0:
                assert offset.endswith("less")
                assert card.give.startswith("−")
                assert "less (±" in part.headline
            else:
                assert "none needed" in offset
                assert card.give == "0"
                assert "agree within the uncertainty" in part.headline
    assert bounds > 20


def test_what_is_missing_stands_apart(calibrated):
    result = replace(calibrated[0].results[0], flags=(Flag(name="clip-not-seen", size=1.0),))
    (part,) = profile_answer(replace(calibrated[0], results=(result,))).parts
    assert part.notes == ()
    assert "Add frames 1 to 2 stops above" in part.missing[0]


def test_a_correction_is_told_in_the_figures_of_the_answer(calibrated):
    kept = calibrated[0]
    other = replace(kept, results=tuple(result_of(random.Random(3), r) for r in kept.results[:1]))
    assert changes(None, kept) == []
    assert all(change.equal for change in changes(kept, kept))
    told = changes(kept, other)
    assert {change.figure for change in told} == {
        "offset", "or set the meter to", "headroom", "footroom", "apertures", "frames",
    }  # fmt: skip
    assert {change.old for change in told} & {"not there"}
    assert {change.new for change in told} & {"not there"}
