"""What people ran into on a first visit: nothing typed is lost, nothing stale is left standing."""

from __future__ import annotations

import csv
import re
import shutil

import httpx
import pytest

FIRST_SCREEN_PX = 800


@pytest.fixture
def series(tmp_path, calibrated):
    """A copy of the calibrated start folder, to be written into."""
    return shutil.copytree(calibrated, tmp_path / "start")


def rows(start):
    with (start / "first-shoot" / "sheet.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def bottom(place):
    box = place.bounding_box()
    return box["y"] + box["height"]


def test_an_empty_folder_greets_and_shoots_the_demo(tab, expect, tmp_path, open_page):
    page = tab.page
    with open_page(tmp_path) as served:
        page.goto(served.address)
        expect(page.locator(".greeting")).to_contain_text("No frames here yet.")
        page.get_by_role("button", name="Try it with an invented body").click()
        button = page.get_by_role("button", name=re.compile(r"Measure \d+ frames"))
        expect(button).to_be_visible(timeout=60_000)
        # the measure button stands on the first screen of a series of many frames
        assert int(re.search(r"\d+", button.inner_text())[0]) > 36
        assert bottom(button) < FIRST_SCREEN_PX
        assert (tmp_path / "greytare-demo" / "series" / "sheet.csv").exists()
        # the folder is remembered by a tab that is opened without one
        page.get_by_role("link", name="On set").click()
        page.get_by_role("link", name="Result").click()
        expect(page.locator("h1")).to_have_text("Result: series")


def test_pages_without_frames_or_profile_say_what_to_do_first(tmp_path, open_page):
    with open_page(tmp_path) as served, httpx.Client(base_url=served.base) as client:
        client.get("/", params={"token": served.token})
        page = client.get("/result").text
        assert "holds no raw frame" in page
        assert 'Choose a folder of frames under <a href="/series">' in page
        assert ">Measure<" not in page
        for path in ("/onset/settings", "/onset/place", "/check"):
            page = client.get(path).text
            assert "There is no profile below the start folder yet." in page
            assert 'class="trouble"' not in page


def test_tabs_keep_what_was_asked_and_an_error_clears_the_answer(tab, expect, served):
    page = tab.page
    page.goto(served.address)
    page.goto(f"{served.base}/onset/settings")
    page.get_by_label("ISO label", exact=True).select_option("400")
    page.get_by_label("Meter reading", exact=True).fill("EV 10.3")
    expect(page.locator("#headline")).to_contain_text("Set f/")
    expect(page.locator("#detail svg.gt-marks")).to_be_visible()
    page.get_by_label("Meter reading", exact=True).fill("EV ten")
    expect(page.locator("#hint-reading")).to_have_class("hint wrong")
    expect(page.locator("#headline")).to_have_text("No answer yet: mend what is marked.")
    expect(page.locator("#detail")).to_be_empty()
    page.get_by_label("Meter reading", exact=True).fill("EV 10.3")
    expect(page.locator("#headline")).to_contain_text("Set f/")
    page.get_by_role("link", name="Place", exact=True).click()
    expect(page.get_by_label("Key reading", exact=True)).to_have_value("EV 10.3")
    expect(page.get_by_label("ISO label", exact=True)).to_have_value("400")
    page.get_by_role("link", name="Plan and check").click()
    page.get_by_role("link", name="On set").click()
    expect(page.get_by_label("Meter reading", exact=True)).to_have_value("EV 10.3")
    expect(page.locator("#headline")).to_contain_text("Set f/")
    # on paper stands the answer, and no control
    page.emulate_media(media="print")
    assert page.locator("#headline").is_visible()
    assert page.locator("main input:visible, main select:visible, main button:visible").count() == 0
    page.emulate_media(media="screen")


def test_a_row_edited_twice_stays_one_row_and_keeps_what_was_typed(tab, expect, series, open_page):
    page, name = tab.page, "IMG_0003.dng"
    with open_page(series) as served:
        page.goto(served.address)
        page.goto(f"{served.base}/series?folder=first-shoot")
        page.get_by_role("button", name=re.compile("Measure")).click()
        page.wait_for_selector("article.result", timeout=60_000)
        # response and bars stand on the first screen
        assert bottom(page.locator("#response")) < FIRST_SCREEN_PX
        assert bottom(page.locator(".bars > svg")) < FIRST_SCREEN_PX
        line = page.locator(f'tr.line[data-file="{name}"]')
        reading = line.get_by_label(f"Own reading of {name}")
        old = rows(series)[0]["reading"]
        # two quick edits: the second is made before the first is answered; no mode was chosen
        reading.evaluate(
            """(field, old) => {
              const set = (control, value) => {
                control.value = value;
                control.dispatchEvent(new Event("change", { bubbles: true }));
              };
              set(field, old);
              const use = field.closest("tr").querySelector('[data-column="use"]');
              use.checked = false;
              use.dispatchEvent(new Event("change", { bubbles: true }));
            }""",
            old,
        )
        expect(line).to_have_class(re.compile("unused"))
        page.wait_for_load_state("networkidle")
        own = [row for row in rows(series) if row["file"] == name]
        assert [(row["reading"], row["mode"], row["use"]) for row in own] == [(old, "spot", "no")]
        # a refused reading stays, with its message beside it, while another row is corrected
        other = "IMG_0004.dng"
        field = page.locator(f'tr.line[data-file="{other}"]').get_by_label(
            f"Own reading of {other}"
        )
        field.fill("f/8.5 1/60 ISO 100")
        field.press("Tab")
        reply = page.locator(f'tr.line[data-file="{other}"] .reply')
        expect(reply).to_contain_text("f/8.5 isn't a mark of full stops, halves or thirds")
        expect(page.locator("#said")).to_have_class("state failed")
        line.get_by_label(f"Use {name}").check()
        expect(page.locator("#said")).to_have_class("state")
        expect(field).to_have_value("f/8.5 1/60 ISO 100")
        expect(reply).to_contain_text("Not counted: ")


def test_a_table_folds_on_a_phone_with_its_verdict_in_sight(tab, expect, served):
    page = tab.page
    page.goto(served.address)
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{served.base}/onset/place?iso=400&key=EV+12&spot_name=hair&spot=EV+3")
    verdict = page.locator('.folding td[data-label="verdict"]').first
    expect(verdict).to_contain_text("not clipped; below the floor")
    box = verdict.bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390


def test_all_columns_of_the_frames_are_in_sight_beside_the_list_to_answer_from(tab, served):
    page = tab.page
    page.goto(served.address)
    page.set_viewport_size({"width": 1200, "height": 900})
    page.goto(f"{served.base}/teach/find?seed=3&difficulty=hard")
    wide, shown = page.locator(".scroll:has(.long)").evaluate("e => [e.scrollWidth, e.clientWidth]")
    assert wide <= shown
