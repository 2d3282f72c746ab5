"""Commands as a user types them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from profiler.cli.main import COMMANDS

REPO = Path(__file__).resolve().parents[2]


def run(*words: str, cwd: Path, code: int = 0) -> subprocess.CompletedProcess[str]:
    """Run the command in its own process, as `greytare` would."""
    done = subprocess.run(
        [sys.executable, "-c", "from profiler.cli.main import main; main()", *words],
        cwd=cwd,
        text=True,
        capture_output=True,
        env=os.environ | {"GREYTARE_CACHE": str(cwd / "cache"), "COLUMNS": "100"},
        timeout=120,
        check=False,
    )
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with a simulated series in it."""
    folder = tmp_path_factory.mktemp("place")
    run("simulate", "series", "--seed", "3", "--pairs", "--darks", "2", cwd=folder)
    return folder


def test_help_lists_every_command(tmp_path):
    text = run("--help", cwd=tmp_path).stdout
    for name in COMMANDS:
        assert f"\n  {name} " in text
        assert "Usage:" in run(name, "--help", cwd=tmp_path).stdout


def test_fit_then_show(place):
    done = run("fit", "series", "--out", "a.profile.json", "--light", "daylight", cwd=place)
    assert "At ISO 400 your meter and this body disagree: give 0.3 stop less" in done.stdout
    assert "green first" in done.stdout
    shown = run("show", "a.profile.json", cwd=place).stdout
    assert shown == done.stdout
    data = json.loads(run("show", "a.profile.json", "--json", cwd=place).stdout)
    assert data["format"] == "greytare-profile"
    assert {r["iso"] for r in data["results"]} == {100, 200, 400}
    fixed = {"value", "u", "low", "high"}
    assert fixed <= set(data["results"][0]["offset_ev"])
    assert data["results"][0]["clip_headroom_ev"]["lower_bound"] is False


def test_fit_prints_json_alone(place):
    done = run("fit", "series", "--out", "b.profile.json", "--json", cwd=place)
    assert json.loads(done.stdout) == json.loads((place / "b.profile.json").read_text())


def test_profile_is_not_overwritten_silently(place):
    run("fit", "series", "--out", "c.profile.json", cwd=place)
    before = (place / "c.profile.json").read_bytes()
    done = run("fit", "series", "--out", "c.profile.json", cwd=place, code=1)
    assert "--replace" in done.stderr
    assert (place / "c.profile.json").read_bytes() == before
    done = run("fit", "series", "--out", "c.profile.json", "--replace", cwd=place)
    assert "older file is kept as" in done.stderr
    kept = [p for p in place.iterdir() if p.name.startswith("c.profile.json.")]
    assert [p.read_bytes() for p in kept] == [before]


def test_measure_to_a_table_then_fit_the_table(place):
    run("measure", "series", "--out", "t.csv", "--preview", "patch.png", cwd=place)
    assert (place / "patch.png").read_bytes().startswith(b"\x89PNG")
    run("fit", "t.csv", "--sheet", "series/sheet.csv", "--out", "t.profile.json", cwd=place)
    run("fit", "series", "--out", "s.profile.json", cwd=place)
    results = [json.loads((place / f"{name}.profile.json").read_text())["results"] for name in "ts"]
    assert results[0] == results[1]


def test_new_sheet_spares_typing_file_names(place):
    said = run("measure", "series", "--new-sheet", "new.csv", cwd=place).stdout
    assert "fill in the reading and its mode (incident-dome, " in said
    assert "dark as the reading of frames with the lens cap on" in said
    assert "Then: greytare fit series --sheet new.csv --out BODY.profile.json" in said
    text = (place / "new.csv").read_text()
    assert text.startswith("file,reading,mode,iso,time,aperture")
    assert "IMG_0001.dng,,,100,1/" in text
    done = run("measure", "series", "--new-sheet", "new.csv", cwd=place, code=1)
    assert "exists" in done.stderr
    readings = text.replace("\n*,,,", "\n*,EV 10.3,spot,", 1)
    for name in ("IMG_0049.dng", "IMG_0050.dng", "IMG_0051.dng", "IMG_0052.dng"):
        readings = readings.replace(f"{name},,", f"{name},dark,")
    (place / "filled.csv").write_text(readings)
    run("fit", "series", "--sheet", "filled.csv", "--out", "f.profile.json", cwd=place)


