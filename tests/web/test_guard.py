"""Who may ask, from where, and for which paths."""

from __future__ import annotations

import re

import httpx
import pytest

SECRET = "file,reading,mode\n*,EV 1,spot\n"


@pytest.fixture(scope="module")
def place(tmp_path_factory, make_shoot):
    """A start folder with links that lead out of it, and what they lead to."""
    root = tmp_path_factory.mktemp("guard")
    start, outside = root / "start", root / "outside"
    start.mkdir()
    made = make_shoot(start / "series", labels=(100,), frames_per_label=3)
    make_shoot(outside, labels=(100,), frames_per_label=3, seed=8)
    (outside / "sheet.csv").write_text(SECRET)
    (outside / "secret.profile.json").write_text("{}")
    (start / "way-out").symlink_to(outside)
    (start / "linked").mkdir()
    (start / "linked" / "IMG_0001.dng").symlink_to(outside / "IMG_0001.dng")
    (start / "sheet-out").mkdir()
    (start / "sheet-out" / made.lit[0]).write_bytes((made.folder / made.lit[0]).read_bytes())
    (start / "sheet-out" / "sheet.csv").symlink_to(outside / "sheet.csv")
    (start / "sheet-new").mkdir()
    (start / "sheet-new" / made.lit[0]).write_bytes((made.folder / made.lit[0]).read_bytes())
    (start / "sheet-new" / "sheet.csv").symlink_to(outside / "new.csv")
    (start / "out.profile.json").symlink_to(outside / "secret.profile.json")
    (start / "inner").symlink_to(start / "series")
    return start


@pytest.fixture(scope="module")
def served(place, open_page):
    with open_page(place) as page:
        yield page


@pytest.fixture
def anyone(served):
    """A client without the token."""
    with httpx.Client(base_url=served.base) as client:
        yield client


def test_only_the_token_lets_in(anyone, served):
    for path in ("/", "/series", "/static/style.css", "/favicon.ico", "/nothing"):
        assert anyone.get(path).status_code == 403, path
    assert anyone.get("/", params={"token": "wrong"}).status_code == 403
    assert anyone.get("/", params={"token": served.token[:-1]}).status_code == 403
    anyone.cookies.set(f"greytare-{served.port}", "wrong")
    assert anyone.get("/series").status_code == 403


def test_token_moves_into_a_strict_cookie(anyone, served):
    answer = anyone.get("/series", params={"folder": "series", "token": served.token})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/series?folder=series"
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert anyone.get(answer.headers["location"]).status_code == 200


def test_a_ticket_is_good_once_and_no_cookie(anyone, served):
    ticket = served.token
    assert anyone.head("/", params={"token": ticket}).status_code == 403
    assert anyone.get("/", params={"token": ticket}).status_code == 303
    assert served.token != ticket
    with httpx.Client(base_url=served.base) as other:
        assert other.get("/", params={"token": ticket}).status_code == 403
        other.cookies.set(f"greytare-{served.port}", ticket)
        assert other.get("/series").status_code == 403
        other.cookies.set(f"greytare-{served.port}", served.token)
        assert other.get("/series").status_code == 403


def test_only_the_user_reads_the_handover(served):
    assert served.handover.stat().st_mode & 0o077 == 0
    assert served.handover.parent.stat().st_mode & 0o077 == 0


def test_a_browser_comes_in_by_the_handover(tab, expect, served):
    tab.page.goto(served.handover.as_uri())
    expect(tab.page).to_have_url(re.compile(r"/series$"))
    expect(tab.page.get_by_role("heading", level=1)).to_be_visible()


def test_way_in_never_leads_to_another_host(anyone, served):
    answer = anyone.get(f"{served.base}//elsewhere.example/x", params={"token": served.token})
    assert answer.headers["location"].startswith("/elsewhere")


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "elsewhere.example:{port}", "127.0.0.1", "127.0.0.1:1", "[::1]"]
)
def test_other_hosts_are_refused(user, served, host):
    answer = user.get("/series", headers={"Host": host.format(port=served.port)})
    assert answer.status_code == 403
    assert "127.0.0.1 or localhost only" in answer.text
    assert user.get("/series", headers={"Host": f"localhost:{served.port}"}).status_code == 200


@pytest.mark.parametrize(
    "origin",
    ["http://elsewhere.example", "null", "", "https://127.0.0.1:{port}", "http://127.0.0.1:1"],
)
def test_other_origins_change_nothing(user, served, place, origin):
    body = {
        "folder": "series",
        "version": "",
        "lines": [{"row": None, "file": "*", "values": {"reading": "EV 10", "mode": "spot"}}],
    }
    headers = {"Origin": origin.format(port=served.port)}
    for path in ("/series/sheet", "/result/edit", "/result/save", "/result/measure"):
        answer = user.post(path, json=body, headers=headers)
        assert answer.status_code == 403, path
    assert not (place / "series" / "sheet.csv").exists()
    # what is refused there is taken from the page itself
    assert user.post("/series/sheet", json=body).status_code == 200
    (place / "series" / "sheet.csv").unlink()


