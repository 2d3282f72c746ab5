"""Changes one thing at a time in the code, and runs the tests that reach it; which changes survive?

    python tests/hardening/reach.py COPY TEST_FILE_OR_FOLDER...
    python tests/hardening/mutations.py COPY AREA COUNT [FIRST]

COPY is a copy of the project that nobody else uses; reach.py has to know its tests first, and they
are the ones that are run. Areas: see AREAS. Each change has a number, so that it can be made again;
one line for each, with the test that failed, and a last one with the counts. Only on POSIX: each
change is tried in a fork of a process in which the libraries are loaded already.
"""

from __future__ import annotations

import ast
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from reach import Reach, Runner, changed

AREAS = {
    "exposure": "exposure",
    "fit": "calibration/fit",
    "assemble": "calibration/assemble",
    "onset": "onset",
    "files": "files",
    "fleet": "fleet",
    "web": "web",
}
"""Area -> folder of the code."""

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

    def made(self) -> bytes:
        """Return the file with the change."""
        now = self.path.read_bytes()
        return now[: self.start] + self.new.encode() + now[self.end :]


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
        c for path in sorted((root / "profiler" / AREAS[area]).rglob("*.py")) for c in changes(path)
    ]
    random.Random(area).shuffle(found)
    return found[:count]


def attempt(runner: Runner, reach: Reach, change: Change) -> str:
    """Return "killed" with the test that failed, or "SURVIVED" with how many tests were run."""
    tests, import_only = reach.tests_of(change.path, change.line)
    started = time.monotonic()
    with changed(change.path, change.made()):
        ran, failure = runner.first_failure(reach, tests, change.path)
    took = f"{time.monotonic() - started:.0f} s"
    if failure is None:
        of = " of what imports it" if import_only else ""
        return f"SURVIVED {took}, {ran} of {len(tests)} tests{of}"
    test, why = failure
    if not runner.sound(test):
        return attempt(runner, reach, change)
    return f"killed {took} by {test.partition('::')[2] or test}: {why.splitlines()[0][:80]}"


def main() -> None:
    """Try what the command line asks for."""
    root, area, count = Path(sys.argv[1]).resolve(), sys.argv[2], int(sys.argv[3])
    first = int(sys.argv[4]) if len(sys.argv) > 4 else 0
    reach, runner = Reach.of(root), Runner(root)
    tally: Counter[str] = Counter()
    for number, change in list(enumerate(draw(root, area, first + count)))[first:]:
        line = change.path.read_text().splitlines()[change.line - 1].strip()
        became = attempt(runner, reach, change)
        tally[became.split()[0]] += 1
        where = f"{change.path.relative_to(root)}:{change.line}"
        old = change.path.read_bytes()[change.start : change.end].decode()
        print(f"{area} {number}: {where}: {old!r} -> {change.new!r} in {line}", flush=True)
        print(f"    {became}", flush=True)
    print(f"{area}: {dict(tally)}", flush=True)


if __name__ == "__main__":
    main()
