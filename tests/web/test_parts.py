"""The parts below the pages: sheet cells, jobs, changes, pictures, lessons, words."""

from __future__ import annotations

import os
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import imageio.v3 as iio
import numpy as np
import pytest

from profiler.errors import ExposureError, GreytareError, SheetError
from profiler.files.profile import load_profile
from profiler.frames import preview
from profiler.onset.profile import Profile
from profiler.show.answer import Answer
from profiler.web import fields, folders, rendering
from profiler.web.carry import answers
from profiler.web.follow import follow_page
from profiler.web.jobs import Job
from profiler.web.onset import shared
from profiler.web.onset.tools import mix, settings
from profiler.web.series import pictures, series_lines
from profiler.web.series.cells import Edit, edit_cells, read_cells
from profiler.web.series.open_series import OpenSeries
from profiler.web.session import Session
from profiler.web.teach import lesson, sliders
from profiler.web.tickets import Tickets

KEPT = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v1.profile.json"


def put(row, file, **values):
    return Edit(row=row, file=file, values=values)


SHEETS = {
    "semicolons, CRLF, byte order mark": (
        '\ufefffile;reading;mode;my column\r\n*;EV 10,3;spot;kept\r\na.dng;;;"two; parts"\r\n'
    ),
    "commas, a blank row, a line break in a cell": (
        'File , reading,mode,note\n*,EV 10.3,spot,"before\nlunch"\n\na.dng,dark,,\n'
    ),
    "tabs": "reading\tfile\tmode\nEV 10.3\t*\tspot\n",
}


@pytest.mark.parametrize("name", SHEETS)
def test_an_edit_keeps_everything_else(tmp_path, name):
    path = tmp_path / "sheet.csv"
    path.write_bytes(SHEETS[name].encode())
    cells = read_cells(path)
    assert cells.content() == path.read_bytes()
    same = cells.text()
    changed, rows = edit_cells(cells, [put(0, "*", reading="EV 11"), put(None, "b.dng", use="no")])
    text = changed.content().decode("utf-8-sig")
    assert changed.cell(0, "reading") == "EV 11"
    assert changed.cell(0, "mode") == "spot"
    assert changed.cell(rows[1], "use") == "no"
    assert changed.rows_by_file(["b.dng"])["b.dng"] == [rows[1]]
    for cell in ("my column", "kept", "two; parts", "before\nlunch", "dark"):
        assert (cell in same) == (cell in text)
    assert (changed.encoding == "utf-8-sig") is SHEETS[name].startswith("\ufeff")
    assert ("\r\n" in text) == ("\r\n" in SHEETS[name])


