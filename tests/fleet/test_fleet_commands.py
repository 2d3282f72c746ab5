"""The commands of `fleet` as a user types them."""

from __future__ import annotations

import csv
import json
import re
import shutil
from dataclasses import fields
from pathlib import Path

import fleetlab
import pytest
from click.testing import CliRunner, Result

from profiler.cli.fleet_progress import ProgressLine, progress_line
from profiler.cli.main import greytare
from profiler.fleet.batch.task import Failure
from profiler.fleet.details import Details

TOLERANCES = """
rule = "guard-band"
interval_days = 365
[tolerances]
offset_ev = {limit = 0.4}
"""
DATES = ("2024-01-10", "2025-01-10", "2026-01-10")


def fleet(*words: object, code: int = 0) -> Result:
    done = CliRunner().invoke(greytare, ["fleet", *map(str, words)])
    if code == 0 and done.exception is not None:
        raise done.exception
    assert done.exit_code == code
    return done


@pytest.fixture(scope="module")
def lab(tmp_path_factory) -> Path:
    """Seven bodies over three years: one out and odd, one drifting; by two meters once."""
    folder = tmp_path_factory.mktemp("lab")
    for k in range(7):
        serial = f"{100 + k:06d}"
        for n, day in enumerate(DATES):
            offset = 0.01 * k + (0.9 if k == 5 else 0.0) + (0.2 * (n - 2) if k == 6 else 0.0)
            made = fleetlab.profile(serial, offset)
            fleetlab.keep(folder / "p", f"{serial}/{day}", made, date=day, tag=f"R{k}")
    other = fleetlab.profile("000100", 0.5, meter=fleetlab.METER.__class__(serial="M2"))
    fleetlab.keep(folder / "p", "000100/other", other, date=DATES[-1], tag="R0")
    (folder / "t.toml").write_text(TOLERANCES)
    return folder


def test_help_names_every_field_of_an_asset_file():
    said = fleet("run", "--help").output
    for field in fields(Details):
        assert re.search(rf"\b{field.name}\b", said), field.name


def test_run(small_fleet, tmp_path):
    root, out = Path(shutil.copytree(small_fleet, tmp_path / "root")), tmp_path / "out"
    shutil.rmtree(root / "shelf")
    done = fleet("run", root, "--out", out, "--jobs", 1, "--light", "led")
    assert "2 series: 2 measured, 0 done before, 0 failed. 2 results in" in done.stdout
    (root / "bench" / "body00" / "sheet.csv").write_text("file,reading,mode\n")
    (root / "loose").mkdir()
    (root / "loose" / "a.dng").write_bytes(b"")
    done = fleet("run", root, "--out", out, "--jobs", 1, "--light", "led", "--json", code=3)
    said = json.loads(done.stdout)
    assert (said["series"], said["same"], len(said["failures"])) == (2, 1, 1)
    assert said["failures"][0]["series"] == "bench/body00"
    assert "bench/body00 failed: sheet.csv: no frame has a reading" in done.stderr
    assert "No sheet.csv beside the frames" in done.stderr
    assert fleet("table", out).stdout.count("\n") == 2


def test_run_on_both(small_fleet, tmp_path):
    done = fleet("run", small_fleet, "--out", tmp_path, "--jobs", 1, "--cluster", "tcp://x", code=2)
    assert "not both" in done.stderr


def test_table(lab, tmp_path):
    text = fleet("table", lab / "p").stdout
    rows = list(csv.DictReader(text.splitlines()))
    assert len(rows) == 22
    assert rows[0]["camera_serial"] == "000100"
    fleet("table", lab / "p", "--out", tmp_path / "t.sqlite")
    assert fleet("table", tmp_path / "t.sqlite").stdout == text
    said = json.loads(fleet("table", lab / "p", "--json").stdout)
    assert said[0]["camera_serial"] == "000100"


def test_table_with_a_bad_profile(lab, tmp_path):
    shutil.copytree(lab / "p", tmp_path / "p")
    (tmp_path / "p" / "bad.profile.json").write_text("{}")
    done = fleet("table", tmp_path / "p", code=3)
    assert "bad.profile.json: the file isn't a profile" in done.stderr
    assert len(done.stdout.splitlines()) == 23


def test_decide(lab, tmp_path):
    words = ("decide", lab / "p", "--tolerances", lab / "t.toml", "--on", "2026-06-01")
    done = fleet(*words, code=3)
    assert "7 bodies: 5 in, 1 out, 1 undecided" in done.stdout
    assert re.search(r"R5 \(Halden H2 000105\) .* offset .* out  ", done.stdout)
    assert "Guard band of 1 U" in done.stdout
    assert "at most 2.5 %" in done.stdout
    said = json.loads(fleet(*words, "--json", code=3).stdout)
    assert {b["camera_serial"] for b in said["bodies"] if b["verdict"] == "out"} == {"000105"}
    assert len(said["verdicts"]) == 22
    fleet(*words, "--out", tmp_path / "v.csv", code=3)
    with (tmp_path / "v.csv").open(newline="") as stream:
        assert len(list(csv.DictReader(stream))) == 22
    assert "7 expired" in fleet(*words[:-1], "2027-06-01", code=3).stdout


