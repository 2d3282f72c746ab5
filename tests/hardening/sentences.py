"""Swaps words in the sentences of show/ one at a time; at least one test has to turn red.

    python tests/hardening/reach.py COPY TEST_FILE_OR_FOLDER...
    python tests/hardening/sentences.py COPY [PART_OF_A_PATH]

COPY is a copy of the project that nobody else uses; reach.py has to know its tests first. More
for less, at least for at most, above for below, one channel for another: each swap is made in the
copy, and the tests that reach its line are run there. Prints the swaps that no test saw.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from reach import Reach, Runner, Test, changed

SWAPS = {
    "more": "less", "less": "more", "at least": "at most", "at most": "at least",
    "above": "below", "below": "above", "red": "green", "green": "blue", "blue": "red",
    "higher": "lower", "lower": "higher", "longer": "shorter", "shorter": "longer",
    "brighter": "darker", "darker": "brighter", "before": "after", "after": "before",
}  # fmt: skip
WORD = re.compile(rf"(?<!-)\b({'|'.join(SWAPS)})\b(?! left| right|-)", re.IGNORECASE)
"""No corner of a picture, no property of a style sheet."""


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

    def made(self, source: str) -> str:
        """Return a source with the word swapped."""
        return source[: self.start] + self.other + source[self.end :]


def swaps(path: Path) -> Iterator[Swap]:
    """Yield each word to swap in the texts of a module, docstrings left alone, or of a template."""
    source = path.read_text(encoding="utf-8")
    code = path.suffix == ".py"
    texts, names = _apart(source) if code else ([], "")
    for found in WORD.finditer(source):
        swap = Swap(path, found.start(), found.end(), found[0])
        if not code:
            yield swap
        else:
            try:
                new_texts, new_names = _apart(swap.made(source))
            except SyntaxError:
                continue
            if new_names == names and new_texts != texts:
                yield swap


def _apart(source: str) -> tuple[list[str], str]:
    """Return the texts that a module holds, and all the rest of it."""
    tree, texts = ast.parse(source), []
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            node.value = ast.Constant("")
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            texts.append(node.value)
            node.value = ""
    return texts, ast.dump(tree)


def tests_of(reach: Reach, swap: Swap, line: int) -> list[Test]:
    """Return the tests that reach a word; of a template, those of the module that fills it."""
    if swap.path.suffix == ".py":
        return reach.tests_of(swap.path, line)[0]
    name = f'"{swap.path.name}"'
    show = swap.path.parents[1]
    fills = [m for m in show.rglob("*.py") if name in m.read_text(encoding="utf-8")]
    modules = [m.relative_to(reach.root).as_posix() for m in fills]
    return [t for t in reach.tests if any(reach.runs(t, m, None) for m in modules)]


def unseen(reach: Reach, runner: Runner, swap: Swap) -> str:
    """Return "" where a test sees a swap, else what was run."""
    source = swap.path.read_text(encoding="utf-8")
    tests = tests_of(reach, swap, source.count("\n", 0, swap.start) + 1)
    with changed(swap.path, swap.made(source).encode()):
        ran, failure = runner.first_failure(reach, tests, swap.path)
    if failure is None:
        return f"{ran} of {len(tests)} tests"
    return "" if runner.sound(failure[0]) else unseen(reach, runner, swap)


def main(copy: str, part: str = "") -> int:
    """Try every swap, print those that no test saw, and the count."""
    root = Path(copy).resolve()
    reach, runner = Reach.of(root), Runner(root)
    tried = missed = 0
    show = root / "profiler" / "show"
    for path in sorted([*show.rglob("*.py"), *show.rglob("*.html")]):
        place = path.relative_to(root).as_posix()
        if part not in place:
            continue
        for swap in swaps(path):
            tried += 1
            source = path.read_text(encoding="utf-8")
            if ran := unseen(reach, runner, swap):
                missed += 1
                line = source.count("\n", 0, swap.start) + 1
                text = source.splitlines()[line - 1].strip()
                print(f"{place}:{line}: {swap.word} -> {swap.other} ({ran}) in {text}", flush=True)
    print(f"{tried - missed} of {tried} swaps turned a test red")
    return 1 if missed else 0


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
