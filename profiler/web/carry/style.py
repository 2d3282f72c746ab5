"""The page's style without the rules that another page doesn't use."""

from __future__ import annotations

import re
from typing import Final

_RULE: Final = re.compile(r"([^{}]+)\{([^{}]*)\}")
_BLOCK: Final = re.compile(r"(@media[^{]+)\{((?:[^{}]+\{[^{}]*\}\s*)*)\}")


def slim(sheet: str, used: str) -> str:
    """Return a style sheet without the selectors whose classes and ids no word of `used` is.

    >>> slim("a { x: y } .gone, .kept b { x: y }", "class='kept'")
    'a{x: y}.kept b{x: y}'
    """
    words = set(re.findall(r"[\w-]+", used))
    plain = re.sub(r"/\*.*?\*/", "", sheet, flags=re.S)
    parts, end = [], 0
    for block in _BLOCK.finditer(plain):
        parts.append(_rules(plain[end : block.start()], words))
        inside = _rules(block[2], words)
        if inside:
            parts.append(f"{block[1].strip()}{{{inside}}}")
        end = block.end()
    return "".join([*parts, _rules(plain[end:], words)])


def _rules(text: str, words: set[str]) -> str:
    kept = []
    for selectors, body in _RULE.findall(text):
        shown = [
            selector.strip()
            for selector in selectors.split(",")
            if set(re.findall(r"[.#]([\w-]+)", selector)) <= words
        ]
        if shown:
            kept.append(f"{','.join(shown)}{{{' '.join(body.split())}}}")
    return "".join(kept)