def test_five_lines_of_python(place):
    script = """
import profiler
sheet = profiler.read_sheet("series/sheet.csv")
measurement = profiler.measure("series", sheet)
profile = profiler.fit(measurement, sheet, light="daylight")
profiler.save_profile(profile, "p.profile.json")
print(profiler.describe(profile))
"""
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=place,
        text=True,
        capture_output=True,
        env=os.environ | {"GREYTARE_CACHE": str(place / "cache")},
        check=True,
        timeout=60,
    )
    assert "At ISO 100 your meter" in done.stdout


def test_schema(tmp_path):
    assert json.loads(run("schema", cwd=tmp_path).stdout)["type"] == "object"


WRONG = [  # words, what the one sentence says
    (["fit", "none", "--out", "x.json"], "there is no such folder"),
    (["fit", "series", "--out", "x.json", "--aim", "grey"], "--aim: the aim 'grey'"),
    (["fit", "series", "--out", "no/x.json"], "does not exist"),
    (["fit", "series", "--out", "x.json", "--sheet", "none.csv"], "no such sheet"),
    (["fit", "series", "--out", "x.json", "--patch", "1,2"], "patch"),
    (["fit", "series", "--out", "x.json", "--meter", "none.toml"], "can't be read"),
    (["measure", "none"], "none"),
    (["show", "none.json"], "no such profile"),
    (["show", "series/sheet.csv"], "isn't JSON"),
    (["simulate", "series"], "isn't empty"),
    (["simulate", "new", "--body", "nobody"], "nobody"),
    (["simulate", "new", "--fault", "nothing"], "no fault 'nothing'"),
    (["simulate", "new", "--fault", "flare=x"], "isn't a size"),
]


@pytest.mark.parametrize(("words", "what"), WRONG)
def test_wrong_input_gets_one_sentence(place, words, what):
    done = run(*words, cwd=place, code=1)
    assert what in done.stderr
    assert done.stderr.startswith("greytare: ")
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""
    assert not (place / "x.json").exists()


def test_usage_mistakes_exit_with_two(tmp_path):
    run("fit", "--nonsense", cwd=tmp_path, code=2)
    run("nonsense", cwd=tmp_path, code=2)


def test_demo(tmp_path):
    done = run("demo", cwd=tmp_path)
    assert "At ISO 400 your meter and this body disagree" in done.stdout
    folder = tmp_path / "greytare-demo"
    assert (folder / "halden-h2.png").read_bytes().startswith(b"\x89PNG")
    assert (folder / "halden-h2.profile.json").is_file()
    again = run("demo", cwd=tmp_path, code=1)
    assert "--replace" in again.stderr
    run("demo", "--replace", cwd=tmp_path)


def test_a_place_without_rights_gets_one_sentence(monkeypatch, capsys):
    """Root may write anywhere, so the refusal is made up."""
    from profiler.cli import main as door

    def refused(**_: object) -> None:
        raise PermissionError(13, "Permission denied", "/locked/rec")

    monkeypatch.setattr(door, "greytare", refused)
    with pytest.raises(SystemExit, match="1"):
        door.main()
    said = capsys.readouterr().err
    assert said.startswith(
        "greytare: /locked/rec: it may not be read or written. Change its rights"
    )


def test_faults_are_listed_without_a_folder(tmp_path):
    done = run("simulate", "--faults", cwd=tmp_path)
    assert len(done.stdout.splitlines()) > 60
    run("simulate", cwd=tmp_path, code=2)
