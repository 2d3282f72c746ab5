"""The carried page in the hand: without network or script, by touch, by keys, with odd names."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from profiler.cli.main import greytare
from profiler.files.profile import load_profile
from profiler.onset.profile import Profile
from profiler.records import Flag
from profiler.show.onset.settings import settings_answer
from profiler.web.carry.one_file import MOST_BYTES, Carried, carry_page

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v2.profile.json"
ODD = 'O\'Neil</script><b id="stray">&"'


@pytest.fixture(scope="module")
def data():
    return load_profile(FIXTURE)


@pytest.fixture(scope="module")
def page_file(data, tmp_path_factory):
    """Two bodies: one as measured, one of an odd name with a doubt, long out of date."""
    flag = Flag(name="trend", size=0.1, unit="EV", where="", detail="")
    odd = replace(
        data,
        camera=replace(data.camera, model=ODD),
        results=tuple(replace(result, flags=(flag,)) for result in data.results),
    )
    path = tmp_path_factory.mktemp("carry") / "two.html"
    path.write_text(
        carry_page(
            [
                Carried(name="halden", path="", data=data),
                Carried(name=ODD, path="", data=odd, interval_days=1),
            ]
        )
    )
    return path


def opened(tab, path):
    tab.page.goto(path.as_uri())
    tab.page.wait_for_selector(".ready", state="attached")
    assert tab.page.inner_text("#headline").startswith("Choose the profile of your body")
    assert tab.page.is_hidden("#form")
    assert tab.page.is_hidden("#tabs")
    tab.page.select_option("#profile", "0")
    return tab.page


def test_it_is_written_once_and_small(tmp_path):
    out = tmp_path / "halden.html"
    call = ["carry", str(FIXTURE), "--out", str(out)]
    assert CliRunner().invoke(greytare, call).exit_code == 0
    text = out.read_text()
    assert len(text.encode()) < MOST_BYTES == 200_000
    assert not re.search(r"(?:src|href)=", text)
    assert "Shot 2026-01-05" in text
    assert "profile-v2: Halden H2, serial 0004217" in text
    again = CliRunner().invoke(greytare, call)
    assert "a file of this name exists" in str(again.exception)
    assert out.read_text() == text


def test_too_many_profiles_are_refused(tmp_path):
    out = tmp_path / "many.html"
    done = CliRunner().invoke(greytare, ["carry", *[str(FIXTURE)] * 30, "--out", str(out)])
    assert "more than 200 kB" in str(done.exception)
    assert not out.exists()


@pytest.mark.parametrize("tab", [{"phone": True}, {"phone": True, "dark": True}], indirect=True)
def test_steps_by_touch_move_the_answer(tab, page_file, data, check_page):
    page = opened(tab, page_file)
    page.select_option("[name=iso]", "400")
    page.locator("[name=aperture]").fill("f/5.6")
    page.locator("[name=reading]").fill("EV 12.0")
    for _ in range(3):
        page.get_by_role("button", name="+0.1 stop").tap()
    assert page.input_value("[name=reading]") == "EV 12.3"
    want = settings_answer(Profile(data).settings("EV 12.3", iso=400, aperture="f/5.6"))
    assert page.inner_text("#headline") == want.headline
    page.get_by_role("button", name="Small step").tap()
    page.get_by_role("button", name="+⅓ stop").tap()
    assert page.input_value("[name=reading]") == "EV 12.7"
    page.get_by_role("button", name="f, time").tap()
    assert page.input_value("[name=reading]") == "f/5.6+0 1/60 ISO 100"
    page.get_by_role("button", name="Small step").tap()
    page.get_by_role("button", name="+0.1 stop").tap()
    assert page.input_value("[name=reading]") == "f/5.6+1 1/60 ISO 100"
    page.get_by_role("button", name="−1 stop").tap()
    assert page.input_value("[name=reading]") == "f/4+1 1/60 ISO 100"
    page.get_by_role("button", name="shorter", exact=True).tap()
    assert page.input_value("[name=reading]") == "f/4+1 1/80 ISO 100"
    check_page(page, "carried")
    page.reload()
    page.wait_for_selector(".ready", state="attached")
    assert page.input_value("[name=reading]") == "f/4+1 1/80 ISO 100"
    assert [url for url in tab.requests if not url.startswith(("file:", "blob:", "data:"))] == []
    assert tab.faults == []


def test_an_answer_never_stands_beside_an_error(tab, page_file):
    page = opened(tab, page_file)
    page.select_option("[name=iso]", "400")
    page.locator("[name=reading]").fill("EV 12.0")
    assert page.inner_text("#headline").startswith("Set ")
    page.locator("[name=reading]").fill("EV 12 luxx")
    assert page.inner_text("#headline") == "Correct the marked field first."
    assert "is not understood" in page.inner_text("#hint-reading")
    assert page.inner_text("#detail") == ""
    assert page.get_attribute("[name=reading]", "aria-invalid") == "true"


def test_odd_names_doubts_and_age_are_shown_as_text(tab, page_file):
    page = opened(tab, page_file)
    assert page.is_hidden("#age")
    named = page.locator("#profile option").all_inner_texts()
    assert named[0] == "choose"
    assert named[1].startswith("halden: Halden H2, serial 0004217; Halden 50mm f/1.4; Sprig Lm-3;")
    assert named[1].endswith("daylight; 2026-01-05")
    page.select_option("#profile", "1")
    assert ODD in page.inner_text("#made")
    assert page.locator("#stray").count() == 0
    assert re.search(r"shot on 2026-01-05, \d+ days ago", page.inner_text("#age"))
    page.select_option("[name=iso]", "400")
    page.locator("[name=reading]").fill("EV 12.0")
    assert "the calibration is in doubt: frames drift in their order, +0.10 EV" in page.inner_text(
        "#detail"
    )
    assert tab.faults == []


def test_by_keys_alone_at_a_desk(tab, page_file, check_page):
    page = opened(tab, page_file)
    page.focus("#tab-ratio")
    page.keyboard.press("Enter")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "key":
            break
    page.keyboard.type("EV 12.0")
    page.keyboard.press("Tab")
    page.keyboard.type("EV 10.0")
    assert page.inner_text("#headline").startswith("Lighting ratio 5.0:1")
    check_page(page, "carried at a desk")


def test_without_a_script_the_table_holds(chromium, page_file):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(page_file.as_uri())
    text = page.inner_text("body")
    context.close()
    assert "runs no script" in text
    assert "Meter reading" not in text
    for words in ("ISO 400", "EI 500", "give 0.3 ± 0.2 stop less", "2.7 ± 0.2", "spot, daylight"):
        assert words in text


def test_it_answers_where_nothing_can_be_kept(chromium, page_file):
    context = chromium.new_context()
    page = context.new_page()
    page.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { throw new Error('no') } })"
    )
    page.goto(page_file.as_uri())
    page.wait_for_selector(".ready", state="attached")
    page.select_option("#profile", "0")
    page.select_option("[name=iso]", "400")
    page.locator("[name=reading]").fill("EV 12.0")
    assert page.inner_text("#headline").startswith("Set ")
    context.close()


@pytest.mark.parametrize("tab", [{"phone": True}], indirect=True)
def test_the_sheet_is_ticked_off_and_kept(tab, page_file):
    page = opened(tab, page_file)
    page.locator("#tab-sheet").tap()
    page.locator("[name=reading]").fill("EV 11.0")
    page.locator("[name=iso]").fill("400")
    page.locator("[name=first_file]").fill("IMG_0099.dng")
    first = page.locator("#frames button").first
    first.tap()
    first.tap()
    assert "2 of 2" in first.inner_text()
    page.locator("#frames button").last.tap()
    assert page.is_disabled("[name=reading]")
    rows = page.input_value("#text").splitlines()
    assert rows[1].startswith("*,EV 11.0,spot")
    assert rows[2].startswith("IMG_0101.dng,dark")
    page.reload()
    page.wait_for_selector(".ready", state="attached")
    assert "2 of 2" in page.locator("#frames button").first.inner_text()
    with page.expect_download() as loaded:
        page.locator("#save").tap()
    assert Path(loaded.value.path()).read_text().splitlines() == rows
    page.locator("#undo").tap()
    assert "dark" not in page.input_value("#text").splitlines()[-1].split(",")
    page.locator("#anew").tap()
    assert page.is_enabled("[name=reading]")
    assert tab.faults == []
