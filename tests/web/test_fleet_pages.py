"""The pages of a fleet in a browser: filter, sort, turn pages, charts, guard."""

from __future__ import annotations

import csv
import html
import io

import fleetlab
import pytest

EVIL = "<script>document.title='taken'</script>"
PAGES = [
    "/fleet",
    "/fleet/table?dates=all&sort=offset",
    "/fleet/table?tolerances=none&find=nobody",
    "/fleet/compare",
    "/fleet/compare?what=pair&body=R2&against=R4",
    "/fleet/compare?what=meters",
    "/fleet/drift",
    "/fleet/body",
    "/fleet/body?body=R5",
    "/fleet/body?body=R99",
]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A fleet in a start folder, and links that lead out of it."""
    root = tmp_path_factory.mktemp("fleet")
    start = fleetlab.rental(root / "rental")
    outside = fleetlab.keep(root / "outside", "secret", fleetlab.profile("999999", 0.1))
    (root / "outside" / "secret.toml").write_text("[tolerances]\noffset_ev = {limit = 0.01}\n")
    (start / "linked.profile.json").symlink_to(outside)
    (start / "linked.toml").symlink_to(root / "outside" / "secret.toml")
    (start / "way-out").symlink_to(root / "outside")
    (start / "run-out").mkdir()
    (start / "run-out" / "run.json").write_text("{}")
    (start / "run-out" / "profiles").symlink_to(root / "outside")
    return start


@pytest.fixture(scope="module")
def served(place, open_page):
    with open_page(place) as page:
        yield page


@pytest.mark.parametrize("tab", [{}, {"dark": True}, {"phone": True}], indirect=True)
def test_every_page(tab, served, check_page):
    """Accessible, and fit for a phone."""
    page = tab.page
    page.goto(served.address)
    for path in PAGES:
        page.goto(served.base + path)
        page.wait_for_load_state("networkidle")
        check_page(page, path)
    tab.stayed_here()


def tags(page):
    return page.locator(".sortable tbody th a").all_inner_texts()


def test_filter_sort_and_follow(tab, expect, served):
    """Typing filters, a heading sorts and keeps the focus, a name leads to the body's history."""
    page = tab.page
    page.goto(served.address)
    page.get_by_role("link", name="Fleet").click()
    expect(page.locator("#headline")).to_have_text(
        "9 results of 8 bodies: 6 in, 1 out, 1 undecided."
    )
    assert tags(page) == ["R1", "R1", "R2", "R3", "R4", "R5", "R6", "R7", "R10"]
    page.get_by_label("Find").fill("orrin")
    expect(page.locator("#headline")).to_contain_text("2 results of 2 bodies")
    assert tags(page) == ["R4", "R10"]
    assert "find=orrin" in page.url
    page.get_by_label("Find").fill("")
    page.get_by_label("Verdict").select_option("undecided")
    expect(page.locator("#headline")).to_contain_text("1 result of 1 body: 0 in, 0 out")
    page.get_by_label("Verdict").select_option("")
    expect(page.locator("#headline")).to_contain_text("9 results")

    heading = page.get_by_role("link", name="Offset, EV")
    heading.focus()
    page.keyboard.press("Enter")
    offset = page.get_by_role("columnheader", name="Offset, EV")
    expect(offset).to_have_attribute("aria-sort", "ascending")
    shown = page.locator("td.offset").all_inner_texts()
    values = [float(text.split()[0]) for text in shown]
    assert values == sorted(values)
    expect(page.get_by_role("link", name="Offset, EV")).to_be_focused()
    page.keyboard.press("Enter")
    expect(offset).to_have_attribute("aria-sort", "descending")
    assert tags(page)[0] == "R4"
    page.reload()
    assert tags(page)[0] == "R4"

    page.get_by_role("link", name="R3", exact=True).click()
    expect(page.locator("#headline")).to_contain_text("R3 (Halden H2 000003)")
    expect(page.locator("figure[data-chart] svg .dot")).to_have_count(3)
    expect(page.locator("figure[data-chart] svg .trend.sure")).to_have_count(1)
    expect(page.locator("figure[data-chart] svg .limit")).to_have_count(2)
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Record of profiles/000003/2026-11-09").click()
    record = opened.value
    record.wait_for_load_state()
    expect(record.get_by_text("not an accredited calibration certificate")).to_be_visible()
    tab.stayed_here()


def test_charts_follow_the_answer(tab, expect, served):
    page = tab.page
    page.goto(served.address)
    page.goto(served.base + "/fleet/compare")
    rows = page.locator("figure[data-chart] svg .name")
    expect(rows).to_have_count(6)
    page.get_by_role("link", name="Halden Orrin X6, ISO 400, spot, daylight").click()
    expect(rows).to_have_count(2)
    expect(page.locator("#headline")).to_contain_text("Halden Orrin X6, ISO 400")
    page.get_by_label("Compare").select_option("pair")
    expect(page.locator("#headline")).to_have_text("Name two bodies, by tag or serial.")
    page.get_by_label("Body", exact=True).fill("R2")
    page.get_by_label("Against").fill("R4")
    expect(page.locator("#headline")).to_have_text("Offset of R2 less that of R4: significant.")
    expect(page.locator("svg .dot.odd")).to_have_count(1)
    page.get_by_label("Against").fill("R999")
    expect(page.locator("#trouble")).to_contain_text("there is no body 'R999'")
    page.get_by_role("link", name="Drift").click()
    expect(page.locator("#headline")).to_contain_text("9 histories: 1 with a significant trend")
    expect(page.locator("svg .name.strong")).to_have_text("R3, ISO 400")
    tab.stayed_here()


