"""An HTML page taken apart: headings, tables, ids, addresses."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser


@dataclass
class Grid:
    """A table: caption, head, rows of the cells' texts."""

    caption: str = ""
    rows: list[list[str]] = field(default_factory=list)
    scopes: list[str | None] = field(default_factory=list)


class Page(HTMLParser):
    """What a page holds, in the order of its text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.headings: list[tuple[int, str, str]] = []
        self.grids: dict[str, Grid] = {}
        self.ids: list[str] = []
        self.refers: list[str] = []
        self.tags: list[str] = []
        self.sources: list[str] = []
        self.words: list[str] = []
        self._grid = Grid()
        self._open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        self.tags.append(tag)
        self._open.append(tag)
        if values.get("id"):
            self.ids.append(values["id"])
        self.refers += [values[n] for n in ("aria-labelledby", "aria-describedby") if n in values]
        address = values.get("href") or values.get("src")
        if address:
            self.sources.append(address)
        if tag in ("h1", "h2", "h3", "h4"):
            self.headings.append((int(tag[1]), values.get("id", ""), ""))
        if tag == "table":
            self._grid = self.grids[values.get("id", f"table-{len(self.grids)}")] = Grid()
        if tag == "tr":
            self._grid.rows.append([])
        if tag in ("td", "th"):
            self._grid.rows[-1].append("")
            if tag == "th":
                self._grid.scopes.append(values.get("scope"))

    def handle_endtag(self, tag):
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data):
        if "style" in self._open:
            return
        text = " ".join(data.split())
        if not text:
            return
        self.words.append(text)
        if self._open and self._open[-1] in ("h1", "h2", "h3", "h4"):
            level, id, before = self.headings[-1]
            self.headings[-1] = (level, id, before + text)
        if "caption" in self._open:
            self._grid.caption += text
        elif ("td" in self._open or "th" in self._open) and "svg" not in self._open:
            self._grid.rows[-1][-1] = f"{self._grid.rows[-1][-1]} {text}".strip()

    @property
    def text(self) -> str:
        """All that can be read, in one line."""
        return " ".join(self.words)
