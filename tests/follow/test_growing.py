"""A series that is copied into a folder frame by frame, with what goes wrong on the way."""

from __future__ import annotations

import shutil
from dataclasses import replace

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.errors import FrameError, GreytareError, SheetError
from profiler.follow.records import FollowAsk
from profiler.follow.series import Follow
from profiler.frames.cache import MeasureCache
from profiler.show.follow import follow_answer, missing_line, point_words
from profiler.simulate.write import write_frame

READING = "EV 10.1"  # of seed 4


@pytest.fixture(scope="module")
def spec():
    return simulate.standard_series(
        simulate.load_body("halden-h2"),
        4,
        labels=(400,),
        frames_per_label=6,
        pairs=True,
        darks=2,
        size=(240, 160),
        shutter_scatter_ev=0.02,
    )


@pytest.fixture(scope="module")
def shelf(spec, tmp_path_factory):
    folder = tmp_path_factory.mktemp("shelf")
    simulate.write_series(spec, folder / "series")
    return folder / "series"


class Watched:
    """A follow whose clock the test turns."""

    def __init__(self, tmp_path, **ask):
        self.now = 0.0
        self.folder = tmp_path / "growing"
        self.folder.mkdir()
        self.cache = MeasureCache(tmp_path / "cache")
        self.ask = FollowAsk(**{"reading": READING} | ask)
        self.follow = self.again()

    def again(self):
        return Follow(self.folder, self.ask, cache=self.cache, clock=lambda: self.now)

    def settle(self, looks=8):
        for _ in range(looks):
            self.follow.look()
            self.now += 0.5
        return self.follow.state()


@pytest.fixture
def watched(tmp_path):
    made = Watched(tmp_path)
    yield made
    made.follow.close()


def frames_of(shelf):
    return sorted(shelf.glob("*.dng"))


def copy(paths, folder):
    for path in paths:
        shutil.copy(path, folder)


def test_series_grows_until_nothing_is_missing_and_no_frame_is_decoded_twice(tmp_path, shelf, spec):
    watched = Watched(tmp_path, isos=(400,), short=True)
    assert watched.settle(1).frames == 0
    assert follow_answer(watched.follow.state()).waits
    before = 999
    for path in frames_of(shelf):
        copy([path], watched.folder)
        state = watched.settle(2)
        (label,) = state.labels or (None,)
        if label is None:
            continue
        left = sum(each.frames for each in label.missing) + label.darks_missing
        # clip tells where the wanted frames really lie, so that the plan is drawn anew
        assert left <= before or label.headroom_ev is not None
        before = left
    assert state.frames == len(spec.shots)
    assert state.caps == ("IMG_0013.dng", "IMG_0014.dng")
    assert not state.wrong
    watched.follow.keep_patch()
    sheet = watched.follow.sheet()
    measurement = pipeline.measure(watched.folder, sheet, cache=watched.cache)
    assert measurement.decoded == 0  # neither for its own sake nor as one of a pair
    assert all(frame.pair for frame in measurement.frames)
    fitted = pipeline.fit(measurement, sheet).results[0].clip_headroom_ev
    assert label.headroom_ev == pytest.approx(fitted.value, abs=0.1)
    watched.follow.close()


