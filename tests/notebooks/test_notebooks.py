"""The lessons are executed as they stand; what they print is held against a list."""

from __future__ import annotations

import ast
import base64
import json
import os
import re
import sys
import tempfile
import warnings
from pathlib import Path

import pytest

REPO = Path(__file__).resolve().parents[2]
LESSONS = sorted((REPO / "notebooks").glob("*.ipynb"))
EXPECTED = json.loads(Path(__file__).with_name("expected.json").read_text(encoding="utf-8"))
PNG_HEAD = b"\x89PNG\r\n\x1a\n"

# what may end an axis label, and how the lesson's own list of units names it
UNITS = ("EV", "DN", "DN²", "s", "%", "f-number")
UNITLESS = ("number", "times", "pure number", "share per EV")

# runs a kernel that can't leave the machine
LAUNCHER = """
import sys

def refuse(event, args):
    if event == "socket.getaddrinfo":
        raise RuntimeError(f"a lesson asked for the address of {args[0]!r}")
    if event in ("socket.connect", "socket.sendto") and isinstance(args[1], tuple):
        if not str(args[1][0]).startswith(("127.", "::1")):
            raise RuntimeError(f"a lesson reached for {args[1]!r}")

sys.addaudithook(refuse)
from ipykernel import kernelapp

kernelapp.launch_new_instance()
"""


def parse(path: Path):
    import nbformat

    return nbformat.read(path, as_version=4)


def python(cell) -> ast.Module:
    lines = [line for line in cell.source.splitlines() if not line.startswith("%")]
    return ast.parse("\n".join(lines))


def code_cells(path: Path):
    return [cell for cell in parse(path).cells if cell.cell_type == "code"]


def run(notebook, folder: Path, name: str = "python3"):
    """Execute a notebook in place, in a kernel of this interpreter that nobody has to install."""
    kernel = folder / "share" / "kernels" / name
    kernel.mkdir(parents=True)
    launcher = folder / "launch.py"
    launcher.write_text(LAUNCHER, encoding="utf-8")
    argv = [sys.executable, str(launcher), "-f", "{connection_file}"]
    spec = {"argv": argv, "display_name": name, "language": "python"}
    (kernel / "kernel.json").write_text(json.dumps(spec), encoding="utf-8")
    work = folder / "work"
    work.mkdir()
    env = {
        "JUPYTER_PATH": str(folder / "share"),
        "JUPYTER_RUNTIME_DIR": str(folder / "run"),
        "JUPYTER_CONFIG_DIR": str(folder / "config"),
        "JUPYTER_DATA_DIR": str(folder / "data"),
        "IPYTHONDIR": str(folder / "ipython"),
        "MPLCONFIGDIR": str(folder / "mpl"),
        "GREYTARE_CACHE": str(folder / "cache"),
        "PYDEVD_DISABLE_FILE_VALIDATION": "1",
        "PYTHONPATH": os.pathsep.join([str(REPO), os.environ.get("PYTHONPATH", "")]),
    }
    with pytest.MonkeyPatch.context() as patch:
        for key, value in env.items():
            patch.setenv(key, value)
        patch.delenv("MPLBACKEND", raising=False)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # jupyter's and zeromq's own, not ours
            from jupyter_client.manager import AsyncKernelManager
            from nbclient import NotebookClient

            manager = AsyncKernelManager(kernel_name=name)
            if os.name == "posix":  # no ports, so two workers can't pick the same
                manager.transport, manager.ip = "ipc", str(folder / "k")
            client = NotebookClient(
                notebook,
                km=manager,
                timeout=120,
                resources={"metadata": {"path": str(work)}},
            )
            client.execute()
    return notebook


@pytest.fixture
def short_folder():
    """A folder with a short name: that of a socket may have about a hundred letters."""
    with tempfile.TemporaryDirectory(prefix="lesson", ignore_cleanup_errors=True) as name:
        yield Path(name)


def printed(cell) -> str:
    return "".join(o.text for o in cell.outputs if o.output_type == "stream" and o.name == "stdout")


def complaints(cell) -> str:
    return "".join(o.text for o in cell.outputs if o.output_type == "stream" and o.name == "stderr")


def pictures(cell) -> list[bytes]:
    shown = [o.data for o in cell.outputs if o.output_type in ("display_data", "execute_result")]
    return [base64.b64decode(data["image/png"]) for data in shown if "image/png" in data]


def test_seven_lessons_in_order():
    assert [path.name[:3] for path in LESSONS] == [f"{n:02}_" for n in range(1, 8)]
    assert [path.stem for path in LESSONS] == list(EXPECTED)
    index = (REPO / "notebooks" / "README.md").read_text(encoding="utf-8")
    for path in LESSONS:
        assert f"({path.name})" in index


# jupyter and zeromq leave sockets to the garbage collector, which speaks up after the block
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_runs_and_prints(path, short_folder):
    notebook = run(parse(path), short_folder)
    cells = {cell.id: cell for cell in notebook.cells if cell.cell_type == "code"}
    for name, texts in EXPECTED[path.stem].items():
        for text in texts:
            assert text in printed(cells[name]), f"{name} printed:\n{printed(cells[name])}"
    for name, cell in cells.items():
        assert complaints(cell) == "", name
        if printed(cell):
            assert name in EXPECTED[path.stem], f"what {name} prints is not checked"
        shown = pictures(cell)
        assert all(len(png) > 5000 and png.startswith(PNG_HEAD) for png in shown)
        assert len(shown) == int(name.startswith("picture")), name


@pytest.mark.filterwarnings("ignore")
def test_folded_answers_are_the_answers(short_folder):
    import nbformat

    notebook = parse(REPO / "notebooks" / "06_find_the_fault.ipynb")
    folded = next(cell.source for cell in notebook.cells if "<details>" in cell.source)
    answers = re.findall(r"\* \*\*([A-F]): ([a-z-]+)\.\*\*", folded)
    cells = {cell.id: cell for cell in notebook.cells}
    ask = nbformat.v4.new_code_cell('print(dict(zip("ABCDEF", map(str, order))))')
    build = cells["brackets"].source.splitlines()[0]
    only = nbformat.v4.new_code_cell(build)
    notebook.cells = [cells["setup"], cells["suspects"], only, ask]
    run(notebook, short_folder)
    assert ast.literal_eval(printed(ask)) == dict(answers)
    assert len(answers) == 6


@pytest.mark.filterwarnings("ignore")
def test_a_lesson_that_leaves_the_machine_fails(short_folder):
    import nbformat
    from nbclient.exceptions import CellExecutionError

    reach = "import socket\nsocket.create_connection(('192.0.2.1', 80), timeout=1)"
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(reach)])
    with pytest.raises(CellExecutionError, match="a lesson (asked for|reached for)"):
        run(notebook, short_folder)


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
            assert bracket and bracket.startswith(UNITLESS), label


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


@pytest.mark.parametrize(
    ("number", "words"),
    [(1, "sun"), (3, "hot lamp"), (7, "capacitor"), (7, "hot lamps")],
)
def test_cautions(number, words):
    first = parse(LESSONS[number - 1]).cells[0].source
    assert words in next(line for line in first.splitlines() if line.startswith("**Take care:**"))
