"""A doubt about the calibration stands beside every answer that rests on it, worded once."""

from __future__ import annotations

from dataclasses import replace

from profiler.flags import KINDS
from profiler.onset.between import find_label
from profiler.onset.mix_camera import MixAsk, mixed_light
from profiler.onset.profile import Profile
from profiler.records import Flag
from profiler.show.doubts import doubt_notes
from profiler.show.onset.mix import mix_answer
from profiler.show.onset.place import place_answer
from profiler.show.onset.settings import settings_answer

UNUSUAL = Flag(name="unusual-offset", size=2.72)
SAID = (
    "the calibration is in doubt: offset unusually large, +2.72 EV: "
    "check reading, ISO, compensation, patch"
)


def flagged(profile, *flags, iso=None):
    results = tuple(
        replace(r, flags=flags) if iso in (None, r.iso) else replace(r, flags=())
        for r in profile.data.results
    )
    return Profile(replace(profile.data, results=results))


def warned(answer):
    doubted = answer.headline.endswith(" The calibration is in doubt.")
    assert doubted == any(
        note.text.startswith("the calibration is in doubt") for note in answer.notes
    )
    return [note.text for note in answer.notes if note.warns]


def test_settings_place_and_mix_say_it_first(profile, flash_profile):
    ask = MixAsk(iso=100, flash="f/8+0 ISO 100")
    for flags, said in (((UNUSUAL,), [SAID]), ((), [])):
        body, flash = flagged(profile, *flags), flagged(flash_profile, *flags)
        asked = {"reading": "EV 12.3", "iso": 400, "aperture": "f/5.6"}
        assert warned(settings_answer(body.settings(**asked))) == said
        placed = body.place(400, key="EV 12.0", spots=["shirt=EV 13.0"])
        assert warned(place_answer(placed)) == said
        assert warned(mix_answer(mixed_light(ask, flash.data))) == said


def test_another_label_and_what_moves_nothing_stay_silent(profile):
    noise = Flag(name="noise-upper-bound", size=2.0, unit="e-")
    asked = {"reading": "EV 12.3", "iso": 400, "aperture": "f/5.6"}
    assert warned(settings_answer(flagged(profile, noise).settings(**asked))) == []
    assert warned(settings_answer(flagged(profile, UNUSUAL, iso=100).settings(**asked))) == []


def test_key_and_spots_each_bring_the_doubts_of_their_mode(two_modes):
    asked = {"mode": "incident-flat", "key": "EV 12.0", "spots": ["shirt=EV 13.0"]}
    for mode in ("spot", "incident-flat"):
        results = tuple(
            replace(r, flags=(UNUSUAL,) if r.mode == mode else ()) for r in two_modes.data.results
        )
        body = Profile(replace(two_modes.data, results=results))
        assert warned(place_answer(body.place(400, **asked))) == [SAID]


def test_between_two_labels_the_doubts_of_both_count(profile):
    low = Flag(name="trend", size=0.2)
    results = tuple(
        replace(r, flags=(low,) if r.iso == 100 else (UNUSUAL,)) for r in profile.data.results
    )
    data = replace(profile.data, results=results)
    assert find_label(data, 200, between=True).flags == (low, UNUSUAL)


def test_sizes_have_their_unit_and_later_flags_are_told():
    (few, later) = doubt_notes(
        [
            Flag(name="few-frames", size=3.0, unit="frames"),
            Flag(name="slip", size=1.0),
            Flag(name="of-a-later-version", size=0.5),
            Flag(name="few-frames", size=3.0, unit="frames"),
        ]
    )
    assert "few frames on the straight part, 3 frames: shoot" in few.text
    assert "doesn't know, +0.50 EV: install a newer greytare" in later.text


def test_short_words_come_in_pairs_and_start_small():
    for name, kind in KINDS.items():
        assert bool(kind.doubt) == bool(kind.look), name
        assert len(kind.doubt) + len(kind.look) < 110, name
        assert not f"{kind.doubt}{kind.look}".endswith(".")
