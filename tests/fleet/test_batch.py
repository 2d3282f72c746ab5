"""A batch: what comes out, what a bad series does, what is done again."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import fleetlab
import pytest

from profiler.errors import GreytareError
from profiler.fleet.batch.run import run_fleet
from profiler.fleet.batch.store import open_store
from profiler.fleet.batch.task import Settings, _taken_on
from profiler.records import FrameMeasure, FrameTags, Measurement, Tag
from profiler.show.report.page import report_page


@pytest.fixture
def root(small_fleet, tmp_path) -> Path:
    return Path(shutil.copytree(small_fleet, tmp_path / "root"))


def table(out: Path) -> list[dict[str, str]]:
    with (out / "table.csv").open(newline="") as stream:
        return list(csv.DictReader(stream))


def run(root: Path, out: Path, **settings):
    jobs = settings.pop("jobs", 1)
    return run_fleet(root, out, jobs=jobs, settings=Settings(**settings))


def test_profiles_table_and_errors(root, tmp_path):
    (root / "shelf" / "unsorted").mkdir()
    (root / "shelf" / "unsorted" / "IMG_1.dng").write_bytes(b"")
    summary = run(root, tmp_path / "out", light="tungsten")
    assert (summary.series, summary.measured, summary.same, summary.rows) == (6, 6, 0, 6)
    assert summary.failures == ()
    assert [p.name for p in summary.without_sheet] == ["unsorted"]
    rows = table(tmp_path / "out")
    assert [row["camera_serial"] for row in rows] == [f"{100 + k:06d}" for k in range(6)]
    assert {row["light"] for row in rows} == {"tungsten"}
    assert (tmp_path / "out" / "profiles" / "bench" / "body00.profile.json").is_file()
    errors = json.loads((tmp_path / "out" / "errors.json").read_text())
    assert errors["finished"] is True
    assert errors["failed"] == []


def test_bad_series_are_reported_and_stop_nothing(root, tmp_path):
    (root / "bench" / "body00" / "sheet.csv").write_text("file,reading,mode\n*,EV 99x,spot\n")
    (root / "shelf" / "body01" / "levels.csv").unlink()
    (root / "shelf" / "body02" / "levels.csv").write_bytes(b"\xff\xfe broken")
    summary = run(root, tmp_path / "out", jobs=2)
    assert summary.measured == 3
    failed = {f.series: f for f in summary.failures}
    assert set(failed) == {"bench/body00", "shelf/body01", "shelf/body02"}
    assert failed["bench/body00"].kind == "SheetError"
    assert "column reading" in failed["bench/body00"].where
    assert failed["shelf/body01"].what == "the folder holds no raw frame"
    assert failed["shelf/body02"].kind == "MeasureError"
    assert all(f.mend for f in summary.failures)
    errors = json.loads(summary.errors.read_text())
    assert [f["series"] for f in errors["failed"]] == sorted(failed)
    assert len(table(tmp_path / "out")) == 3


def test_only_what_has_changed_is_done_again(root, tmp_path):
    out = tmp_path / "out"
    run(root, out)
    before = {p: p.read_bytes() for p in out.rglob("*") if p.is_file()}
    assert run(root, out).same == 6
    assert {p: p.read_bytes() for p in out.rglob("*") if p.is_file()} == before
    sheet = root / "shelf" / "body01" / "sheet.csv"
    sheet.write_text(sheet.read_text() + "\n")
    assert run(root, out).measured == 1
    levels = root / "shelf" / "body02" / "levels.csv"
    levels.write_text(levels.read_text() + "\n")
    assert run(root, out).measured == 1
    (root / "meter.toml").write_text('[meter]\nserial = "000731"\n')
    (root / "shelf" / "meter.toml").write_text('[meter]\nserial = "000999"\n')
    assert run(root, out).measured == 6
    assert {r["series"].split("/")[0]: r["meter_serial"] for r in table(out)} == {
        "bench": "000731",
        "shelf": "000999",
    }
    profile = out / "profiles" / "shelf" / "body01.profile.json"
    profile.write_text(profile.read_text()[:-100])
    summary = run(root, out)
    assert (summary.measured, summary.same, summary.rows) == (1, 5, 6)


def test_details_go_into_the_table(root, tmp_path):
    (root / "asset.toml").write_text('[asset]\nsession = "s1"\ndate = 2026-03-01\n')
    (root / "bench" / "body00" / "asset.toml").write_text(
        '[asset]\ntag = "0042"\nlight = "led"\nstate = "as-found"\n'
    )
    run(root, tmp_path / "out")
    rows = {row["series"]: row for row in table(tmp_path / "out")}
    tagged = rows["bench/body00"]
    assert (tagged["asset_tag"], tagged["light"], tagged["state"]) == ("0042", "led", "as-found")
    assert {row["date"] for row in rows.values()} == {"2026-03-01"}
    assert {row["session"] for row in rows.values()} == {"s1"}
    assert rows["shelf/body01"]["asset_tag"] == ""


def test_undated_series_get_the_day_of_the_first_run(root, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "run.json").write_text('{"format": "greytare-run", "version": 1, "day": "2026-02-03"}')
    run(root, out)
    assert {row["date"] for row in table(out)} == {"2026-02-03"}
    (out / "run.json").write_text("{}")
    with pytest.raises(GreytareError, match="Delete it; undated series"):
        run(root, out)


def test_the_day_of_the_first_frame_dates_a_series():
    def frame(taken):
        tag = None if taken is None else Tag(value=taken, source="exif")
        tags = FrameTags(taken_at=tag)
        return FrameMeasure(file="a", sha256="", tags=tags, channels={})

    times = ("2026-01-06T00:01:00", None, "2026-01-05T23:59:00", "0000:00:00")
    assert _taken_on(Measurement(frames=tuple(map(frame, times)), patch="")) == "2026-01-05"
    assert _taken_on(Measurement(frames=(frame(None),), patch="")) == ""


def test_a_series_that_measures_no_more_leaves_the_table_not_the_disk(root, tmp_path):
    out = tmp_path / "out"
    run(root, out)
    (root / "bench" / "body00" / "sheet.csv").write_text("file,reading,mode\n")
    summary = run(root, out)
    assert len(summary.failures) == 1
    assert len(table(out)) == 5
    kept = list((out / "profiles" / "bench").glob("body00.profile.json.*.old"))
    assert len(kept) == 1
    assert "offset_ev" in kept[0].read_text()


def test_a_decoder_that_dies_costs_its_series_only(root, tmp_path):
    summary = run(root, tmp_path / "out", jobs=2, report=fleetlab.crashing_report)
    assert [(f.series, f.kind) for f in summary.failures] == [("shelf/body01", "WorkerDied")]
    assert summary.measured == 5
    assert (tmp_path / "out" / "reports" / "bench" / "body00.html").read_text() == "<p>000100</p>"


def test_reports_are_made_where_they_lack(root, tmp_path):
    shutil.rmtree(root / "shelf")
    out = tmp_path / "out"
    assert run(root, out).measured == 2
    assert run(root, out, report=report_page).measured == 2
    assert run(root, out, report=report_page).same == 2
    page = (out / "reports" / "bench" / "body00.html").read_text()
    assert "What to do first" in page


def test_left_overs_of_a_killed_run_are_cleared(tmp_path):
    out = tmp_path / "out"
    (out / "profiles" / "a").mkdir(parents=True)
    half = out / "profiles" / "a" / ".greytare-ab12z9q.part"
    half.write_text("{")
    spare = out / "table.csv.20260101T000000Z.old"
    spare.write_text("x")
    mine = out / "notes.csv.old"
    mine.write_text("x")
    with open_store(out):
        assert not half.exists()
        assert not spare.exists()
        assert mine.exists()


def test_two_runs_into_one_folder(tmp_path):
    with (
        open_store(tmp_path / "out"),
        pytest.raises(GreytareError, match="another run writes into it"),
        open_store(tmp_path / "out"),
    ):
        pass
    with open_store(tmp_path / "out"):
        pass


def test_a_bug_is_a_failure_of_its_series(root, tmp_path):
    shutil.rmtree(root / "shelf")
    summary = run(root, tmp_path / "out", report=fleetlab.buggy_report)
    assert {f.kind for f in summary.failures} == {"ZeroDivisionError"}
    assert "fault of greytare" in summary.failures[0].mend