def test_an_edit_of_another_row_is_refused(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text("file,reading,mode\n*,EV 10,spot\n")
    cells = read_cells(path)
    for wrong in (put(0, "a.dng", reading="EV 1"), put(5, "*", reading="EV 1")):
        with pytest.raises(SheetError, match="other rows than this page shows"):
            edit_cells(cells, [wrong])
    with pytest.raises(SheetError, match="isn't edited here"):
        edit_cells(cells, [Edit(row=0, file="*", values={"file": "b"})])
    with pytest.raises(SheetError, match="isn't a cell"):
        edit_cells(cells, [put(0, "*", reading="EV 10\nx,y")])


def test_the_users_own_sheet_stays_and_our_drafts_do_not(tmp_path, make_shoot):
    made = make_shoot(tmp_path / "s", labels=(100,), frames_per_label=3)
    sheet = made.folder / "sheet.csv"
    sheet.write_text("file,reading,mode,mine\n*,EV 9,spot,x\n")
    own = sheet.read_bytes()
    series = OpenSeries(tmp_path.resolve(), made.folder.resolve())
    first = series.save_edits([put(0, "*", reading="EV 10")], series.cells().version)
    second = series.save_edits([put(0, "*", reading="EV 11")], first.version)
    assert second.kept == ""
    kept = list(made.folder.glob("sheet.csv.*.old"))
    assert [path.read_bytes() for path in kept] == [own]
    assert first.kept == kept[0].name
    with pytest.raises(SheetError, match="another program has changed the sheet"):
        series.save_edits([put(0, "*", reading="EV 12")], first.version)
    before = sheet.read_bytes()
    with pytest.raises(SheetError, match="reading"):
        series.save_edits([put(0, "*", reading="much")], second.version)
    with pytest.raises(SheetError, match=r"no file 'x\.dng'"):
        series.save_edits([put(None, "x.dng", use="no")], second.version)
    assert sheet.read_bytes() == before


def test_a_job_tells_how_far_it_is_and_stops_when_asked():
    gate, seen = threading.Event(), threading.Event()

    def work(progress):
        progress(1, 4)
        seen.set()
        gate.wait(5.0)
        progress(2, 4)
        return "never"

    kept = []
    job = Job(work, kept.append)
    assert seen.wait(5.0)
    assert (job.look().state, job.look().done, job.look().total) == ("running", 1, 4)
    job.cancel()
    gate.set()
    job.join(5.0)
    assert job.look().state == "cancelled"
    assert kept == []


def test_a_job_fails_with_a_sentence(caplog, tmp_path, monkeypatch):
    monkeypatch.setenv("GREYTARE_CACHE", str(tmp_path))

    def at_fault(_):
        raise GreytareError("it is dark", "the frame", "Add light")

    def broken(_):
        raise RuntimeError("no user reads this")

    for work, said in (
        (at_fault, "the frame: it is dark. Add light."),
        (broken, "The details are in"),
    ):
        job = Job(work, print)
        job.join(5.0)
        assert job.look().state == "failed"
        assert said in job.look().error
    assert "no user reads this" in caplog.text
    done = Job(lambda progress: 7, lambda _: None)
    done.join(5.0)
    assert done.look().state == "done"


def test_png_holds_the_picture():
    grey = np.arange(12, dtype=np.uint8).reshape(3, 4)
    png = preview.png_bytes(grey)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert (iio.imread(png, extension=".png") == grey).all()


def test_a_bracket_is_seen_to_brighten(shot):
    import imageio.v3 as iio

    shown = pictures.Pictures()
    level = [
        float(iio.imread(shown.get(shot.folder / name, 120).png)[30:50, 50:70].mean())
        for name in (shot.dark[0], *shot.lit[:7])
    ]
    assert level == sorted(level)
    # the darkest frame is told from the lens cap at a glance
    assert level[0] < 20.0 < 60.0 < level[1] < 200.0 < 240.0 < level[-1]
    preview = shown.get(shot.folder / shot.lit[3], 900)
    x, y, width, height = (float(part) for part in preview.patch.split(","))
    assert 0.15 < x < x + width < 0.85
    assert 0.15 < y < y + height < 0.85


READINGS = [
    ("EV 10.3", "spot", "EV 10.3 at ISO 100"),
    ("EV 12.3 ISO 400", "spot", "EV 10.3 at ISO 100"),
    ("dark", "", "lens cap on: black is read from it"),
    ("2560 lx", "incident-flat", "EV 10.0 at ISO 100 by C = 250 lx"),
    ("128 cd/m2", "spot", "EV 10.0 at ISO 100 by K = 12.5 cd/m²"),
    ("f/8+3 ISO 100", "flash-flat", "f/8+3 at ISO 100"),
    ("", "", ""),
]


@pytest.mark.parametrize(("reading", "mode", "said"), READINGS)
def test_a_reading_is_answered(reading, mode, said):
    assert series_lines.reading_answer(reading, mode) == said


@pytest.mark.parametrize(
    ("reading", "mode", "said"),
    [
        ("EV 10", "", "the meter mode is missing"),
        ("ten", "spot", "not understood"),
        ("650 lx", "spot", "incident reading"),
    ],
)
def test_a_wrong_reading_is_answered_in_a_sentence(reading, mode, said):
    with pytest.raises(SheetError, match=said):
        series_lines.reading_answer(reading, mode)


def test_errors_name_fields_where_commands_have_options():
    mend = 'Add {key} "EV 12", or {flash_reading}'
    error = ExposureError("there is no reading", "key 'x'", mend, "key")
    said = rendering.sentence(error)
    assert said == "Key 'x': there is no reading. Add ‘Key reading’ \"EV 12\", or ‘Flash was read’."
    assert rendering.field_of(error, ("key", "spot")) == "key"
    broken = GreytareError("it is cut short", "img_1.dng", "Copy it again")
    assert rendering.sentence(broken) == "img_1.dng: it is cut short. Copy it again."
    assert rendering.field_of(error, ("spot",)) == ""
    named = ExposureError("it isn't a time", "'x'", "Write 1/60", "min_time")
    assert rendering.field_of(named, ("min_time",)) == "min_time"
    told = GreytareError("it is none", "a.json", "Use {greytare fit} or {greytare schema}")
    assert rendering.sentence(told) == "a.json: it is none. Use ‘Result’ or greytare schema."
    assert str(told) == "a.json: it is none. Use greytare fit or greytare schema."


def test_examples_in_docstrings():
    import doctest

    found = doctest.testmod(rendering)
    assert (found.failed, found.attempted) == (0, 1)


def test_numbers_of_fields():
    params = fields.Params({"a": "70 %", "b": "1,5", "c": "x", "d": "2.5"})
    assert fields.number(params, "a", low=1, high=99) == 70.0
    assert fields.number(params, "b", low=0, high=2) == 1.5
    assert fields.number(params, "none", low=0, high=2) is None
    assert fields.whole_numbers(
        fields.Params({"iso": "100, 400;800"}), "iso", low=1, high=9999
    ) == (
        100,
        400,
        800,
    )
    for name, options in (("c", {}), ("d", {"whole": True}), ("b", {"high": 1.0})):
        with pytest.raises(ExposureError, match="that fits"):
            fields.number(params, name, **{"low": 0.0, "high": 99.0} | options)


def test_paths_stay_below_the_start(tmp_path):
    start = tmp_path.resolve()
    (start / "a").mkdir()
    assert folders.inside(start, "a/../a") == start / "a"
    assert folders.relative(start, start) == ""
    (start / "loop").symlink_to(start / "loop")
    for text in ("..", "a/../..", "/", "loop", "\0"):
        with pytest.raises(GreytareError, match="leads out"):
            folders.inside(start, text)
    with pytest.raises(GreytareError, match="no such file or folder"):
        folders.inside(start, "b")


def test_folders_are_listed_and_links_that_lead_out_are_not(tmp_path):
    start = tmp_path.resolve() / "start"
    for name in ("b", "A", ".hidden"):
        (start / name).mkdir(parents=True)
    (tmp_path / "outside").mkdir()
    (start / "out").symlink_to(tmp_path / "outside")
    (start / "in").symlink_to(start / "b")
    (start / "b" / "sheet.csv").write_text("file\n")
    (start / "b" / "IMG_1.dng").write_bytes(b"")
    found = folders.subfolders(start, start)
    assert [(each.name, each.path) for each in found] == [("A", "A"), ("b", "b"), ("in", "b")]
    assert [(each.frames, each.has_sheet) for each in found] == [(0, False), (1, True), (1, True)]


def test_files_are_found_by_their_ending_the_newest_first(tmp_path):
    start = tmp_path.resolve()
    (start / "shelf").mkdir()
    names = ("old.profile.json", "shelf/new.profile.json", ".hidden.profile.json", "note.txt", ".x")
    for age, name in enumerate(names):
        (start / name).write_text("{}")
        os.utime(start / name, (1e9 + age, 1e9 + age))
    found = folders.find_files(start, ".profile.json")
    assert found == ["shelf/new.profile.json", "old.profile.json"]


@pytest.mark.parametrize(("name", "more"), [("share", {}), ("pops", {"ambient": "", "share": ""})])
def test_limits_of_numbers_that_a_mix_asks_for(name, more):
    """All flash is no mix, and none is none; a flash of a hundred pops is a slip."""
    asked = {
        "flash": "f/8 ISO 100", "ambient": "EV 10", "time": "1/60", "flash_reading": "alone",
        "iso": "100", "share": "50",
    }  # fmt: skip
    for typed in ("1", "99"):
        assert mix.answer(None, fields.Params(asked | more | {name: typed})).headline
    for typed in ("0", "100"):
        with pytest.raises(ExposureError, match="from 1 to 99"):
            mix.answer(None, fields.Params(asked | more | {name: typed}))


def test_a_sheet_to_take_along_begins_with_the_first_result():
    kept = load_profile(KEPT)
    lights = ("tungsten", "led", "daylight")
    results = tuple(replace(r, light=x) for r, x in zip(kept.results, lights, strict=True))
    profile = Profile(replace(kept, results=results))
    shown = {field.name: field.value for field in answers._sheet_fields(profile)}
    assert (shown["light"], shown["mode"], shown["iso"]) == ("tungsten", "spot", "100, 400, 800")


def test_an_iso_label_is_asked_for_where_that_is_what_lacks():
    profile = Profile(load_profile(KEPT))
    asked = settings.answer(profile, fields.Params({"reading": "EV 10.3", "aperture": "f/8"}))
    assert asked.headline.startswith("Choose the ISO label; or type aperture and time")
    for wrong in ({"aperture": "f/8", "time": "soon"}, {"aperture": "wide", "time": "1/60"}):
        with pytest.raises(GreytareError):
            settings.answer(profile, fields.Params({"reading": "EV 10.3"} | wrong))


@pytest.mark.parametrize(("typed", "rows"), [(0, 4), (2, 4), (4, 5), (6, 7)])
def test_there_is_always_a_row_for_another_spot(typed, rows):
    spots = [pair for k in range(typed) for pair in (("spot_name", f"s{k}"), ("spot", "EV 10"))]
    shown = shared.shown_rows(fields.Params(spots), "spot", 4)
    assert shown[:typed] == tuple((f"s{k}", "EV 10") for k in range(typed))
    assert shown[typed:] == (("", ""),) * (rows - typed)


def test_a_list_keeps_what_came_in_for_it():
    field = fields.Field(name="iso", label="ISO", value="200", choices=(("100", "100"),))
    assert fields.keeping(field).choices == (("100", "100"), ("200", "200"))
    for value in ("", "100"):
        same = replace(field, value=value)
        assert fields.keeping(same) == same
    assert fields.keeping(replace(field, choices=())).choices == ()


def test_a_session_that_closes_ends_what_runs(tmp_path):
    ended = []
    job = SimpleNamespace(
        cancel=lambda: ended.append("job"), wait=lambda *_: None, join=lambda *_: 0
    )
    session = Session(tmp_path)
    session._open = {
        tmp_path / "a": SimpleNamespace(job=None),
        tmp_path / "b": SimpleNamespace(job=job),
    }
    session._following = {tmp_path: SimpleNamespace(stop=lambda: ended.append("followed"))}
    session.close()
    assert ended == ["followed", "job"]


def test_what_went_wrong_in_a_followed_folder_is_told():
    said = follow_page._plain(None)
    assert (said["running"], said["trouble"]) == (False, "")
    lost = GreytareError("the folder is gone", "shelf", "Put it back")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(follow_page, "follow_answer", lambda _state: Answer(headline="h"))
        patch.setattr(follow_page, "plot_data", lambda _state: None)
        for error, told in ((lost, "shelf: the folder is gone. Put it back."), (None, "")):
            state = SimpleNamespace(wrong=(), latest="a.dng")
            running = SimpleNamespace(state=lambda s=state: s, error=error)
            assert follow_page._plain(running)["trouble"] == told


STARTS = {slider.name: slider.start for slider in sliders.all_sliders()}
LESSONS = [  # sliders moved, what must be said
    ({}, "", True),
    ({"gain": 1.0}, "", True),
    ({"mistyped": 1.0}, "slip", True),
    ({"knee": 60.0}, "bends-before-clip", True),
    ({"short": 1.0}, "clip-not-seen", None),
    ({"drift": 0.3}, "trend", None),
    ({"meter": 1.0}, "", False),
]


@pytest.mark.parametrize(("moved", "flag", "inside"), LESSONS)
def test_a_lesson_says_what_its_sliders_do(moved, flag, inside):
    given = lesson.teach(STARTS | moved, 11)
    assert given.plot is not None
    answer = given.answer
    assert flag in " ".join((*answer.missing, *(note.text for note in answer.notes)))
    facts = {fact.name: fact.text for fact in answer.figures}
    if inside is not None:
        assert ("inside the 95 %" in facts["found less true"]) is inside
    true = float(facts["headroom true"].split()[0])
    assert true == pytest.approx(2.7 - moved.get("gain", 0.0), abs=0.01)


def test_each_slider_moves_its_own_part_of_the_world():
    moved = {"flare": 2.0, "knee": 60.0, "meter": 0.5, "scatter": 0.07, "read_noise": 4.0}
    made = lesson.make_series(STARTS | moved, 3)
    # sliders of percent are parts of one in the world
    assert (made.scene.veil, made.effects.knee_start) == (0.02, 0.6)
    assert (made.meter.error_ev, made.shutter_scatter_ev) == (0.5, 0.07)
    assert made.body.label(lesson.ISO).read_noise_e == 4.0


def test_a_slider_beyond_its_range_is_refused():
    for typed in ("9", "x", "nan"):
        with pytest.raises(ExposureError, match="isn't a position of this slider"):
            sliders.read_values({"gain": typed})


def test_a_fault_of_ours_gets_a_plain_sentence(tmp_path, monkeypatch, caplog):
    import asyncio

    import httpx

    from profiler.web import app
    from profiler.web.teach import teach_page

    monkeypatch.setenv("GREYTARE_CACHE", str(tmp_path / "cache"))

    def broken(*_):
        raise RuntimeError("no user reads this")

    monkeypatch.setattr(teach_page, "_lesson", broken)
    tickets = Tickets()
    made = app.create_app(tmp_path, tickets, 8000)

    async def ask():
        transport = httpx.ASGITransport(app=made, raise_app_exceptions=False)
        cookies = {"greytare-8000": tickets.secret}
        base = "http://127.0.0.1:8000"
        async with httpx.AsyncClient(transport=transport, base_url=base, cookies=cookies) as client:
            return await client.get("/teach/answer")

    # a thread of its own: Playwright may keep a loop running in this one
    with ThreadPoolExecutor(1) as pool:
        answer = pool.submit(lambda: asyncio.run(ask())).result()
    made.state.session.close()
    assert answer.status_code == 500
    said = answer.json()["error"]
    assert "something went wrong in greytare itself (RuntimeError)" in said
    (kept,) = (tmp_path / "cache" / "errors").iterdir()
    assert str(kept) in said
    assert "no user reads this" not in answer.text
    assert "no user reads this" in caplog.text


def test_a_meter_is_offered_by_what_its_file_holds(tmp_path):
    """The limits of a lab are no meter, and a meter with a slip in it is complained of later."""
    (tmp_path / "limits.toml").write_text("[tolerances.offset_ev]\nlow = -0.3\n")
    (tmp_path / "sprig.toml").write_text("# ours\n[meter]\nmodel = \n")
    (tmp_path / "large.toml").write_text("[meter]\n" + "#" * 1_000_001)
    assert folders.find_tables(tmp_path, "meter") == ["sprig.toml"]
    assert folders.find_tables(tmp_path, "tolerances?") == ["limits.toml"]


def test_the_hint_shows_readings_that_the_profile_takes():
    """A profile by spot alone takes no lx, one by flash alone no EV."""

    def held(*modes):
        return SimpleNamespace(
            data=SimpleNamespace(results=[SimpleNamespace(mode=mode) for mode in modes])
        )

    assert shared.reading_hint(held("spot", "spot")) == "EV 10.3, 41 cd/m2, f/8 1/125 ISO 100"
    assert shared.reading_hint(held("flash-flat", "flash-spot")) == "f/8+3 ISO 100"
    assert shared.reading_hint(held("spot", "incident-flat")) == shared.READING_HINT
