"""A class of five on loopback: who sees what, and that nothing else of the machine is reached."""

from __future__ import annotations

import contextlib
import csv
import io
import sys
from pathlib import Path

import httpx
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from class_runs import Student, class_of, student_links

from profiler.show.hidden import CLUES, size_words
from profiler.simulate.hidden import KINDS, class_seeds, hide

SEED, STUDENTS = 7, 5


@pytest.fixture(scope="module")
def link():
    with class_of(STUDENTS, SEED) as served:
        yield served


@pytest.fixture(scope="module")
def base(link):
    return link.split("/?")[0]


@contextlib.contextmanager
def client_of(base, link):
    headers = {"Origin": base}
    with httpx.Client(base_url=base, headers=headers, follow_redirects=True, timeout=30) as client:
        assert client.get(link).status_code == 200
        yield client


@pytest.fixture(scope="module")
def teacher(base, link):
    with client_of(base, link) as client:
        yield client


@pytest.fixture(scope="module")
def links(teacher):
    found = student_links(teacher)
    assert len(set(found)) == STUDENTS
    return found


def test_nobody_comes_in_without_a_link(base):
    with httpx.Client(base_url=base) as anyone:
        for path in ("/", "/teach", "/links", "/answers.csv", "/state", "/static/style.css"):
            assert anyone.get(path).status_code == 403
        assert anyone.get("/", params={"token": "guessed"}).status_code == 403


def test_student_reaches_the_task_and_the_sliders_and_nothing_else(base, links):
    with client_of(base, links[0]) as student:
        assert student.get("/teach").status_code == 200
        for path in (
            *("/series", "/result", "/onset/settings", "/plan", "/fleet/table", "/series/follow"),
            *("/teach/find?seed=1&told=1", "/links", "/answers.csv", "/docs", "/openapi.json"),
        ):
            assert student.get(path).status_code == 404, path
        assert student.post("/tell").status_code == 404
        elsewhere = {"Origin": "http://elsewhere.example"}
        assert student.post("/answer", headers=elsewhere).status_code == 403


def test_class_from_first_link_to_the_truth(base, teacher, links):
    told = [hide(seed) for seed in class_seeds(SEED, STUDENTS)]
    pages = []
    for each in links:
        with client_of(base, each) as student:
            pages.append(student.get("/").text)
    assert len(set(pages)) == STUDENTS  # a series for each
    for page, hidden in zip(pages, told, strict=True):
        assert str(hidden.seed) not in page
        assert all(clue.seen not in page for clue in CLUES.values())
    assert "0 of 5 have answered, 5 are here." in teacher.get("/").text
    with client_of(base, links[0]) as student:
        right = {f"size-{name}": "" for name in CLUES}
        right |= {f"size-{name}": f"{nearest(name, size):g}" for name, size in told[0].faults}
        assert "Your answer is in." in student.post("/answer", data=right).text
        wrong = student.post("/answer", data={"size-knee": "17"})
        assert "isn&#39;t a size of the list" in wrong.text
        assert "Your answer is in." in wrong.text
        assert student.get("/", params={"flags": "1"}).status_code == 200
    said = teacher.get("/").text
    assert "1 of 5 have answered" in said
    assert "answered, flags on" in said
    assert all(clue.name not in said for clue in CLUES.values())
    teacher.post("/tell")
    with client_of(base, links[0]) as student:
        page = student.get("/").text
        many = len(told[0].faults)
        sized = f"{many} size{'s' if many > 1 else ''} right"
        assert f"{many} of {many} fault{'s' if many > 1 else ''} found, {sized}." in page
        assert CLUES[told[0].faults[0][0]].seen.split(";")[0] in page.replace("&#39;", "'")
        other = next(name for name in CLUES if name not in dict(told[0].faults))
        student.post("/answer", data={f"size-{other}": f"{KINDS[other].choices[0]:g}"})
    rows = list(csv.DictReader(io.StringIO(teacher.get("/answers.csv").text)))
    assert [row["answered"] for row in rows] == ["yes", "no", "no", "no", "no"]
    assert rows[0]["found"] == f"{many} of {many}"  # what came after the truth doesn't count
    said = teacher.get("/").text
    assert "1 of 5 answered; 1 found all of theirs." in said
    for hidden in told:
        name, size = hidden.faults[0]
        assert f"{CLUES[name].name}: {size_words(name, size)}" in said


def nearest(name, size):
    return KINDS[name].nearest(size)


def test_students_act_at_once_and_none_is_refused(base, links):
    students = [Student(base, each, 3.0, n) for n, each in enumerate(links)]
    for student in students:
        student.start()
    for student in students:
        student.join()
    assert [each for student in students for each in student.failures] == []
    assert all(student.waits["open the task"] for student in students)


@pytest.mark.parametrize("tab", [{"phone": True}, {"dark": True}], indirect=True)
def test_pages_of_a_class(tab, base, link, links, check_page):
    page = tab.page
    for path in (links[1], f"{base}/teach"):
        page.goto(path)
        page.wait_for_load_state("networkidle")
        check_page(page, path)
    tab.context.clear_cookies()
    for path in (link, f"{base}/links"):
        page.goto(path)
        check_page(page, path)
    assert tab.faults == []
