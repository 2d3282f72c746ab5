"""Swaps words in the sentences of show/ one at a time; at least one test has to turn red.

    python tests/hardening/sentences.py [PART_OF_A_PATH [TEST]...]

Each swap is made in a copy of the tree, and the tests of its place run there: more for less, at
least for at most, above for below, one channel for another. Prints the swaps that no test saw.
"""

from __future__ import annotations

import ast
import contextlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SWAPS = {
    "more": "less", "less": "more", "at least": "at most", "at most": "at least",
    "above": "below", "below": "above", "red": "green", "green": "blue", "blue": "red",
}  # fmt: skip
WORD = re.compile(rf"\b({'|'.join(SWAPS)})\b", re.IGNORECASE)
ALWAYS = ("tests/onset/test_sentences.py", "tests/show/test_words.py", "tests/onset/test_words.py")
RESULT = ("tests/show/test_card.py", "tests/show/test_rests.py", "tests/web/test_result_answer.py")
TESTS = {
    "show/onset": ("tests/onset/test_scale.py", "tests/onset/test_check.py"),
    "show/fleet/two": ("tests/fleet/test_two.py",),
    "show/fleet": ("tests/fleet/test_*record*.py", "tests/fleet/test_[cd][!l]*.py",
                   "tests/fleet/test_fleet_plots.py", "tests/web/test_fleet_answers.py"),
    "show/calibration/steps": ("tests/calibration/test_*step*.py", "tests/onset/test_*step*.py"),
    "show/calibration/lesson": ("tests/web/test_parts.py",),
    "show/plots": ("tests/show/test_plots.py",),
    "show/report": ("tests/show/test_report.py",),
    "show/instruments": ("tests/calibration/test_*instrument*.py", "tests/cli/test_*.py"),
    "show/lenses": ("tests/*/test_*lens*.py",),
    "show/development": ("tests/onset/test_development.py",),
    "show/hidden": ("tests/*/test_*hidden*.py",),
    "show/follow": ("tests/follow/test_*.py",),
    "show/": (*RESULT, "tests/show/test_report.py", "tests/web/test_glossary.py"),
}  # fmt: skip
"""Part of the package -> the tests that read its sentences."""


@dataclass(frozen=True)
class Swap:
    """One word in one sentence: where it stands, and the word in its place."""

    path: Path
    start: int
    end: int
    word: str

    @property
    def other(self) -> str:
        """The word that takes its place, capital where it was one."""
        other = SWAPS[self.word.lower()]
        return other.capitalize() if self.word[0].isupper() else other


def swaps(path: Path) -> Iterator[Swap]:
    """Yield each word to swap in the texts of a module, docstrings left alone."""
    source = path.read_text(encoding="utf-8")
    lines = [0]
    for line in source.splitlines(keepends=True):
        lines.append(lines[-1] + len(line))
    tree = ast.parse(source)
    loose = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in loose:
            start = _place(source, lines, node.lineno, node.col_offset)
            end = _place(source, lines, node.end_lineno, node.end_col_offset)
            for found in WORD.finditer(source, start, end):
                yield Swap(path, found.start(), found.end(), found[0])


def _place(source: str, lines: list[int], line: int, column: int) -> int:
    """A line with a column in bytes of UTF-8 as a place in the text."""
    text = source[lines[line - 1] : lines[line]]
    return lines[line - 1] + len(text.encode()[:column].decode(errors="ignore"))


def tests_of(place: Path) -> list[str]:
    """Return the tests that read the sentences of a module, as paths below the tree."""
    name = place.as_posix()
    patterns = next(tests for part, tests in TESTS.items() if part in name)
    found = [path for pattern in (*ALWAYS, *patterns) for path in sorted(ROOT.glob(pattern))]
    return list(dict.fromkeys(path.relative_to(ROOT).as_posix() for path in found))


def red(tree: Path, tests: list[str]) -> bool:
    """Return whether a test fails in a copy of the tree; run in a process of its own."""
    child = os.fork()
    if child == 0:
        import pytest

        os.chdir(tree)
        sys.path.insert(0, str(tree))
        sys.dont_write_bytecode = True
        with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(nowhere):
            words = ["-n", "0", "-x", "-q", "-p", "no:cacheprovider", *tests]
            code = pytest.main(words)
        os._exit(int(code))
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) != 0


def main(part: str = "", *chosen: str) -> int:
    """Try every swap, print those that no test saw, and the count."""
    import jinja2, matplotlib.figure, msgspec, numpy, pandas, pytest  # noqa: F401, E401, I001

    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\0")
    seen, unseen = 0, []
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder)
        for name in filter(None, listed):
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / name, tree / name)
        clean: set[tuple[str, ...]] = set()
        for path in sorted((ROOT / "profiler" / "show").rglob("*.py")):
            place = path.relative_to(ROOT)
            if part not in place.as_posix():
                continue
            source, tests = path.read_text(encoding="utf-8"), list(chosen) or tests_of(place)
            found = list(swaps(path))
            if found and tuple(tests) not in clean:
                if red(tree, tests):
                    raise SystemExit(f"red before any swap: {' '.join(tests)}")
                clean.add(tuple(tests))
            for swap in found:
                changed = source[: swap.start] + swap.other + source[swap.end :]
                (tree / place).write_text(changed, encoding="utf-8")
                if red(tree, tests):
                    seen += 1
                else:
                    line = source.count("\n", 0, swap.start) + 1
                    unseen.append(f"{place}:{line}: {swap.word} -> {swap.other}")
                    print(unseen[-1], flush=True)
            (tree / place).write_text(source, encoding="utf-8")
    print(f"{seen} of {seen + len(unseen)} swaps turned a test red")
    return 1 if unseen else 0


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
