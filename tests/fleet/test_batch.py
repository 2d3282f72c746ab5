"""A batch: what comes out, what a bad series does, what is done again."""

from __future__ import annotations

import csv
import io
import json
import shutil
from dataclasses import replace
from pathlib import Path

import fleetlab
import pytest

from profiler.errors import GreytareError
from profiler.fleet.absent import series_left
from profiler.fleet.batch import store
from profiler.fleet.batch.run import run_fleet
from profiler.fleet.batch.store import open_store
from profiler.fleet.batch.task import Settings, work
from profiler.fleet.table import load_shelf
from profiler.show.report.document import report_page


@pytest.fixture
def root(small_fleet, tmp_path) -> Path:
    return Path(shutil.copytree(small_fleet, tmp_path / "root"))


def table(out: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(fleetlab.table_of(out))))


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


def test_a_series_behind_a_link_is_of_the_folder_that_holds_the_link(root, tmp_path):
    (root / "asset.toml").write_text('[asset]\nsession = "s1"\n')
    (root / "bench").rename(tmp_path / "elsewhere")
    (root / "bench").symlink_to(tmp_path / "elsewhere")
    summary = run(root, tmp_path / "out")
    assert not summary.failures
    rows = {row["series"]: row["session"] for row in table(tmp_path / "out")}
    assert rows["bench/body00"] == "s1"


def test_a_copy_is_named_and_counts_once(root, tmp_path):
    shutil.copytree(root / "shelf" / "body01", root / "shelf" / "copy")
    summary = run(root, tmp_path / "out")
    assert summary.duplicates == (("shelf/copy", "shelf/body01"),)
    assert summary.rows == 7


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


@pytest.fixture
def here(monkeypatch):
    """Runs do their work in this process, which spares the start of another."""

    def in_this_process(pool, work, tasks):
        for task in tasks:
            yield task, work(task)

    monkeypatch.setattr("profiler.fleet.batch.run.run_tasks", in_this_process)


def test_a_series_is_of_the_day_it_was_shot_else_undated(root, tmp_path, here):
    out = tmp_path / "out"
    levels = root / "bench" / "body00" / "levels.csv"
    header, *lines = levels.read_text().splitlines()
    place = header.split(",").index("taken_at")
    dated = [line.split(",") for line in lines]
    for cells in dated:
        cells[place] = "2026-01-05T23:59:00"
    levels.write_text("\n".join([header, *(",".join(cells) for cells in dated), ""]))
    (root / "bench" / "body03" / "asset.toml").write_text("[asset]\ndate = 2026-03-01\n")
    run(root, out)
    days = {row["series"]: row["date"] for row in table(out)}
    assert days.pop("bench/body00") == "2026-01-05"
    assert days.pop("bench/body03") == "2026-03-01"
    assert set(days.values()) == {""}


def test_a_folder_holds_the_results_of_one_root(root, tmp_path, here):
    out = tmp_path / "out"
    run(root, out)
    with pytest.raises(GreytareError, match=r"holds the results of .*root, not of .*shelf"):
        run(root / "shelf", out)
    (out / "run.json").write_text("[]")
    with pytest.raises(GreytareError, match="Delete it, if these are results"):
        run(root, out)
    (out / "run.json").write_text('{"format": "greytare-run", "version": 1, "day": "2026-02-03"}')
    assert run(root, out).same == 6  # of an older greytare, which wrote down no root
    assert json.loads((out / "run.json").read_text())["root"] == str(root.resolve())


def test_renamed_and_deleted_series_are_archived_not_judged(root, tmp_path, here):
    out = tmp_path / "out"
    run(root, out)
    (root / "bench" / "body00").rename(root / "bench" / "again")
    shutil.rmtree(root / "shelf" / "body01")
    summary = run(root, out)
    gone = {each.series: each for each in summary.archived}
    assert set(gone) == {"bench/body00", "shelf/body01"}
    assert gone["bench/body00"].now == "bench/again"
    assert gone["shelf/body01"].camera_serial == "000101"
    assert sorted(row["series"] for row in table(out)) == [
        *("bench/again", "bench/body03"),
        *("shelf/body02", "shelf/body04", "shelf/body05"),
    ]
    assert (out / "archive" / "shelf" / "body01.profile.json").is_file()
    assert {row.series for row in fleetlab.load_rows(out)[0]} == {
        row["series"] for row in table(out)
    }
    assert {(left.kind, left.series, left.why) for left in series_left(out)} == {
        ("archived", "bench/body00", "bench/again"),
        ("archived", "shelf/body01", ""),
    }
    above = load_shelf(tmp_path)  # a folder that holds the run's output
    assert {row.series for row in above.rows} == {
        f"out/profiles/{row['series']}" for row in table(out)
    }
    assert {(left.series, left.why) for left in above.left} == {
        ("out/bench/body00", "out/bench/again"),
        ("out/shelf/body01", ""),
    }
    assert len(run(root, out).archived) == 2  # as long as they are away
    (root / "bench" / "again").rename(root / "bench" / "body00")
    assert {each.series for each in run(root, out).archived} == {"bench/again", "shelf/body01"}


def test_files_out_of_reach_keep_the_earlier_result(root, tmp_path, here):
    out = tmp_path / "out"
    run(root, out)
    shelf = root / "shelf"
    away = tmp_path / "away"
    shelf.rename(away)
    shelf.mkdir()  # what a mount that is lost leaves behind
    summary = run(root, out)
    assert summary.stale == tuple(f"shelf/body0{k}" for k in (1, 2, 4, 5))
    assert (summary.failures, summary.archived) == ((), ())
    rows = fleetlab.load_rows(out)[0]
    assert {row.series for row in rows if "stale" in row.doubts} == set(summary.stale)
    assert {row.stale[10:] for row in rows if row.stale} == {": the folder is empty"}
    shelf.rmdir()
    away.rename(shelf)
    assert run(root, out).same == 6
    assert not any(row.stale for row in fleetlab.load_rows(out)[0])


def test_a_worker_without_the_share_retires_nothing(root, tmp_path, here, monkeypatch):
    out = tmp_path / "out"
    run(root, out)

    def shut(task):
        return work(replace(task, known_key="", folder=task.folder.with_name("elsewhere")))

    monkeypatch.setattr("profiler.fleet.batch.run.work", shut)
    summary = run(root, out)
    assert len(summary.stale) == len(summary.failures) == 6
    assert {failure.camera_serial for failure in summary.failures} == {
        f"{100 + k:06d}" for k in range(6)
    }
    assert len(table(out)) == 6


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
    spare = out / "errors.json.20260101T000000Z.old"
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


def test_a_file_system_without_locks_is_refused_not_assumed_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(store, "lock_state", lambda descriptor: "none")
    with pytest.raises(GreytareError, match="gives no locks"), open_store(tmp_path / "out"):
        pass
    assert not (tmp_path / "out" / "profiles").exists()


def test_a_bug_is_a_failure_of_its_series(root, tmp_path):
    shutil.rmtree(root / "shelf")
    summary = run(root, tmp_path / "out", report=fleetlab.buggy_report)
    assert {f.kind for f in summary.failures} == {"ZeroDivisionError"}
    assert "fault of greytare" in summary.failures[0].mend