def test_compare_with_the_model(lab, tmp_path):
    done = fleet("compare", lab / "p", "--plot", tmp_path / "m.png")
    assert (
        "Halden H2, ISO 400, spot, daylight, offset: 1 of 7 bodies stands out: R5." in done.stdout
    )
    assert done.stdout.count("  stands out\n") == 1
    assert (tmp_path / "m.png").read_bytes().startswith(b"\x89PNG")
    (said,) = json.loads(fleet("compare", lab / "p", "--json").stdout)
    assert [d["camera_serial"] for d in said["deviations"] if d["outlier"]] == ["000105"]


def test_compare_two_bodies(lab):
    done = fleet("compare", lab / "p", "--body", "R1", "--against", "000105")
    assert "Offset of R1 less that of R5: significant." in done.stdout
    assert "0.33  meter repeatability 0.041  significant" in done.stdout
    done = fleet("compare", lab / "p", "--body", "R1", "--against", "R2")
    assert "Offset of R1 less that of R2: no significant difference." in done.stdout
    assert "0.0 ± 0.2" in done.stdout
    words = ("--body", "R1", "--against", "R2", "--common", "1", "--json")
    (said,) = json.loads(fleet("compare", lab / "p", *words).stdout)
    assert said["correlation"] == pytest.approx((fleetlab.REPEAT_U / fleetlab.U) ** 2)
    assert "Give --body with" in fleet("compare", lab / "p", "--body", "R1", code=2).stderr


def test_compare_meters(lab):
    done = fleet("compare", lab / "p", "--meters")
    assert "M2" in done.stdout
    assert "! Not known to be one meter, so the errors of both count." in done.stdout


def test_drift(lab, tmp_path):
    done = fleet("drift", lab / "p", "--tolerances", lab / "t.toml")
    assert "8 histories: 1 with a significant trend" in done.stdout
    assert "R6 (Halden H2 000106)" in done.stdout
    assert "2026-01-10, now: its verdict is out already" in done.stdout
    words = ("--body", "R6", "--plot", tmp_path / "d.svg")
    fleet("drift", lab / "p", "--tolerances", lab / "t.toml", *words)
    assert (tmp_path / "d.svg").read_text().startswith("<?xml")
    said = json.loads(fleet("drift", lab / "p", "--body", "R6", "--json").stdout)
    (history,) = said["histories"]
    assert history["trend"]["slope_ev_per_year"] == pytest.approx(0.2, abs=0.01)
    assert [p["date"] for p in history["points"]] == list(DATES)


def test_record(lab, tmp_path):
    done = fleet("record", lab / "p", "--out", tmp_path / "r", "--tolerances", lab / "t.toml")
    assert "22 records written" in done.stdout
    assert "R5" in (tmp_path / "r" / "000105" / f"{DATES[-1]}.record.html").read_text()
    one = lab / "p" / "000105" / f"{DATES[-1]}.profile.json"
    assert "1 record written" in fleet("record", one, "--out", tmp_path / "one.html").stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("decide", "p", "--tolerances", "t.toml", "--on", "yesterday"), "isn't a date"),
        (("record", "p", "--out", "r.html"), "don't fit into one file"),
        (("table", "nowhere"), "no such file or folder"),
        (("table", "."), None),
        (("compare", "p", "--body", "R1", "--against", "Z"), "there is no body 'Z'"),
    ],
)
def test_a_fault_of_the_input_is_one_sentence(lab, words, says, monkeypatch):
    monkeypatch.chdir(lab)
    done = CliRunner().invoke(greytare, ["fleet", *words])
    if says is None:
        assert done.exit_code == 0
        return
    assert says in str(done.exception)
    assert type(done.exception).__module__ == "profiler.errors"


def test_progress_says_rate_and_time_left(capsys):
    assert progress_line(50, 200, 1, 25.0) == "50 of 200 series, 1 failed, 2 a second, 75 s left"
    assert progress_line(1, 361, 0, 20.0) == "1 of 361 series, 3 a minute, 2.0 h left"
    with ProgressLine() as show:
        show(1, 2, Failure(series="a", kind="X", what="it broke", where="here", mend="Mend it"))
    assert capsys.readouterr().err == "a failed: here: it broke. Mend it.\n"


def test_a_verdict_rests_on_nothing_from_a_later_day(lab, tmp_path):
    limits = tmp_path / "limits.toml"
    limits.write_text(TOLERANCES)
    done = json.loads(
        fleet("decide", lab, "--tolerances", limits, "--on", "2025-06-01", "--json", code=3).output
    )
    assert max(one["date"] for one in done["verdicts"]) == "2025-01-10"
    done = fleet("decide", lab, "--tolerances", limits, "--on", "2020-01-01", code=1)
    assert "no result is from 2020-01-01 or before" in str(done.exception)


def test_two_bodies_cannot_tell_which_is_unusual(tmp_path):
    for serial, offset in (("1", 0.0), ("2", 0.9)):
        fleetlab.keep(tmp_path, serial, fleetlab.profile(serial, offset))
    said = fleet("compare", tmp_path).output
    assert "the two differ significantly; which of them is unusual, two can't tell" in said
    assert "spread" not in said
    fleetlab.keep(tmp_path, "2", fleetlab.profile("2", 0.01))
    assert "no significant difference" in fleet("compare", tmp_path).output


def test_nothing_to_draw_is_said(tmp_path):
    fleetlab.keep(tmp_path, "1", fleetlab.profile("1", 0.0))
    done = fleet("compare", tmp_path, "--plot", tmp_path / "x.png", code=1)
    assert "no model has two bodies" in str(done.exception)
    assert not (tmp_path / "x.png").exists()
