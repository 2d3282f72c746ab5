"""Names out of files and sheets never become a part of the page."""

from __future__ import annotations

from dataclasses import replace

import pytest

from profiler import simulate

EVIL = "<script>document.title='taken'</script>"
NAME = '"><img src=x onerror=document.title=1>.dng'


@pytest.fixture(scope="module")
def served(tmp_path_factory, open_page):
    """A series whose names, serial, lens, sheet and profile hold HTML."""
    start = tmp_path_factory.mktemp("evil")
    folder = start / "a<b>&'c'"
    body = replace(simulate.load_body("halden-h2"), serial=EVIL, lens=f"50mm {EVIL}")
    spec = simulate.standard_series(body, 4, labels=(100,), frames_per_label=6, darks=0)
    written = simulate.write_series(spec, folder)
    written.frames[2].rename(folder / NAME)
    reading = written.sheet.read_text().splitlines()[1].split(",")[1]
    written.sheet.write_text(
        f'file,reading,mode,note,{EVIL}\n*,{reading},spot,"{EVIL}",x\n'
        f'"{NAME.replace(chr(34), chr(34) * 2)}",,,"{EVIL}",\n'
    )
    (folder / f"{EVIL.replace('/', '')}.profile.json").write_text("{}")
    with open_page(start) as page:
        yield page


def test_no_script_of_a_file_runs(tab, expect, served):
    page = tab.page
    page.goto(served.address)
    page.get_by_role("link", name="a<b>&'c'").click()
    expect(page.get_by_text(NAME, exact=True)).to_be_visible()
    page.get_by_role("button", name="Measure 6 frames").click()
    page.wait_for_selector("article.result")
    page.wait_for_selector("#report .gt-report")
    expect(page.locator("#report")).to_contain_text(EVIL)
    page.get_by_role("button", name="Save the profile").click()
    page.get_by_role("link", name="Use it on set").click()
    page.get_by_label("Meter reading").fill(EVIL)
    expect(page.locator("#hint-reading")).to_contain_text("script")
    page.get_by_role("link", name="Place", exact=True).click()
    page.get_by_label("Key reading").fill("EV 12")
    page.get_by_label("Name of spot 1").fill(EVIL[:60])
    page.get_by_label("Reading of spot 1").fill("EV 10")
    expect(page.locator("#detail")).to_contain_text("<script>")
    page.reload()
    expect(page.locator("#detail")).to_contain_text("<script>")
    assert page.locator("main script:not([type='application/json'])").count() == 0
    assert page.locator("img[src='x']").count() == 0
    assert "taken" not in page.title()
    tab.stayed_here()
