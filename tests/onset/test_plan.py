"""The plan: which frames it lists, what it promises, and that its list keeps the promise."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from profiler import simulate, standards
from profiler.calibration import pipeline
from profiler.errors import ExposureError
from profiler.exposure.flicker import flicker_ev
from profiler.exposure.stops import exact_time_s
from profiler.files.sheet import parse_sheet
from profiler.onset.plan import PlanAsk, planned
from profiler.onset.plan_frames import Expected, measured_headroom, wanted_placements
from profiler.records import MODES
from profiler.show.onset.plan_page import plan_sheet
from profiler.simulate.marks import TIME_MARKS, marked_value
from profiler.simulate.memory import measure_in_memory


def lit(label):
    return [f for f in label.frames if not f.dark]


def fitted(plan, seed, mode="spot", scatter=standards.SHUTTER_SCATTER_EV):
    """The results of the plan's own list, shot by the simulator."""
    labels = tuple(label.iso for label in plan.labels)
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"),
        seed,
        labels=labels,
        mode=mode,
        ev100=plan.ev100,
        size=(96, 64),
        shutter_scatter_ev=scatter,
    )
    shots = []
    for frame in (f for label in plan.labels for f in label.frames):
        shutter = frame.setting.shutter
        mark = min(TIME_MARKS, key=lambda m: abs(math.log2(marked_value(m) / shutter.marked_s)))
        shot = simulate.Shot(
            iso=frame.iso,
            time=mark,
            aperture=f"{frame.setting.aperture.marked:g}",
            dark=frame.dark,
            power_ev=0.0,
        )
        if frame.meter_shows:
            shot = replace(shot, power_ev=shown_ev100(frame) - plan.ev100)
        shots += [shot] * frame.copies
    measurement, sheet = measure_in_memory(replace(spec, shots=tuple(shots)), 0.6)
    return pipeline.fit(measurement, sheet, light=spec.scene.light).results


def shown_ev100(frame):
    from profiler.exposure.readings import parse_reading
    from profiler.records import Meter

    return parse_reading(frame.meter_shows).metered_ev100("flash-flat", Meter())


@pytest.mark.parametrize(
    ("mode", "light", "isos", "options"),
    [
        ("spot", "daylight", (100, 400), {}),
        ("spot", "daylight", (400,), {"short": True}),
        ("spot", "led", (100,), {"mains_hz": 50.0, "reading": "EV 10.3"}),
        ("incident-flat", "daylight", (100,), {}),
        ("flash-flat", "flash", (100,), {"short": True}),
    ],
)
def test_the_list_keeps_its_promise(mode, light, isos, options):
    """In the middle of five series: what frames tell of a drift varies from one to the next."""
    plan = planned(PlanAsk(isos=isos, mode=mode, light=light, readings=1, **options))
    results = [result for seed in range(5, 10) for result in fitted(plan, seed, mode)]
    assert np.median([r.offset_ev.u for r in results]) == pytest.approx(plan.u_ev, rel=0.2)
    halves = [0.5 * (r.offset_ev.high - r.offset_ev.low) for r in results]
    assert np.median(halves) == pytest.approx(plan.half_ev, rel=0.2)
    assert not any(r.clip_headroom_ev.lower_bound for r in results)


def test_the_fits_own_part_is_foreseen_too():
    """The meter's rows make up most of the sum, so the frames' share is compared alone."""
    plan = planned(PlanAsk(isos=(100, 400), short=True))
    promised = next(row.u_ev for row in plan.budget if row.source == "fit scatter")
    found = [
        row.u_ev
        for seed in range(6)
        for result in fitted(plan, seed)
        for row in result.budget
        if row.source == "fit scatter"
    ]
    assert np.sqrt(np.mean(np.square(found))) == pytest.approx(promised, rel=0.2)


def test_placements_reach_from_the_floor_to_over_clip():
    plan = planned(PlanAsk(isos=(100,)))
    expected = plan.expected
    placed = [f.placement_ev for f in lit(plan.labels[0])]
    assert placed == sorted(placed)
    assert min(placed) - expected.headroom_ev == pytest.approx(-7.0, abs=0.2)
    # wherever clip lies, a frame is 1 to 2 stops over it (marks round by a sixth)
    for clip in np.linspace(-expected.doubt_ev, expected.doubt_ev, 15) + expected.headroom_ev:
        assert any(0.8 <= x - clip <= 2.2 for x in placed)
    steps = np.diff(placed)
    near = [s for x, s in zip(placed, steps, strict=False) if abs(x - expected.headroom_ev) < 0.7]
    assert max(near) < 0.4


@pytest.mark.parametrize("doubt", [0.2, 0.4, 0.7, 1.0])
@pytest.mark.parametrize("short", [False, True])
def test_wanted_placements_cover_every_clip_expected(doubt, short):
    expected = Expected(headroom_ev=3.0, doubt_ev=doubt, basis="")
    placements = wanted_placements(expected, short=short)
    assert list(placements) == sorted(placements)
    for clip in np.linspace(3.0 - doubt, 3.0 + doubt, 21):
        assert any(1.0 - 1e-9 <= x - clip <= 2.0 + 1e-9 for x in placements)


