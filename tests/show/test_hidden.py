"""Every hidden fault has its words; task sheets don't depend on what is hidden, keys do."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from profiler.calibration import pipeline
from profiler.show.class_sheets import Pupil, key_page, tasks_page
from profiler.show.hidden import (
    CLUES,
    frames_table,
    judged_answer,
    key_answer,
    size_words,
    task_answer,
)
from profiler.show.plots.levels import short
from profiler.simulate.hidden import KINDS, Hidden, hidden_series, hide, judge
from profiler.simulate.memory import measure_in_memory

FAULTS = (("light-drift", -0.43), ("knee", 0.62))
TASK = Hidden(seed=1, difficulty="middle", faults=FAULTS)


def test_every_kind_has_its_words():
    assert set(CLUES) == set(KINDS)
    assert all(clue.seen and clue.unit and clue.name for clue in CLUES.values())


@pytest.mark.parametrize(
    ("name", "size", "shown"),
    [
        ("light-drift", 0.4, "0.4 EV over the series, falling"),
        ("light-drift", -0.4, "0.4 EV over the series, rising"),
        ("mistyped-reading", 0.62, "0.62 EV, too high"),
        ("mistyped-reading", -1.0, "1 EV, too low"),
        ("pattern-noise", 0.0353, "0.035 part of the signal"),
        ("knee", 0.65, "0.65 part of the range where it begins"),
    ],
)
def test_sizes_say_their_direction(name, size, shown):
    assert size_words(name, size) == shown


@pytest.mark.parametrize(
    ("said", "headline"),
    [
        ({"light-drift": 0.4, "knee": 0.65}, "2 of 2 faults found, 2 sizes right."),
        ({"light-drift": 0.6}, "1 of 2 faults found, 0 sizes right."),
        ({"mains-flicker": 0.4}, "0 of 2 faults found, 1 named that is not there."),
        ({}, "0 of 2 faults found."),
    ],
)
def test_verdict_counts_what_was_found(said, headline):
    answer = judged_answer(judge(TASK, said))
    assert answer.headline == headline
    assert [fact.name for fact in answer.rows] == [CLUES[name].name for name, _ in FAULTS]


def test_task_tells_flags_only_on_demand_and_never_the_truth():
    measurement, sheet = measure_in_memory(hidden_series(TASK, size=(72, 48)))
    profile = pipeline.fit(measurement, sheet, light="daylight")
    plain = task_answer(profile, measurement.frames, with_flags=False)
    flagged = task_answer(profile, measurement.frames, with_flags=True)
    assert plain.notes == ()
    assert plain.missing == ()
    assert flagged.notes
    assert plain.tables == flagged.tables
    assert len(plain.tables[1].rows) == 18
    shown = repr(plain)
    assert not any(flag.name in shown for flag in profile.results[0].flags)


def seen(task: Hidden) -> Pupil:
    measurement, sheet = measure_in_memory(hidden_series(task, size=(96, 64)))
    profile = pipeline.fit(measurement, sheet, light="daylight")
    return Pupil(
        folder="student-01", hidden=task, profile=profile, frames=tuple(measurement.frames)
    )


def test_task_sheets_are_the_same_whatever_is_hidden():
    one = tasks_page([Pupil(folder="student-01", hidden=TASK)])
    other = tasks_page([Pupil(folder="student-01", hidden=hide(99, "hard"))])
    assert one == other
    assert all(clue.name in one for clue in CLUES.values())


def test_a_sheet_shows_the_series_and_nothing_of_what_was_made_of_it():
    task = Hidden(seed=3, difficulty="easy", faults=(("mistyped-reading", 1.0),))
    pupil = seen(task)
    (result,) = pupil.profile.results
    left_out = [frame for frame in result.frames if "slip" in frame.flags]
    assert len(left_out) == 1
    page = tasks_page([pupil])
    shown = frames_table(result, pupil.frames)
    assert len(shown.rows) == 18
    assert all(f"<td>{cell}</td>" in page for row in shown.rows for cell in row)
    assert page.count("<svg") == 1
    bare = replace(
        result, flags=(), frames=tuple(replace(f, used=True, flags=()) for f in result.frames)
    )
    as_if = replace(pupil, profile=replace(pupil.profile, results=(bare,)))
    assert tasks_page([as_if]) == page
    assert short(left_out[0].file) not in page


def test_key_names_the_frame_whose_reading_is_wrong():
    task = Hidden(seed=3, difficulty="easy", faults=(("mistyped-reading", 1.0),))
    (result,) = seen(task).profile.results
    number = next(n for n, f in enumerate(result.frames, start=1) if "slip" in f.flags)
    assert f"1 EV, too high, frame {number}<" in key_page([Pupil(folder="a", hidden=task)], 7)


def test_key_holds_every_students_faults_and_how_they_are_seen():
    pupils = [Pupil(folder=f"student-{n:02d}", hidden=hide(n, "hard")) for n in range(1, 31)]
    page = key_page(pupils, 7)
    for pupil in pupils:
        assert re.search(rf"{pupil.folder}</td><td[^>]*>{pupil.hidden.seed}</td>", page)
        for name, size in pupil.hidden.faults:
            assert CLUES[name].name in page
            assert size_words(name, size) in page
            tick = KINDS[name].nearest(size)
            where = r"(, frame \d+)?</td><td>"
            assert re.search(f"{re.escape(size_words(name, size))}{where}{tick:g}</td>", page)
    assert "Seed 1, middle: 2 faults." in key_answer(TASK).headline
