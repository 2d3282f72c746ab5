"""The command that follows a folder: how it ends, and that nothing of the user's is lost."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner

from profiler.cli.main import greytare
from profiler.errors import GreytareError

PLAN = ("--iso", "400", "--short", "--copies", "1", "--darks", "1", "--light", "daylight")


@pytest.fixture
def series(short_plan, tmp_path):
    return shutil.copytree(short_plan, tmp_path / "series")


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("GREYTARE_CACHE", str(tmp_path / "cache"))


def follow(*words):
    return CliRunner().invoke(greytare, ["follow", *map(str, words)])


def test_it_ends_by_itself_when_the_plan_is_done_and_fits(series, tmp_path):
    (series / "sheet.csv").unlink()
    out = tmp_path / "halden.profile.json"
    done = follow(series, *PLAN, "--reading", "EV 10.1", "--out", out)
    assert done.exit_code == 0, done.output
    assert "Nothing is missing: ISO 400 is done." in done.stdout
    assert "stops from the metered grey to clipping" in done.stdout
    assert [row["iso"] for row in json.loads(out.read_text())["results"]] == [400]
    # what was given and seen stands in a sheet, so that a fit finds it again
    rows = (series / "sheet.csv").read_text().splitlines()[1:]
    assert [row.split(",")[:3] for row in rows] == [
        ["*", "EV 10.1", "spot"],
        ["IMG_0011.dng", "dark", ""],
    ]
    again = CliRunner().invoke(
        greytare, ["fit", str(series), "--light", "daylight", "--verify", str(out)]
    )
    assert again.exit_code == 0, again.output


def test_existing_profile_is_refused_before_anything_is_measured(series, tmp_path):
    out = tmp_path / "halden.profile.json"
    out.write_text("mine")
    refused = follow(series, *PLAN, "--out", out)
    assert isinstance(refused.exception, GreytareError)
    assert "IMG" not in refused.output
    assert out.read_text() == "mine"


def test_sheet_of_the_user_is_left_as_it_is(series, tmp_path):
    sheet = series / "sheet.csv"
    sheet.write_text("file,reading,mode\n*,EV 10.1,spot\n")
    before = sheet.read_bytes()
    done = follow(series, *PLAN, "--out", tmp_path / "p.profile.json")
    assert done.exit_code == 0, done.output
    assert sheet.read_bytes() == before
    assert "write dark for IMG_0011.dng into" in done.stderr


def test_without_out_nothing_is_written(series, tmp_path):
    before = sorted(tmp_path.rglob("*.json"))
    done = follow(series, *PLAN)
    assert done.exit_code == 0, done.output
    assert "Nothing is written" in done.stderr
    assert sorted(tmp_path.rglob("*.json")) == before


def test_json_is_the_profile_alone(series, tmp_path):
    done = follow(series, *PLAN, "--out", tmp_path / "p.profile.json", "--json")
    assert json.loads(done.stdout)["format"] == "greytare-profile"
    assert "ISO 400" in done.stderr


def test_ctrl_c_fits_what_has_come(series, tmp_path):
    out = tmp_path / "halden.profile.json"
    words = [
        *(sys.executable, "-c", "from profiler.cli.main import main; main()"),
        *("follow", series, "--out", out),
    ]
    running = subprocess.Popen(
        words,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # tests that run in the background of a shell ignore it, and so would their children
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    try:
        for line in running.stdout:
            if line.startswith("IMG_0010"):
                break
        time.sleep(0.3)
        running.send_signal(signal.SIGINT)
        said, errors = running.communicate(timeout=60)
    finally:
        running.kill()
    assert running.returncode == 0, errors
    assert "stops from the metered grey to clipping" in said
    assert out.exists()


def test_missing_folder_and_bad_reading_are_refused(tmp_path):
    gone = follow(tmp_path / "nowhere")
    assert "the folder can't be read" in str(gone.exception)
    typed = follow(tmp_path, "--reading", "f/8")
    assert isinstance(typed.exception, GreytareError)
    assert typed.exception.field == "reading"