@pytest.mark.parametrize("mains", [50.0, 60.0])
def test_times_that_flicker_are_left_out(mains):
    asked = PlanAsk(light="led", mains_hz=mains, reading="EV 9")
    plan = planned(asked)
    times = [f.setting.shutter.marked_s for f in lit(plan.labels[0])]
    assert len(times) >= 5
    assert all(flicker_ev(exact_time_s(t), mains) < 0.05 for t in times)
    by_day = planned(replace(asked, light="daylight"))
    times = [f.setting.shutter.marked_s for f in lit(by_day.labels[0])]
    assert any(flicker_ev(exact_time_s(t), mains) > 0.5 for t in times)


def test_long_times_are_left_out_unless_asked_for():
    times = [f.setting.shutter.marked_s for f in lit(planned(PlanAsk(isos=(100,))).labels[0])]
    assert max(times) < standards.LONG_TIME_S
    dim = planned(PlanAsk(max_time="30", reading="EV 5"))
    assert max(f.setting.shutter.marked_s for f in lit(dim.labels[0])) > 1.0


def test_aperture_is_between_f4_and_f8_and_fits_the_reading():
    assert planned(PlanAsk(isos=(100,))).aperture.marked == 5.6
    bright = planned(PlanAsk(isos=(100,), reading="EV 14"))
    assert bright.aperture.marked == 8.0
    wide = planned(PlanAsk(isos=(100,), aperture="f/2"))
    assert any("f/2 lies outside f/4 to f/8" in text for text in wide.warnings)


def test_too_dim_a_light_says_so():
    plan = planned(PlanAsk(isos=(100,), reading="EV 4"))
    assert any("no frame is sure to lie over clip" in text for text in plan.warnings)
    assert not plan.labels[0].over_clip


def test_without_a_reading_it_says_which_light_to_bring():
    plan = planned(PlanAsk(isos=(100,)))
    assert plan.light_low_ev100 <= plan.ev100 <= plan.light_high_ev100
    assert plan.labels[0].missed_ev == ()
    again = planned(PlanAsk(isos=(100,), reading=f"EV {plan.ev100}", aperture=plan.aperture.label))
    assert again.labels == plan.labels


def test_an_older_profile_narrows_where_clip_is_looked_for(profile):
    known = measured_headroom(profile.data, "spot", (100, 400))
    headroom = profile.find(100).clip_headroom_ev.value
    assert abs(known.headroom_ev - headroom) < 0.1
    assert known.doubt_ev == pytest.approx(0.2, abs=0.05)
    plan = planned(PlanAsk(isos=(100,)), profile.data)
    assert plan.frame_count < planned(PlanAsk(isos=(100,))).frame_count
    assert measured_headroom(profile.data, "incident-flat", (100,)) is None


def test_flash_is_bracketed_by_what_the_meter_shows():
    plan = planned(PlanAsk(isos=(400,), mode="flash-dome", light="flash"))
    frames = lit(plan.labels[0])
    assert len({f.setting for f in frames}) == 1
    for frame in frames:
        shown = shown_ev100(frame) + 2.0  # at ISO 400
        assert shown - 5.0 == pytest.approx(frame.placement_ev, abs=1e-9)  # f/5.6 is 2^(5/2)


@pytest.mark.parametrize("mode", MODES)
def test_the_sheet_can_be_read_back(mode):
    light = "flash" if mode.startswith("flash") else "daylight"
    reading = "EV 11" if light == "daylight" else None
    plan = planned(PlanAsk(isos=(100,), mode=mode, light=light, reading=reading))
    sheet = parse_sheet(plan_sheet(plan), "sheet.csv")
    assert {row.mode for row in sheet.rows} == {mode}
    assert all(row.file == "*" for row in sheet.rows)
    if reading:
        assert sheet.rows[0].reading.value == 11.0


# refusals: what is wrong, and the words that say so
@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"isos": ()}, "no ISO label is given"),
        ({"isos": (0,)}, "no ISO label is given"),
        ({"min_time": "1", "max_time": "0.5"}, "not below the longest"),
        ({"mode": "dome"}, "there is no mode 'dome'"),
        ({"light": "moon"}, "there is no light 'moon'"),
        ({"copies": 0}, "isn't a number of frames"),
        (
            {"max_time": "1/1000", "light": "led", "mains_hz": 50.0},
            "no time is left",
        ),
    ],
)
def test_refusals(asked, words):
    with pytest.raises(ExposureError, match=words):
        planned(PlanAsk(**asked))


def test_promise_falls_with_the_frames():
    many = planned(PlanAsk(isos=(100,)))
    few = planned(PlanAsk(isos=(100,), short=True, copies=1))
    assert few.u_ev > many.u_ev
    assert few.minutes < many.minutes
    assert any("two of each frame" in text for text in few.warnings)
    assert any("lens-cap" in t for t in planned(PlanAsk(isos=(100,), darks=0)).warnings)


@pytest.mark.parametrize("mode", ["spot", "incident-dome"])
def test_flash_is_planned_only_where_the_meter_reads_flash(mode):
    with pytest.raises(ExposureError, match=f"flash isn't read by {mode}") as refused:
        planned(PlanAsk(isos=(400,), light="flash", mode=mode, reading="EV 12.0"))
    assert refused.value.field == "mode"
    assert "(flash-dome, flash-flat, flash-spot) by {mode}" in refused.value.mend
    assert planned(PlanAsk(isos=(400,), light="flash", mode="flash-flat")).light == "flash"
