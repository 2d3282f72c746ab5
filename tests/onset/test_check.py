"""A frame held against the profile: agreement, a change, or neither can be told."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from profiler import simulate
from profiler.errors import FrameError, MeasureError, ProfileError
from profiler.onset.check import check, measure_for_check
from profiler.records import Flag, Tag
from profiler.show.onset.check import check_answer
from profiler.show.terminal import printed
from profiler.simulate.memory import measure_in_memory


def frames(shots, **changes):
    """Frames of the body that `profile` was made for, under EV 10.3."""
    body = replace(simulate.load_body("halden-h2"), **changes)
    spec = simulate.standard_series(
        body, 77, labels=(400,), ev100=10.3, size=(96, 64), shutter_scatter_ev=0.0
    )
    shots = tuple(simulate.Shot(**({"iso": 400, "aperture": "5.6"} | shot)) for shot in shots)
    return measure_in_memory(replace(spec, shots=shots), 0.6)[0]


GREY = {"time": "1/125"}


def test_a_frame_as_the_profile_says(profile):
    found = check(profile.data, frames([GREY]), "EV 10.3")
    assert found.verdict == "within"
    assert abs(found.deviation_ev.value) < 0.05
    frame = found.frames[0]
    assert frame.channels["G1"].found_dn == pytest.approx(
        frame.channels["G1"].expected_dn, rel=0.04
    )
    assert frame.setting == "f/5.6 1/125 s"


@pytest.mark.parametrize(("change", "sign"), [(0.4, 1.0), (-0.4, -1.0)])
def test_a_change_is_found_with_its_sign(profile, change, sign):
    found = check(profile.data, frames([GREY | {"iris_ev": change}]), "EV 10.3")
    assert found.verdict == "outside"
    assert found.deviation_ev.value == pytest.approx(0.4 * sign, abs=0.05)
    assert "calibrate again" in printed(check_answer(found))


def test_a_small_change_is_within_the_margin(profile):
    found = check(profile.data, frames([GREY | {"iris_ev": 0.1}]), "EV 10.3")
    assert found.verdict == "within"
    assert found.deviation_ev.low < 0.0 < found.deviation_ev.high


def test_a_slip_of_the_reading_is_found(profile):
    assert check(profile.data, frames([GREY]), "EV 9.3").verdict == "outside"


def test_two_frames_share_the_reading_not_the_shutter(profile):
    one = check(profile.data, frames([GREY]), "EV 10.3").deviation_ev.u
    two = check(profile.data, frames([GREY, {"time": "1/60"}]), "EV 10.3").deviation_ev.u
    scatter = profile.find(400).frame_scatter_ev
    assert one**2 - two**2 == pytest.approx(0.5 * scatter**2, abs=1e-5)


def test_another_aperture_adds_the_iris(profile):
    same = check(profile.data, frames([GREY]), "EV 10.3").deviation_ev.u
    other = check(profile.data, frames([{"time": "1/60", "aperture": "8"}]), "EV 10.3")
    assert other.verdict == "within"
    assert other.deviation_ev.u**2 - same**2 == pytest.approx(2 * 0.05**2 / 3, abs=1e-5)


def test_a_clipped_frame_cant_be_told(profile):
    found = check(profile.data, frames([{"time": "1/4"}]), "EV 10.3")
    assert found.verdict == "can't tell"
    assert found.deviation_ev is None
    assert "can't be told" in printed(check_answer(found))


def test_partly_clipped_frames_tell_by_the_channels_left(profile):
    found = check(profile.data, frames([{"time": "1/15"}]), "EV 10.3")
    told = {n: c.deviation_ev for n, c in found.frames[0].channels.items()}
    assert told["G1"] is None
    assert told["R"] is not None
    assert found.verdict == "within"


def test_filters_are_taken_into_account(profile):
    dim = frames([{"time": "1/15", "iris_ev": -3.0}])
    assert check(profile.data, dim, "EV 10.3").verdict == "outside"
    assert check(profile.data, dim, "EV 10.3", lost_ev=3.0).verdict == "within"


def test_age_of_the_profile(profile):
    def aged(**fields):
        known = replace(profile.data, provenance=replace(profile.data.provenance, **fields))
        return check(known, frames([GREY]), "EV 10.3", now=datetime(2026, 7, 1, tzinfo=UTC))

    assert aged(taken="2026-06-01T10:00:00").profile_age_days == 29
    fitted_anew = aged(taken="2026-06-01T10:00:00", created="2026-06-30T00:00:00Z")
    assert fitted_anew.profile_age_days == 29
    assert aged(taken="").profile_age_days is None


@pytest.mark.parametrize(
    ("measurement", "error", "words"),
    [
        (lambda: frames([GREY], serial="9999999"), ProfileError, "serial is 9999999"),
        (lambda: frames([GREY], model="Halden H3"), ProfileError, "model is Halden H3"),
        (lambda: frames([GREY, GREY | {"iso": 100}]), FrameError, "several ISO labels"),
        (lambda: frames([GREY | {"iso": 200}]), ProfileError, "ISO 200 was not measured"),
        (lambda: frames([GREY | {"aperture": "2"}]), ProfileError, "f/2 was not measured"),
    ],
)
def test_refusals(profile, measurement, error, words):
    with pytest.raises(error, match=words):
        check(profile.data, measurement(), "EV 10.3")


def test_a_file_that_doesnt_tell_its_aperture(profile):
    measured = frames([GREY])
    first = measured.frames[0]
    silent = replace(first, tags=replace(first.tags, aperture=None))
    with pytest.raises(FrameError, match="doesn't say its time and aperture"):
        check(profile.data, replace(measured, frames=(silent,)), "EV 10.3")
    odd = replace(first, tags=replace(first.tags, iso=Tag(value=640, source="exif")))
    with pytest.raises(ProfileError, match="ISO 640 was not measured"):
        check(profile.data, replace(measured, frames=(odd,)), "EV 10.3")


def test_raw_files_are_measured_wherever_they_lie(profile, tmp_path, monkeypatch):
    monkeypatch.setenv("GREYTARE_CACHE", str(tmp_path / "cache"))
    body = simulate.load_body("halden-h2")
    spec = simulate.standard_series(
        body, 4, labels=(400,), frames_per_label=5, ev100=10.3, size=(480, 320)
    )
    written = simulate.write_series(spec, tmp_path / "series")
    found = profile.check(written.frames[2], "EV 10.3")
    assert found.verdict == "within"
    with pytest.raises(FrameError, match="there is no such file"):
        profile.check(tmp_path / "none.dng", "EV 10.3")
    with pytest.raises((FrameError, MeasureError)):
        measure_for_check([written.sheet])


def test_a_doubt_about_the_calibration_is_said(profile):
    trend = Flag(name="trend", size=0.25)
    results = tuple(replace(result, flags=(trend,)) for result in profile.data.results)
    found = check(replace(profile.data, results=results), frames([GREY]), "EV 10.3")
    (note,) = check_answer(found).notes
    assert note.warns
    assert "the calibration is in doubt: frames drift in their order, +0.25 EV" in note.text
    assert check_answer(check(profile.data, frames([GREY]), "EV 10.3")).notes == ()
