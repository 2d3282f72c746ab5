"""Whatever happens, a command ends with one sentence, and a terminal isn't steered by a file."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from profiler.cli.streams import shown
from profiler.errors import GreytareError
from profiler.files.mishap import mishap

RUN = "from profiler.cli.main import main; main()"


def greytare(*words, cwd, code=1, before="", **options):
    done = subprocess.run(
        [sys.executable, "-c", before + RUN, *words],
        cwd=cwd,
        capture_output=True,
        env=os.environ | {"GREYTARE_CACHE": str(cwd / "cache")},
        timeout=60,
        **options,
    )
    assert done.returncode == code, done
    return done.stdout.decode(), done.stderr.decode()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["convert", "density", "400"], "beyond any exposure"),
        (["simulate", "o", "--frames", "2147483648"], "10000 at most"),
        (["simulate", "o", "--size", "90000x90000"], "too many"),
        (["simulate", "o", "--scatter", "9"], "can't be the scatter"),
        (["simulate", "x" * 300], "File name too long"),
        (["show", "a/" * 2500], "File name too long"),
        (["fit", "a/" * 2500, "--out", "p.json"], "File name too long"),
        (["fit", "x" * 300, "--out", "p.json"], "File name too long"),
        (["serve", "--no-browser", "x" * 300], "File name too long"),
        (["fleet", "table", "x" * 300], "File name too long"),
    ],
)
def test_one_sentence(tmp_path, words, said):
    _, err = greytare(*words, cwd=tmp_path)
    assert said in err
    assert len(err.splitlines()) == 1
    assert "Traceback" not in err
    assert len(err) < 700


def test_an_unforeseen_error_says_where_its_details_are(tmp_path):
    broken = (
        "import profiler.files.profile as m\n"
        "def boom(path):\n    raise KeyError('x')\n"
        "m.load_profile = boom\n"
    )
    _, err = greytare("show", "body.profile.json", cwd=tmp_path, before=broken)
    assert err.startswith("greytare: body.profile.json: something went wrong in greytare itself")
    (kept,) = (tmp_path / "cache" / "errors").iterdir()
    assert str(kept) in err
    assert len(err.splitlines()) == 1
    text = kept.read_text()
    assert "KeyError: 'x'" in text
    assert "greytare show body.profile.json" in text
    assert kept.stat().st_mode & 0o077 == 0


def test_a_full_disk_under_stdout(tmp_path):
    if not Path("/dev/full").exists():
        pytest.skip("the system has no /dev/full")
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-c", RUN, "schema"],
            stdout=full,
            stderr=subprocess.PIPE,
            timeout=60,
            check=False,
        )
    assert done.returncode == 1
    assert b"No space left on device" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_memory_and_disk_are_named_for_what_they_are():
    assert "memory" in mishap(MemoryError(), "greytare fit").what
    said = mishap(OSError(28, "No space left on device", "a.png"), "greytare fit")
    assert isinstance(said, GreytareError)
    assert (said.where, "No space" in said.what) == ("a.png", True)


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("plain\ttext\n", "plain\ttext\n"),
        ("\x1b[2J", "\\u001b[2J"),
        ("\x9b31m", "\\u009b31m"),
        ("a\u202eb", "a\\u202eb"),
        ("a\rb", "a\\u000db"),
        ("\x07", "\\u0007"),
        ("½ µ 漢", "½ µ 漢"),
    ],
)
def test_control_characters_are_shown(text, seen):
    assert shown(text) == seen


def test_a_sheet_can_not_steer_the_terminal(tmp_path):
    (tmp_path / "s.csv").write_text("file,reading,mode\n*,\x1b]0;owned\x07 1,spot\n")
    (tmp_path / "t.csv").write_text("time_s,G\n0.1,100\n")
    out, err = greytare("fit", "t.csv", "--sheet", "s.csv", "--out", "p.json", cwd=tmp_path)
    assert "\x1b" not in out + err
    assert "\x07" not in out + err


def test_nor_where_python_takes_the_terminal_for_ascii(tmp_path):
    (tmp_path / "s.csv").write_text("file,reading,mode\n*,\x1b]0;漢,spot\n", encoding="utf-8")
    (tmp_path / "t.csv").write_text("time_s,G\n0.1,100\n")
    words = ("fit", "t.csv", "--sheet", "s.csv", "--out", "p.json")
    before = "import sys; sys.stderr.reconfigure(encoding='ascii')\n"
    _, err = greytare(*words, cwd=tmp_path, before=before)
    assert "\x1b" not in err
    assert "\\u001b" in err


@pytest.mark.parametrize(
    "words",
    [["simulate", "o", "--scatter", "nan"], ["mix", "--iso", "9" * 30], ["fleet", "--x", "1"]],
)
def test_options_that_are_no_numbers_are_usage(tmp_path, words):
    _, err = greytare(*words, cwd=tmp_path, code=2)
    assert err.startswith("Usage: ")


def test_an_error_under_json_is_an_object_too(tmp_path):
    out, err = greytare("fleet", "table", "nowhere", "--json", cwd=tmp_path)
    error = json.loads(out)["error"]
    assert error["what"] == "there is no such file or folder"
    assert (error["kind"], error["where"]) == ("ProfileError", "nowhere")
    assert error["mend"]
    assert err.startswith("greytare: nowhere: there is no such file")
    out, _ = greytare("fleet", "table", "nowhere", cwd=tmp_path)
    assert out == ""
