"""Serving phones: one address, one link, the answers and a new sheet, nothing else."""

from __future__ import annotations

import contextlib
import shutil
import socket
import threading
import time
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner

from profiler.cli.main import greytare
from profiler.errors import GreytareError
from profiler.files.sheet import read_sheet
from profiler.web import app
from profiler.web.phone import link as links
from profiler.web.server import listen, make_server

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v2.profile.json"
ADDRESS = "127.0.0.2"
TICKED = {
    "profile": "halden.profile.json",
    "fields": [["reading", "EV 11.0"], ["iso", "400"], ["mode", "spot"], ["light", "daylight"]],
    "shots": [[0, ""], [1, ""]],
}


@pytest.fixture
def folder(tmp_path):
    shutil.copy(FIXTURE, tmp_path / "halden.profile.json")
    return tmp_path


@contextlib.contextmanager
def serving(folder):
    """Serve a folder to phones on a free port; gives the link."""
    with listen(0, ADDRESS) as door:
        port = door.getsockname()[1]
        tickets = links.Link()
        made = app.create_app(folder, tickets, port, address=ADDRESS, offered=app.PHONE)
        made.state.link = f"http://{ADDRESS}:{port}/?token={tickets.ticket}"
        server = make_server(made, lambda: None)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]})
        thread.start()
        try:
            while not server.started:
                time.sleep(0.02)
            yield made.state.link
        finally:
            server.should_exit = True
            thread.join(10)


@pytest.fixture
def link(folder):
    with serving(folder) as link:
        yield link


@pytest.fixture
def phone(link):
    """A client that scanned the code."""
    base = link.partition("/?")[0]
    with httpx.Client(base_url=base, headers={"Origin": base}, follow_redirects=True) as client:
        yield client


def test_the_link_lets_in_as_often_as_it_is_used_and_nobody_else(phone, link):
    assert phone.get("/").status_code == 403
    for _ in range(2):
        phone.cookies.clear()
        found = phone.get(link)
        assert found.status_code == 200
        assert "token" not in str(found.url)
    assert "Link for another phone" in found.text
    assert links.RISK in found.text
    assert "<svg" in found.text
    policy = found.headers["content-security-policy"]
    assert "script-src 'sha256-" in policy
    assert "frame-ancestors 'none'" in policy
    phone.cookies.clear()
    assert phone.get("/?token=wrong").status_code == 403


def test_nothing_but_the_answers_is_offered(phone, link, folder):
    phone.get(link)
    local = [route.path for router in app.PAGES for route in router.routes]
    assert len(local) > 20
    for path in {p for p in local if "{" not in p} | {"/onset/settings", "/halden.profile.json"}:
        assert phone.get(path).status_code in (404, 405), path
        assert phone.post(path, json={}).status_code in (404, 405), path
    assert [path.name for path in folder.iterdir()] == ["halden.profile.json"]


def test_names_and_origins_from_elsewhere_are_refused(phone, link):
    phone.get(link)
    for host in ("localhost:8000", "127.0.0.1:8000", "evil.example:8000", "127.0.0.2:81"):
        refused = phone.get("/", headers={"Host": host})
        assert refused.status_code == 403
        assert "answers under 127.0.0.2 only" in refused.text
    for origin in ("http://evil.example", "null", "http://127.0.0.1:8000"):
        assert phone.post("/sheet", json=TICKED, headers={"Origin": origin}).status_code == 403


def test_a_sheet_is_written_anew_each_time_and_never_over_another(phone, link, folder):
    phone.get(link)
    (folder / "sheet.csv").write_text("mine\n")
    done = phone.post("/sheet", json=TICKED)
    assert done.json() == {"said": "Written on the computer as sheet-2.csv."}
    assert (folder / "sheet.csv").read_text() == "mine\n"
    sheet = read_sheet(folder / "sheet-2.csv")
    assert [(row.file, row.reading.text, row.mode) for row in sheet.rows] == [
        ("*", "EV 11.0", "spot")
    ]
    for _ in range(30):
        last = phone.post("/sheet", json=TICKED)
    assert last.status_code == 400
    assert "20 sheets already" in last.json()["error"]
    assert len(list(folder.glob("*.csv"))) == 20


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"profile": "../secret.profile.json"}, 400),
        ({"profile": "/etc/passwd"}, 400),
        ({"shots": [[99, ""]]}, 400),
        ({"shots": [[-1, ""]]}, 400),
        ({"shots": "all"}, 422),
        ({"fields": [["reading", "EV luxx"], ["iso", "400"]]}, 400),
        ({"fields": [["iso", "400"]]}, 400),
        ({"fields": [["reading", "EV 11"]] * 100}, 422),
        ({"shots": [[0, ""]] * 2000}, 422),
    ],
)
def test_what_makes_no_sense_writes_nothing(phone, link, folder, changed, status):
    phone.get(link)
    assert phone.post("/sheet", json=TICKED | changed).status_code == status
    assert list(folder.glob("*.csv")) == []


def test_it_listens_on_that_address_alone(link):
    assert httpx.get(link).status_code == 303
    port = int(link.partition("/?")[0].rpartition(":")[2])
    with pytest.raises(ConnectionRefusedError, match="refused"):
        socket.create_connection(("127.0.0.1", port), timeout=2)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("0.0.0.0", "isn't one address of one machine"),
        ("224.0.0.1", "isn't one address of one machine"),
        ("studio-laptop", "isn't an address in numbers"),
        ("::1", "isn't an address in numbers"),
        ("192.0.2.77", "doesn't have that address"),
    ],
)
def test_one_address_of_this_machine_must_be_named(folder, address, said):
    done = CliRunner().invoke(greytare, ["serve", str(folder), "--phone", "--address", address])
    assert isinstance(done.exception, GreytareError)
    assert said in str(done.exception)


def test_an_address_without_phones_is_refused(folder):
    done = CliRunner().invoke(greytare, ["serve", str(folder), "--address", ADDRESS])
    assert done.exit_code == 2
    assert "goes with --phone" in done.output


def test_the_command_tells_the_risk_the_link_and_the_code(folder, monkeypatch):
    monkeypatch.setattr("profiler.web.server.run", lambda app, door, ready: ready())
    call = ["serve", str(folder), "--phone", "--address", ADDRESS]
    lines = CliRunner().invoke(greytare, call).output.splitlines()
    assert lines[0] == links.RISK
    assert lines[1].startswith(f"The page is open at http://{ADDRESS}:")
    assert "▄" in lines[5]


def test_a_folder_without_a_profile_says_so(tmp_path):
    with serving(tmp_path) as link, httpx.Client(follow_redirects=True) as client:
        found = client.get(link)
    assert found.status_code == 400
    assert "no profile to answer from" in found.text


@pytest.mark.parametrize("tab", [{"phone": True}], indirect=True)
def test_a_phone_ticks_frames_off_and_writes_the_sheet(tab, folder, link, check_page):
    page = tab.page
    page.goto(link)
    page.wait_for_selector(".ready", state="attached")
    page.locator("#tab-sheet").tap()
    page.locator("[name=reading]").fill("EV 11.0")
    page.locator("[name=iso]").fill("400")
    page.locator("#frames button").first.tap()
    shown = page.input_value("#text")
    page.locator("#send").tap()
    page.get_by_text("Written on the computer as sheet.csv.").wait_for()
    assert (folder / "sheet.csv").read_text() == shown
    check_page(page, "phone")
    assert tab.faults == []