def test_half_copied_file_is_waited_for_and_measured_once_it_is_whole(watched, shelf):
    bright = frames_of(shelf)[4]
    whole = bright.read_bytes()
    copied = watched.folder / bright.name
    copied.write_bytes(whole[: len(whole) // 2])
    state = watched.settle()
    assert (state.frames, state.waiting) == (0, (bright.name,))
    assert bright.name in follow_answer(state).headline
    copied.write_bytes(whole[: len(whole) // 2] + bytes(len(whole) - len(whole) // 2))
    assert watched.settle().frames == 0  # as long as it will be, and still without its end
    copied.write_bytes(whole)
    state = watched.settle()
    assert (state.latest, state.waiting) == (bright.name, ())


def test_broken_copy_is_named_in_the_end(watched, shelf):
    path = frames_of(shelf)[4]
    (watched.folder / path.name).write_bytes(path.read_bytes()[:9000])
    watched.settle(30)
    (wrong,) = watched.follow.state().wrong
    assert (wrong.kind, wrong.files) == ("broken", (path.name,))


def test_dark_first_frame_waits_for_one_that_shows_the_card(watched, shelf):
    (watched.folder / "sheet.csv").write_text("file,reading,mode\nIMG_0014.dng,dark,\n")
    copy(frames_of(shelf)[-1:], watched.folder)
    state = watched.settle()
    assert (state.frames, state.held) == (0, ("IMG_0014.dng",))
    assert "too dark to show where the card lies" in follow_answer(state).headline
    copy(frames_of(shelf)[4:5], watched.folder)
    state = watched.settle()
    assert (state.held, state.frames) == ((), 2)


def test_first_frames_are_measured_anew_where_a_brighter_one_shows_the_card_better(watched, shelf):
    dim, bright = frames_of(shelf)[0], frames_of(shelf)[6]
    copy([dim], watched.folder)
    assert watched.settle().latest == dim.name
    first = watched.follow._measured[dim.name]
    copy([bright], watched.folder)
    watched.settle()
    assert len({each.patch for each in watched.follow._measured.values()}) == 1
    assert watched.follow._measured[dim.name].digest == first.digest


def test_frame_without_a_reading_is_measured_and_its_reading_asked_for(tmp_path, shelf):
    watched = Watched(tmp_path, reading="")
    copy(frames_of(shelf)[4:6], watched.folder)
    state = watched.settle()
    assert state.unread == ("IMG_0005.dng", "IMG_0006.dng")
    assert "the reading of IMG_0005.dng and IMG_0006.dng" in follow_answer(state).missing[0]
    sheet = watched.folder / "sheet.csv"
    sheet.write_text("file,reading,mode\nIMG_0005.dng,EV 10.1,spot\n")
    state = watched.settle()
    assert state.unread == ("IMG_0006.dng",)
    assert "ISO 400" in point_words(state, "IMG_0005.dng")
    sheet.write_text("file,reading,mode\n*,EV 10.1,spt\n")
    state = watched.settle()
    assert state.unread == ("IMG_0006.dng",)  # the sheet as it could be read last
    assert "spt" in follow_answer(state).notes[0].text
    watched.follow.close()


def with_shot(spec, index, **fields):
    shots = list(spec.shots)
    shots[index] = replace(shots[index], **fields)
    return replace(spec, shots=tuple(shots))


def with_scene(spec, **fields):
    return replace(spec, scene=replace(spec.scene, **fields))


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        (lambda s: with_shot(s, 7, light_ev=-0.5), "light", "0.5 stop less light"),
        (lambda s: with_shot(s, 7, light_ev=0.5), "light", "0.5 stop more light"),
        (lambda s: with_shot(s, 7, aperture="8"), "aperture", "at f/8, the others at f/5.6"),
        (lambda s: with_scene(s, glare=0.3), "glare", "a reflection lies on the card"),
        (lambda s: with_scene(s, card_x=0.55), "moved", "the card or the camera has moved"),
    ],
)
def test_what_can_still_be_mended_is_said_with_the_frame_that_shows_it(
    watched, shelf, spec, change, kind, words
):
    copy(frames_of(shelf)[2:7], watched.folder)
    assert not watched.settle().wrong
    write_frame(change(spec), 7, watched.folder / "IMG_0008.dng")
    state = watched.settle()
    (wrong,) = state.wrong
    assert (wrong.kind, wrong.files) == (kind, ("IMG_0008.dng",))
    answer = follow_answer(state)
    assert words in answer.headline
    assert answer.headline.startswith("IMG_0008.dng")
    assert answer.lead == (missing_line(state),)  # what is missing isn't lost behind it
    (watched.folder / "IMG_0008.dng").unlink()
    assert not watched.settle().wrong


def test_mistyped_reading_is_told_from_changed_light(tmp_path, shelf):
    watched = Watched(tmp_path, reading="")
    rows = [f"IMG_{n:04d}.dng,EV {'11.1' if n == 6 else '10.1'},spot" for n in range(3, 9)]
    (watched.folder / "sheet.csv").write_text("\n".join(["file,reading,mode", *rows]))
    copy(frames_of(shelf)[2:8], watched.folder)
    (wrong,) = watched.settle().wrong
    assert (wrong.kind, wrong.files) == ("reading", ("IMG_0006.dng",))
    said = follow_answer(watched.follow.state())
    assert "IMG_0006.dng looks 1.0 stop too high" in said.notes[0].text
    watched.follow.close()


def test_unplanned_label_and_label_not_begun_are_said(tmp_path, shelf):
    watched = Watched(tmp_path, isos=(100, 800))
    copy(frames_of(shelf)[4:5], watched.folder)
    state = watched.settle()
    assert [wrong.kind for wrong in state.wrong] == ["unplanned-iso"]
    assert {label.iso for label in state.labels} == {100, 400, 800}
    assert "ISO 400, which isn't in the plan" in follow_answer(state).headline
    watched.follow.close()


def test_second_look_takes_the_patch_and_the_frames_from_the_cache(watched, shelf, monkeypatch):
    copy(frames_of(shelf)[4:7], watched.folder)
    first = watched.settle()
    watched.follow.keep_patch()
    again = watched.again()
    watched.follow, old = again, watched.follow
    assert watched.settle().labels == first.labels
    old._pool.shutdown()


def test_reading_that_makes_no_sense_is_refused_at_the_start(tmp_path):
    with pytest.raises(SheetError, match="banana") as refused:
        Follow(tmp_path, FollowAsk(reading="banana"))
    assert refused.value.field == "reading"


def test_folder_that_goes_away_is_said_and_taken_up_again(watched, shelf):
    copy(frames_of(shelf)[4:5], watched.folder)
    watched.settle()
    away = watched.folder.with_name("away")
    watched.folder.rename(away)
    with pytest.raises(FrameError, match="can't be read"):
        watched.follow.look()
    away.rename(watched.folder)
    assert watched.settle().frames == 1


def test_refusals_are_greytare_errors(tmp_path):
    with pytest.raises(GreytareError):
        Follow(tmp_path / "nowhere", FollowAsk()).look()
