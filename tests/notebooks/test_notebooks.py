"""The lessons are executed as they stand; what they print is held against a list."""

from __future__ import annotations

import ast
import base64
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

REPO = Path(__file__).resolve().parents[2]
LESSONS = sorted((REPO / "notebooks").glob("*.ipynb"))
EXPECTED = json.loads(Path(__file__).with_name("expected.json").read_text(encoding="utf-8"))
RUNNER = str(Path(__file__).with_name("run_lesson.py"))
PNG_HEAD = b"\x89PNG\r\n\x1a\n"

# what may end an axis label, and how the lesson's own list of units names it
UNITS = ("EV", "DN", "DN²", "s", "%", "f-number")
UNITLESS = ("number", "times", "pure number", "share per EV")


def parse(path: Path):
    import nbformat

    return nbformat.read(path, as_version=4)


def python(cell) -> ast.Module:
    lines = [line for line in cell.source.splitlines() if not line.startswith("%")]
    return ast.parse("\n".join(lines))


def code_cells(path: Path):
    return [cell for cell in parse(path).cells if cell.cell_type == "code"]


def run(notebook) -> tuple[dict, str]:
    """Cells of the executed notebook by their id, or what went wrong."""
    import nbformat

    with tempfile.TemporaryDirectory(prefix="lesson", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        before, after = folder / "before.ipynb", folder / "after.ipynb"
        nbformat.write(notebook, before)
        words = [sys.executable, RUNNER, str(before), str(after), name]
        done = subprocess.run(words, capture_output=True, text=True, timeout=180, check=False)
        if done.returncode:
            return {}, done.stderr
        return {cell.id: cell for cell in parse(after).cells}, ""


def printed(cell) -> str:
    return "".join(o.text for o in cell.outputs if o.output_type == "stream" and o.name == "stdout")


def complaints(cell) -> str:
    return "".join(o.text for o in cell.outputs if o.output_type == "stream" and o.name == "stderr")


def pictures(cell) -> list[bytes]:
    shown = [o.data for o in cell.outputs if o.output_type in ("display_data", "execute_result")]
    return [base64.b64decode(data["image/png"]) for data in shown if "image/png" in data]


def described(cell) -> list[str]:
    """What pictures show, in words for those who can't see them."""
    shown = [o.data for o in cell.outputs if o.output_type in ("display_data", "execute_result")]
    return [words for data in shown for words in re.findall(r'alt="(.+?)"', data["text/html"])]


def test_eight_lessons_in_order():
    assert [path.name[:3] for path in LESSONS] == [f"{n:02}_" for n in range(1, 9)]
    assert [path.stem for path in LESSONS] == list(EXPECTED)
    index = (REPO / "notebooks" / "README.md").read_text(encoding="utf-8")
    for path in LESSONS:
        assert f"({path.name})" in index


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_runs_and_prints(path):
    everything, error = run(parse(path))
    assert error == ""
    cells = {name: cell for name, cell in everything.items() if cell.cell_type == "code"}
    for name, texts in EXPECTED[path.stem].items():
        for text in texts:
            assert text in printed(cells[name]), f"{name} printed:\n{printed(cells[name])}"
    for name, cell in cells.items():
        assert complaints(cell) == "", name
        if printed(cell):
            assert name in EXPECTED[path.stem], f"what {name} prints is not checked"
        shown = pictures(cell)
        assert all(len(words.split()) > 10 for words in described(cell)), name
        assert len(described(cell)) == len(shown), f"{name}: a picture without words"
        assert all(len(png) > 5000 and png.startswith(PNG_HEAD) for png in shown)
        assert len(shown) == int(name.startswith("picture")), name


def test_folded_answers_are_the_answers():
    import nbformat

    notebook = parse(REPO / "notebooks" / "06_find_the_fault.ipynb")
    folded = next(cell.source for cell in notebook.cells if "<details>" in cell.source)
    answers = re.findall(r"<li><b>([A-F]): ([a-z-]+)\.</b>", folded)
    cells = {cell.id: cell for cell in notebook.cells}
    ask = nbformat.v4.new_code_cell('print(dict(zip("ABCDEF", map(str, order))))')
    build = cells["brackets"].source.splitlines()[0]
    only = nbformat.v4.new_code_cell(build)
    notebook.cells = [cells["setup"], cells["suspects"], only, ask]
    done, error = run(notebook)
    assert error == ""
    assert ast.literal_eval(printed(done[ask.id])) == dict(answers)
    assert len(answers) == 6


@pytest.mark.parametrize(
    ("reach", "refusal"),
    [
        ("socket.socket().connect(('192.0.2.1', 80))", "a lesson reached for"),
        ("socket.create_connection(('example.org', 80))", "a lesson asked for"),
    ],
)
def test_a_lesson_that_leaves_the_machine_fails(reach, refusal):
    import nbformat

    cell = nbformat.v4.new_code_cell(f"import socket\n{reach}")
    _, error = run(nbformat.v4.new_notebook(cells=[cell]))
    assert refusal in error


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_defines_no_machinery(path):
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)
    for cell in code_cells(path):
        assert not [n for n in ast.walk(python(cell)) if isinstance(n, kinds)], cell.id
        assert len(cell.source.splitlines()) <= 36, f"{cell.id} is too long to be read"


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_needs_nothing_from_outside(path):
    allowed = {"math", "dataclasses", "numpy", "matplotlib", "profiler"}
    for cell in code_cells(path):
        for node in ast.walk(python(cell)):
            if isinstance(node, ast.Import):
                assert {a.name.split(".")[0] for a in node.names} <= allowed
            if isinstance(node, ast.ImportFrom):
                assert node.module.split(".")[0] in allowed
        assert re.findall(r"^[!%].*", cell.source, flags=re.M) in ([], ["%matplotlib inline"])
        assert "://" not in cell.source
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"(/home/|/tmp/|/Users/|/work/|[A-Z]:\\\\)", text)
    assert "![" not in "".join(c.source for c in parse(path).cells if c.cell_type == "markdown")


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_is_kept_clean(path):
    import nbformat

    notebook = parse(path)
    nbformat.validate(notebook)
    assert notebook.nbformat == 4
    assert notebook.metadata.kernelspec.name == "python3"
    assert set(notebook.metadata) == {"kernelspec", "language_info"}
    for cell in notebook.cells:
        assert not cell.metadata
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_names_its_units(path):
    notebook = parse(path)
    first = notebook.cells[0].source
    listed = next(line for line in first.splitlines() if line.startswith("**Units:**"))
    labels = []
    for cell in code_cells(path):
        for node in ast.walk(python(cell)):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
                continue
            if node.func.attr in ("set_xlabel", "set_ylabel", "supxlabel", "supylabel"):
                labels.append(node.args[0].value)
    assert labels
    for label in labels:
        plain, bracket = re.fullmatch(
            r"([^(]*?)(?: \((.*)\))?", label.replace(" (right)", "")
        ).groups()
        unit = plain.rpartition(", ")[2]
        if unit in UNITS:
            assert re.search(rf"(?<!\w){re.escape(unit)}(?!\w)", listed), f"{unit} isn't listed"
        else:
            assert (bracket or "").startswith(UNITLESS), label


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_goes_from_ideal_to_real(path):
    headings = re.findall(
        r"^## (.*)$",
        "\n".join(c.source for c in parse(path).cells if c.cell_type == "markdown"),
        flags=re.M,
    )
    places = [
        next(i for i, heading in enumerate(headings) if heading.startswith(start))
        for start in ("Ideal", "Real", "What changes when the real world comes in", "Try it")
    ]
    assert places == sorted(places)


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_exercises_name_a_heading_and_have_hint_and_answer(path):
    cells = parse(path).cells
    text = "\n".join(c.source for c in cells if c.cell_type == "markdown")
    headings = set(re.findall(r"^##+ (.*)$", text, flags=re.M))
    tries = text[text.index("## Try it") : text.index("## Worked answers")]
    exercises = re.split(r"^\d+\. ", tries, flags=re.M)[1:]
    assert len(exercises) >= 3
    for exercise in exercises:
        named = re.match(r'\*\*Under "(.*?)[:"]*:\*\*', exercise)
        assert named, exercise
        assert named[1] in headings
        assert "<summary>Hint</summary>" in exercise
    # every answer is computed by the cells at the end
    last = next(i for i, cell in enumerate(cells) if "## Worked answers" in cell.source)
    told = {int(n) for cell in cells[last + 1 :] for n in re.findall(r'"(\d)\. ', cell.source)}
    assert told == set(range(1, len(exercises) + 1))


@pytest.mark.parametrize(
    ("number", "words"),
    [(1, "sun"), (3, "hot lamp"), (7, "capacitor"), (7, "hot lamps"), (8, "mains")],
)
def test_cautions(number, words):
    first = parse(LESSONS[number - 1]).cells[0].source
    assert words in next(line for line in first.splitlines() if line.startswith("**Take care:**"))
