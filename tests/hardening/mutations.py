"""Changes one thing at a time in the code, runs the tests of its area, puts it back; who survives?

    python tests/hardening/mutations.py COPY AREA COUNT [FIRST]

COPY is a copy of the project that nobody else uses. Areas: see AREAS. Each change has a number, so
that it can be made again; one line for each, and a last one with the counts. Only on POSIX: each
change is tried in a fork of a process in which the libraries are loaded already.
"""

from __future__ import annotations

import ast
import os
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PATIENCE_S = 600
_FLEET = ("compare", "decide", "details", "drift", "find", "table", "batch", "fleet_record")
_WEB = (
    *("guard", "parts", "same_answers", "one_answer", "result_answer", "fleet_answers"),
    *("fleet_profiles", "fleet_same", "sliders", "carry", "escaping", "glossary", "follow"),
)
"""Those that are quick, and need no browser."""
_CALIBRATION = ("pipeline", "readings_and_drift", "saturation_budget", "series_tables", "mosaics")
AREAS = {
    "exposure": ("exposure", ["tests/exposure", "tests/reference/meters"]),
    "fit": ("calibration/fit", ["tests/calibration/fit", "tests/calibration/test_pipeline.py"]),
    "assemble": (
        "calibration/assemble",
        ["tests/calibration/assemble", *(f"tests/calibration/test_{n}.py" for n in _CALIBRATION)],
    ),
    "onset": ("onset", ["tests/onset"]),
    "files": ("files", ["tests/files", "tests/calibration/test_pipeline.py"]),
    "fleet": ("fleet", [f"tests/fleet/test_{name}.py" for name in _FLEET]),
    "web": ("web", [f"tests/web/test_{name}.py" for name in _WEB]),
}
"""Area -> folder of the code, and tests: those named like the changed file go first."""

_COMPARE = {
    ast.Lt: ("<", "<="), ast.LtE: ("<=", "<"), ast.Gt: (">", ">="), ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="), ast.Is: ("is", "is not"),
    ast.IsNot: ("is not", "is"), ast.In: ("in", "not in"), ast.NotIn: ("not in", "in"),
}  # fmt: skip
_ARITHMETIC = {
    ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"),
}  # fmt: skip


@dataclass(frozen=True)
class Change:
    """Bytes `start` to `end` of a file become `new`."""

    path: Path
    line: int
    start: int
    end: int
    new: str

    def apply(self) -> bytes:
        """Write the changed file; return what it was."""
        before = self.path.read_bytes()
        self.path.write_bytes(before[: self.start] + self.new.encode() + before[self.end :])
        return before


def changes(path: Path) -> Iterator[Change]:
    """Yield every change that can be made in a file, in its order."""
    text = path.read_bytes()
    offsets = [0]
    for line in text.splitlines(keepends=True):
        offsets.append(offsets[-1] + len(line))

    def at(line: int, column: int) -> int:
        return offsets[line - 1] + column

    def between(left: ast.expr, right: ast.expr, old: str, new: str) -> Iterator[Change]:
        low = at(left.end_lineno or 0, left.end_col_offset or 0)
        high = at(right.lineno, right.col_offset)
        place = text.find(old.encode(), low, high)
        if place >= 0:
            yield Change(path, left.lineno, place, place + len(old), new)

    def instead(node: ast.expr, new: str) -> Iterator[Change]:
        low = at(node.lineno, node.col_offset)
        high = at(node.end_lineno or 0, node.end_col_offset or 0)
        yield Change(path, node.lineno, low, high, new)

    def source(node: ast.expr) -> str:
        return ast.get_source_segment(text.decode(), node) or ""

    for node in _code(ast.parse(text)):
        if isinstance(node, ast.Compare) and len(node.ops) == 1:
            yield from between(node.left, node.comparators[0], *_COMPARE[type(node.ops[0])])
        elif isinstance(node, ast.BinOp) and type(node.op) in _ARITHMETIC:
            if not any(
                isinstance(x, ast.JoinedStr | ast.Constant)
                and isinstance(getattr(x, "value", ""), str)
                for x in (node.left, node.right)
            ):
                yield from between(node.left, node.right, *_ARITHMETIC[type(node.op)])
        elif isinstance(node, ast.BoolOp):
            old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            yield from between(node.values[0], node.values[1], old, new)
        elif isinstance(node, ast.If | ast.IfExp):
            yield from instead(node.test, f"not ({source(node.test)})")
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            swap = {"min": "max", "max": "min", "any": "all", "all": "any"}.get(node.func.id)
            if swap:
                yield from instead(node.func, swap)
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            yield from instead(node, str(not node.value))
        elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            more = node.value + 1 if isinstance(node.value, int) else node.value * 1.5 or 1.0
            yield from instead(node, repr(more))