def test_answers_without_a_script(user):
    """The pages hold their answer before any script has run."""
    shown = user.get("/fleet/table", params={"verdict": "out"}).text
    assert "1 result of 1 body: 0 in, 1 out, 0 undecided." in shown
    assert "Significant trend" in user.get("/fleet/body", params={"body": "R3"}).text


def test_csv_is_the_table_as_filtered(user):
    answer = user.get("/fleet/table.csv", params={"find": "R5", "dates": "all"})
    assert answer.headers["content-disposition"] == 'attachment; filename="fleet.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert [row["state"] for row in rows] == ["", "", "as-found", "as-left"]
    assert {row["camera_serial"] for row in rows} == {"000005"}


def test_nothing_outside_of_the_start_folder_is_read(user):
    assert "999999" not in user.get("/fleet/table").text
    assert "linked.toml" not in user.get("/fleet/table").text
    for folder in ("..", "/", "way-out", "run-out", "../outside"):
        answer = user.get("/fleet/table/answer", params={"folder": folder})
        assert answer.status_code == 400
        assert "leads out of the folder" in answer.json()["error"]
        assert "999999" not in user.get("/fleet/table", params={"folder": folder}).text
    for path in ("linked.toml", "../outside/secret.toml", "/etc/passwd"):
        answer = user.get("/fleet/table/answer", params={"tolerances": path})
        assert "leads out of the folder" in answer.json()["error"]
    for series in ("../../outside/secret", "secret", "", "000003"):
        answer = user.get("/fleet/record", params={"series": series})
        assert answer.status_code == 400
        assert "there is no such series" in answer.json()["error"]


@pytest.mark.parametrize(
    ("path", "values", "said"),
    [
        ("table", {"page": "0"}, "Write a whole number from 1"),
        ("compare", {"what": "all"}, "isn't one of the choices"),
        ("compare", {"quantity": "price"}, "isn't one of the choices"),
        ("drift", {"common": "2"}, "Write a number from 0 to 1"),
        ("drift", {"find": "x" * 400}, "too long"),
        ("body", {"body": "R99"}, "It holds R1, R10, R2, R3, R4 and more"),
        ("table", {"tolerances": "gone.toml"}, "there is no such file"),
    ],
)
def test_wrong_input_is_said_in_one_sentence(user, path, values, said):
    answer = user.get(f"/fleet/{path}/answer", params=values)
    assert answer.status_code == 400
    assert said in answer.json()["error"]
    page = user.get(f"/fleet/{path}", params=values, headers={"Accept": "text/html"})
    assert page.status_code == 400
    assert said in html.unescape(page.text)


def test_a_form_with_a_fault_keeps_its_choices(user):
    """What is wrong can be mended where it was typed, and nothing else is lost."""
    values = {"common": "2", "quantity": "clip_headroom_ev", "find": "R3"}
    page = user.get("/fleet/drift", params=values).text
    assert 'name="common" type="text" value="2"' in page
    assert '<option value="clip_headroom_ev" selected>' in page
    assert 'name="find" type="text" value="R3"' in page
    page = user.get("/fleet/table", params={"common": "0.7", "quantity": "clip_headroom_ev"}).text
    assert '<input type="hidden" name="common" value="0.7">' in page
    assert '<input type="hidden" name="quantity" value="clip_headroom_ev">' in page
    page = user.get("/fleet/table", params={"model": "Gone"}).text
    assert '<option value="Gone" selected>Gone</option>' in page


def test_other_tools_are_not_there(user):
    assert user.get("/fleet/other").status_code == 404
    assert user.get("/fleet/other/answer").status_code == 404


def test_names_never_become_a_part_of_the_page(tab, expect, tmp_path, open_page):
    folder = tmp_path / "evil"
    for day in ("2026-01-05", "2026-06-05"):
        made = fleetlab.profile(EVIL, 0.1)
        fleetlab.keep(folder, f"a{day}", made, date=day, tag=f"{EVIL}'\"&")
        fleetlab.keep(folder, f"b{day}", fleetlab.profile("000002", 0.2), date=day, tag="B")
    page = tab.page
    with open_page(folder) as served:
        page.goto(served.address)
        for path in ("table", "compare", "drift", "body?body=B", "compare?what=pair"):
            page.goto(f"{served.base}/fleet/{path}")
            page.wait_for_load_state("networkidle")
            assert page.locator("main script:not([type='application/json'])").count() == 0
            assert "taken" not in page.title()
        page.goto(f"{served.base}/fleet/table")
        page.get_by_role("link", name=EVIL).click()
        expect(page.locator("#headline")).to_contain_text(EVIL)
    tab.stayed_here()
