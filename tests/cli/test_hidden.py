"""Hidden faults from the command line: a task, a class, its key."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner

from profiler.cli.main import greytare
from profiler.errors import GreytareError

SMALL = ("--size", "72x48")


def simulate(*words):
    return CliRunner().invoke(greytare, ["simulate", *map(str, words)])


def test_task_holds_frames_and_sheet_and_no_truth(tmp_path):
    done = simulate(tmp_path / "task", "--hidden", 7, "--difficulty", "hard", *SMALL)
    assert done.exit_code == 0, done.output
    names = {path.name for path in (tmp_path / "task").iterdir()}
    assert names == {f"IMG_{n:04d}.dng" for n in range(1, 21)} | {"sheet.csv"}
    told = done.stdout.splitlines()[-1]
    assert told == "greytare simulate --hidden 7 --difficulty hard --reveal"
    revealed = simulate(*told.split()[2:])
    assert re.search(r"Seed 7, hard: \d faults?\.", revealed.stdout)


def test_class_has_a_folder_each_and_a_key_elsewhere(tmp_path):
    room, key = tmp_path / "room", tmp_path / "key.html"
    done = simulate(room, "--hidden", 7, "--students", 2, "--key", key, *SMALL)
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in room.iterdir()) == [
        "student-01",
        "student-02",
        "tasks.html",
    ]
    one, two = (
        (room / name / "IMG_0005.dng").read_bytes() for name in ("student-01", "student-02")
    )
    assert one != two
    assert "student-02" in key.read_text()
    revealed = simulate("--hidden", 7, "--students", 2, "--reveal").stdout
    for seed in re.findall(r"Seed (\d+)", revealed):
        assert seed in key.read_text()
        assert seed not in (room / "tasks.html").read_text()


def test_key_is_kept_from_the_students(tmp_path):
    refused = simulate(tmp_path, "--hidden", 7, "--students", 2, "--key", tmp_path / "k.html")
    assert isinstance(refused.exception, GreytareError)
    assert not (tmp_path / "k.html").exists()


@pytest.mark.parametrize(
    "words",
    [
        ("--reveal",),
        ("x", "--students", "3"),
        ("x", "--hidden", "7", "--fault", "knee"),
        ("--hidden", "7"),
        ("x", "--hidden", "7", "--difficulty", "fiendish"),
    ],
)
def test_wrong_use_is_refused(words):
    assert simulate(*words).exit_code == 2