def _code(tree: ast.AST) -> Iterator[ast.AST]:
    """Nodes of what runs: no annotations, nothing for type checkers alone."""
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list"):
            continue
        for node in value if isinstance(value, list) else [value]:
            if not isinstance(node, ast.AST):
                continue
            if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
                continue
            yield node
            yield from _code(node)


def draw(root: Path, area: str, count: int) -> list[Change]:
    """Return `count` changes of an area, spread over its files by their length."""
    found = [
        c
        for path in sorted((root / "profiler" / AREAS[area][0]).rglob("*.py"))
        for c in changes(path)
    ]
    random.Random(area).shuffle(found)
    return found[:count]


def tests_of(root: Path, area: str, path: Path) -> list[list[str]]:
    """Return the tests to run one after the other until one fails: nearest first."""
    words = {word for word in path.stem.split("_") if len(word) > 3} | {path.stem}
    places = [root / place for place in AREAS[area][1]]
    files = [f for p in places for f in (sorted(p.rglob("test_*.py")) if p.is_dir() else [p])]
    near = [f for f in files if any(word in f.stem for word in words)]
    return [[str(f) for f in part] for part in (near, [f for f in files if f not in near]) if part]


def attempt(root: Path, area: str, change: Change) -> str:
    """Return "killed" or "survived", with the seconds that it took."""
    started = time.monotonic()
    before = change.apply()
    try:
        for files in tests_of(root, area, change.path):
            if _fails(root, files):
                return f"killed {time.monotonic() - started:.0f} s"
        return f"SURVIVED {time.monotonic() - started:.0f} s"
    finally:
        change.path.write_bytes(before)


def _fails(root: Path, files: list[str]) -> bool:
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        nothing = os.open(os.devnull, os.O_RDWR)
        for descriptor in (0, 1, 2):
            os.dup2(nothing, descriptor)
        import pytest

        os._exit(int(pytest.main(["-x", "-q", "-n", "0", "-p", "no:cacheprovider", *files])))
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return status != 0
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return True  # it hangs


def main() -> None:
    """Try what the command line asks for."""
    root, area, count = Path(sys.argv[1]).resolve(), sys.argv[2], int(sys.argv[3])
    first = int(sys.argv[4]) if len(sys.argv) > 4 else 0
    os.chdir(root)
    sys.path.insert(0, str(root))
    import click  # noqa: F401
    import numpy  # noqa: F401
    import pytest  # noqa: F401
    import scipy.stats  # noqa: F401

    assert "profiler" not in sys.modules
    tally: Counter[str] = Counter()
    whole = tests_of(root, area, root / "none.py")
    broken = any(_fails(root, part) for part in whole)
    if broken:
        sys.exit(f"{area}: its tests fail before anything is changed")
    for number, change in list(enumerate(draw(root, area, first + count)))[first:]:
        line = change.path.read_text().splitlines()[change.line - 1].strip()
        became = attempt(root, area, change)
        tally[became.split()[0]] += 1
        where = f"{change.path.relative_to(root)}:{change.line}"
        old = change.path.read_bytes()[change.start : change.end].decode()
        print(
            f"{area} {number}: {became}: {where}: {old!r} -> {change.new!r} in {line}", flush=True
        )
    print(f"{area}: {dict(tally)}", flush=True)


if __name__ == "__main__":
    main()
