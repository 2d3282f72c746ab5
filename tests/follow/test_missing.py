"""What the plan still wants, from hand-made series."""

from __future__ import annotations

from dataclasses import replace

import pytest

from profiler.follow.missing import Setting, still_missing
from profiler.follow.records import GrowingLabel, Missing
from profiler.onset.plan_frames import Expected, wanted_placements
from profiler.show import follow

KNOWN = Expected(headroom_ev=3.0, doubt_ev=0.2, basis="this series")


def shot(placements, copies=2):
    return [Setting(placement_ev=x, copies=copies, time_s=2.0 ** (x - 6.0)) for x in placements]


def zones(missing):
    return {each.zone: each.frames for each in missing}


def test_whole_plan_leaves_nothing():
    settings = shot(wanted_placements(KNOWN))
    assert still_missing(settings, KNOWN, copies=2, short=False) == ()


def test_nothing_shot_wants_the_whole_plan():
    wanted = wanted_placements(KNOWN)
    missing = still_missing((), KNOWN, copies=2, short=False)
    assert sum(each.frames for each in missing) == 2 * len(wanted)
    assert all(each.times_s == () for each in missing)


@pytest.mark.parametrize(
    ("left_out", "zone"),
    [
        (lambda x: x > 3.5, "above clip"),
        (lambda x: 2.0 < x < 3.5, "just under clip"),
        (lambda x: -1.0 <= x <= 1.0, "near the grey"),
        (lambda x: x < -1.0, "in the shadows"),
    ],
)
def test_each_zone_is_named_where_its_frames_are_left_out(left_out, zone):
    wanted = wanted_placements(KNOWN)
    settings = shot([x for x in wanted if not left_out(x)])
    missing = still_missing(settings, KNOWN, copies=2, short=False)
    assert zones(missing) == {zone: 2 * sum(map(left_out, wanted))}


def test_frames_between_grey_and_clip_are_named_where_headroom_leaves_room():
    wide = Expected(headroom_ev=5.0, doubt_ev=0.2, basis="this series")
    settings = shot([x for x in wanted_placements(wide) if not 1.0 < x < 4.0])
    assert zones(still_missing(settings, wide, copies=2, short=False)) == {
        "between the grey and clip": 4
    }


def test_second_frame_of_a_setting_is_wanted_at_its_own_time():
    settings = shot(wanted_placements(KNOWN))
    settings[2] = Setting(placement_ev=settings[2].placement_ev, copies=1, time_s=1 / 250)
    (missing,) = still_missing(settings, KNOWN, copies=2, short=False)
    assert (missing.frames, missing.times_s) == (1, (1 / 250,))


def test_frames_of_one_exposure_stand_for_one_placement():
    settings = shot([0.0], copies=20)
    missing = still_missing(settings, KNOWN, copies=2, short=False)
    assert sum(each.frames for each in missing) == 2 * (len(wanted_placements(KNOWN)) - 1)


def test_missing_time_is_the_mark_that_gives_the_placement():
    # a frame at the grey took 1/60 s: 4.1 and 4.8 stops more are 0.29 and 0.46 s
    wanted = [x for x in wanted_placements(KNOWN) if not x > 3.5]
    settings = [Setting(placement_ev=x, copies=2, time_s=2.0**x / 60.0) for x in [*wanted, 0.0]]
    (missing,) = still_missing(settings, KNOWN, copies=2, short=False)
    assert missing.zone == "above clip"
    assert missing.times_s == (0.3, 0.5)
    assert missing.copies == (2, 2)


def test_frame_off_the_plan_asks_for_no_second_one():
    settings = [*shot(wanted_placements(KNOWN)), *shot([7.0], copies=1)]
    assert still_missing(settings, KNOWN, copies=2, short=False) == ()


def test_what_is_missing_is_told_as_times_to_shoot():
    """Three settings are shown at most; without times the zones are."""
    over = Missing(zone="above clip", frames=4, times_s=(0.3, 0.5), copies=(2, 2))
    grey = Missing(zone="near the grey", frames=3, times_s=(1 / 60, 1 / 125), copies=(2, 1))
    label = GrowingLabel(iso=400, mode="spot", missing=(over, grey), darks_missing=2)
    assert follow._lacking(label) == (
        "next 0.3 s x2, 0.5 s x2, 1/60 s x2, then 1 frame more, two lens-cap frames"
    )
    assert follow._table(label).rows[1] == ("near the grey", "3", "1/60 s x2, 1/125 s x1")
    unknown = replace(label, missing=(replace(over, times_s=(), copies=()),), darks_missing=0)
    assert follow._lacking(unknown) == "four frames above clip"
