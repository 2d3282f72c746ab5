"""Hidden faults: nothing outside the pixels and the readings tells which they are."""

from __future__ import annotations

import csv
import re

import exiv2
import pytest

from profiler.calibration import pipeline
from profiler.errors import GreytareError
from profiler.simulate.hidden import (
    DIFFICULTIES,
    KINDS,
    Hidden,
    class_seeds,
    hidden_series,
    hide,
    judge,
)
from profiler.simulate.memory import measure_in_memory
from profiler.simulate.write import write_series

SMALL = (72, 48)


def tags_of(path):
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    told = {datum.key(): datum.toString() for datum in image.exifData()}
    # how long the compressed pixels are says nothing that the pixels don't
    return {key: text for key, text in told.items() if not re.search("Strip|Tile", key)}


def written(folder, faults):
    spec = hidden_series(
        Hidden(seed=5, difficulty="easy", faults=faults), size=SMALL, compression="none"
    )
    files = write_series(spec, folder, with_key=False)
    names = sorted(path.name for path in folder.iterdir())
    return names, [tags_of(path) for path in files.frames], files.sheet.read_text()


@pytest.fixture(scope="module")
def clean(tmp_path_factory):
    return written(tmp_path_factory.mktemp("clean"), ())


@pytest.mark.parametrize("name", KINDS)
def test_names_tags_times_order_and_sheet_are_those_of_a_series_without_faults(
    name, clean, tmp_path
):
    names, tags, sheet = written(tmp_path, ((name, KINDS[name].easy),))
    assert names == clean[0]  # no truth.json either
    assert tags == clean[1]
    if name != "mistyped-reading":
        assert sheet == clean[2]
        return
    ours, usual = (list(csv.reader(text.splitlines())) for text in (sheet, clean[2]))
    unlike = [(a, b) for a, b in zip(ours, usual, strict=True) if a != b]
    ((odd, before),) = unlike  # one reading, in the form of the others
    assert [i for i in range(len(odd)) if odd[i] != before[i]] == [1]
    assert re.fullmatch(r"EV \d+\.\d", odd[1])


@pytest.mark.parametrize("difficulty", DIFFICULTIES)
def test_seed_hides_one_to_three_faults_of_unlike_groups_again_and_again(difficulty):
    counts = set()
    for seed in range(60):
        hidden = hide(seed, difficulty)
        assert hidden == hide(seed, difficulty)
        counts.add(len(hidden.faults))
        groups = [KINDS[name].group for name, _ in hidden.faults]
        assert len(groups) == len(set(groups))
        for name, size in hidden.faults:
            assert KINDS[name].nearest(size) == getattr(KINDS[name], difficulty)
    assert counts == {"easy": {1}, "middle": {1, 2}, "hard": {1, 2, 3}}[difficulty]
    drawn = {name for seed in range(200) for name, _ in hide(seed, difficulty).faults}
    assert drawn == set(KINDS)


def test_students_of_a_class_have_seeds_of_their_own():
    seeds = class_seeds(7, 30)
    assert len(set(seeds)) == 30
    assert seeds == class_seeds(7, 30)
    assert set(seeds).isdisjoint(class_seeds(8, 30))


def test_answer_is_judged_by_name_and_by_the_nearest_size():
    hidden = Hidden(
        seed=1, difficulty="middle", faults=(("light-drift", -0.43), ("mistyped-reading", 0.55))
    )
    judged = {each.name: each for each in judge(hidden, {"light-drift": 0.4, "knee": 0.65})}
    assert judged["light-drift"].found
    assert judged["light-drift"].size_right
    assert not judged["mistyped-reading"].found
    assert judged["knee"].true_size is None
    other = judge(hidden, {"light-drift": 0.6})[0]
    assert other.found
    assert not other.size_right


def test_wrong_input_is_refused():
    with pytest.raises(GreytareError, match="difficulty"):
        hide(1, "fiendish")
    with pytest.raises(GreytareError, match="isn't a seed"):
        hide(2**31)
    with pytest.raises(GreytareError, match="isn't on the list"):
        judge(hide(1), {"gremlins": 1.0})
    with pytest.raises(GreytareError, match="a class of 0"):
        class_seeds(1, 0)


@pytest.mark.parametrize("kind", KINDS.values(), ids=list(KINDS))
def test_no_size_is_so_large_that_the_series_is_refused(kind):
    """A student without plots has nothing to find it by, and the refusal would tell it."""
    worst = Hidden(seed=1, difficulty="easy", faults=((kind.name, round(1.1 * kind.easy, 3)),))
    measurement, sheet = measure_in_memory(hidden_series(worst, size=(96, 64)))
    assert pipeline.fit(measurement, sheet, light="daylight").results