def test_a_post_without_origin_is_refused(served):
    with httpx.Client(base_url=served.base) as client:
        client.get("/", params={"token": served.token})
        assert client.post("/result/cancel", data={"folder": "series"}).status_code == 403
        assert client.post("/", params={"token": served.token}).status_code == 403


OUTSIDE = [
    "..",
    "../outside",
    "series/../../outside",
    "/etc",
    "/",
    "way-out",
    "way-out/.",
    "series/\0",
    "~root",
    "%2e%2e",
]


@pytest.mark.parametrize("path", OUTSIDE)
def test_folders_outside_are_refused(user, path):
    for address in ("/series", "/result", "/series/tags", "/result/content", "/result/job"):
        answer = user.get(address, params={"folder": path})
        assert answer.status_code == 400, address
        assert "IMG_0001" not in answer.text
    picture = {"folder": path, "frame": "IMG_0001.dng"}
    assert user.get("/series/picture", params=picture).status_code == 400


@pytest.mark.parametrize("frame", ["../series/IMG_0001.dng", "/etc/passwd", "sheet.csv", ""])
def test_only_frames_of_the_folder_have_pictures(user, frame):
    answer = user.get("/series/picture", params={"folder": "series", "frame": frame})
    assert answer.status_code == 400
    assert "no such frame" in answer.json()["error"]


def test_links_out_are_refused_and_links_inside_followed(user):
    page = user.get("/series", params={"folder": "linked"}).text
    assert "leads out of the folder" in page
    picture = {"folder": "linked", "frame": "IMG_0001.dng"}
    assert user.get("/series/picture", params=picture).status_code == 400
    assert "way-out" not in user.get("/series").text
    inner = {"folder": "inner", "frame": "IMG_0001.dng"}
    assert user.get("/series/picture", params=inner).content.startswith(b"\x89PNG")


@pytest.mark.parametrize("folder", ["sheet-out", "sheet-new"])
def test_a_sheet_outside_is_neither_read_nor_written(user, place, folder):
    page = user.get("/series", params={"folder": folder}).text
    assert "leads out of the folder" in page
    assert "EV 1" not in page
    body = {
        "folder": folder,
        "version": "",
        "lines": [{"row": None, "file": "*", "values": {"reading": "EV 10", "mode": "spot"}}],
    }
    assert user.post("/series/sheet", json=body).status_code == 400
    outside = place.parent / "outside"
    assert (outside / "sheet.csv").read_text() == SECRET
    assert not (outside / "new.csv").exists()


@pytest.mark.parametrize(
    "path", ["out.profile.json", "../outside/secret.profile.json", "/etc/passwd"]
)
def test_profiles_outside_are_refused(user, path):
    for tool in ("settings", "place", "mix"):
        answer = user.get(f"/onset/{tool}/answer", params={"profile": path, "reading": "EV 10"})
        assert answer.status_code == 400
        assert "leads out of the folder" in answer.json()["error"]
    assert "out.profile.json" not in user.get("/onset/settings").text


@pytest.mark.parametrize("name", ["../x", "a/b", ".hidden", "", "x\0", "-x", "x" * 200])
def test_a_profile_is_saved_beside_the_frames_only(user, place, name):
    body = {"folder": "series", "name": name, "replace": False}
    answer = user.post("/result/save", json=body)
    assert answer.status_code == 400
    assert answer.json()["field"] == "name"
    assert list(place.rglob("x*.profile.json")) == []


def test_headers_stand_on_every_answer(user, anyone):
    answers = [
        user.get("/series"),
        user.get("/static/style.css"),
        user.get("/nothing"),
        user.get("/series", params={"folder": ".."}),
        anyone.get("/series"),
    ]
    for answer in answers:
        policy = answer.headers["content-security-policy"]
        for part in (
            "default-src 'self'",
            "img-src 'self' data:",
            "style-src 'self' 'unsafe-inline'",
            "script-src 'self'",
        ):
            assert part in policy.split("; ")
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "same-origin"
        assert "server" not in answer.headers


def test_faults_are_said_in_one_sentence(user):
    answer = user.get("/nothing", headers={"Accept": "text/html"})
    assert answer.status_code == 404
    assert "There is no such page here." in answer.text
    assert user.post("/series").status_code == 405
    answer = user.post("/series/sheet", json={"folder": "series"})
    assert answer.status_code == 422
    assert answer.json() == {
        "error": "The request lacks something, or holds what can't be read.",
        "field": "",
    }
    lines = [{"row": "1", "file": 2, "values": []}]
    body = {"folder": "series", "version": "", "lines": lines}
    answer = user.post("/series/sheet", json=body)
    assert answer.status_code == 400
    assert "makes no sense" in answer.json()["error"]
