"""Figures as SVG for a page or as files."""

from __future__ import annotations

import base64
import hashlib
import io
import re
import threading
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SVG = "{http://www.w3.org/2000/svg}"
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_LINK = "{http://www.w3.org/1999/xlink}href"
_LOCK = threading.Lock()  # matplotlib's settings are shared by all threads
_FONTS = "system-ui, 'Segoe UI', 'Liberation Sans', 'DejaVu Sans', Arial, sans-serif"
_KINDS = ("png", "pdf", "svg")


def figure_svg(figure: Figure, prefix: str = "", words: str = "") -> str:
    """Return a figure as an SVG element to stand inside a page; same figure, same text.

    Every id begins with `prefix` (a hash of the picture without one), so that several stand in one
    page; words: what it shows, for those who can't see it. Colours are attributes of their
    elements, without a style sheet, so that the page's own can turn them for a dark screen.
    """
    root = ElementTree.fromstring(_bytes(figure, "svg", "none"))
    _strip(root)
    _number_ids(root)
    if not prefix:
        prefix = f"p{hashlib.sha256(ElementTree.tostring(root)).hexdigest()[:8]}"
    _prefix_ids(root, prefix)
    for name in ("width", "height", "version"):
        root.attrib.pop(name, None)
    root.attrib |= {"class": "gt-plot", "font-family": _FONTS}
    root.attrib |= {"stroke-linejoin": "round", "stroke-linecap": "butt"}
    root.attrib |= {"role": "img", "aria-label": words} if words else {"aria-hidden": "true"}
    text = ElementTree.tostring(root, encoding="unicode", default_namespace=None)
    return text.replace("ns0:", "").replace("xmlns:ns0=", "xmlns=")


def figure_bytes(figure: Figure, kind: str) -> bytes:
    """Return a figure as the content of a PNG, PDF or SVG file; same figure, same bytes."""
    if kind not in _KINDS:
        raise ValueError(f"kind must be one of {', '.join(_KINDS)}, not {kind!r}")
    return _bytes(figure, kind, "path")


@dataclass(frozen=True, kw_only=True)
class Described:
    """A picture as a notebook shows it, with words for those who can't see it."""

    png: bytes
    words: str

    def _repr_png_(self) -> bytes:
        return self.png

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.png).decode()
        source = f"data:image/png;base64,{data}"
        return f'<img alt="{escape(self.words)}" style="max-width: 100%" src="{source}">'


def described(figure: Figure, words: str) -> Described:
    """Return a figure with words that say what it shows, to end a notebook's cell with."""
    from matplotlib import pyplot

    pyplot.close(figure)  # else the notebook shows it once more, without the words
    return Described(png=figure_bytes(figure, "png"), words=words)


def save_figure(figure: Figure, path: Path, *, replace: bool = True) -> Path | None:
    """Write PNG, PDF or SVG by the ending of `path`, whole or not at all.

    Returns where an older file was kept, if there was one.
    """
    from profiler.files.atomic import write_whole

    return write_whole(path, figure_bytes(figure, picture_kind(path)), replace=replace)


def picture_kind(path: Path) -> str:
    """Return png, pdf or svg, the ending of `path`; GreytareError for any other."""
    from profiler.errors import GreytareError

    kind = path.suffix.lower().lstrip(".")
    if kind not in _KINDS:
        raise GreytareError(
            f"a picture can't be written as {path.suffix or 'a file without an ending'}",
            str(path),
            "End its name in .png, .pdf or .svg",
        )
    return kind


def _bytes(figure: Figure, kind: str, fonts: str) -> bytes:
    import matplotlib

    dates: dict[str, Any] = {
        "svg": {"Date": None, "Creator": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
        "png": {"Software": None},
    }
    buffer = io.BytesIO()
    with _LOCK, matplotlib.rc_context({"svg.hashsalt": "greytare", "svg.fonttype": fonts}):
        figure.savefig(
            buffer,
            format=kind,
            metadata=dates[kind],
            facecolor="none" if fonts == "none" else "white",
        )
    return buffer.getvalue()


def _strip(root: ElementTree.Element) -> None:
    """Takes out what a page doesn't need: metadata, style sheet, unseen shapes, spare digits."""
    for parent in list(root.iter()):
        for child in list(parent):
            style = child.get("style", "")
            unseen = (
                child.tag == f"{_SVG}path"
                and style.startswith("fill: none")
                and ("stroke" not in style)
            )
            if child.tag in (f"{_SVG}metadata", f"{_SVG}style") or unseen:
                parent.remove(child)
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{_SVG}defs", f"{_SVG}g") and not len(child):
                parent.remove(child)
    for element in root.iter():
        for part in element.attrib.pop("style", "").split(";"):
            name, _, value = part.partition(":")
            if name.strip() and name.strip() != "font-family":
                element.set(name.strip(), value.strip())
        if element.get("transform", "").startswith("rotate(-0 "):
            del element.attrib["transform"]
        for name in ("d", "x", "y", "width", "height", "transform"):
            if element is not root and name in element.attrib:
                element.set(name, _short(element.attrib[name]))
        for name in ("text", "tail"):
            if not (getattr(element, name) or "").strip():
                setattr(element, name, None)


def _short(numbers: str) -> str:
    """Coordinates to a hundredth of a point."""
    text = re.sub(r"-?\d+\.\d+", lambda m: f"{float(m[0]):.2f}".rstrip("0").rstrip("."), numbers)
    return " ".join(text.split())


def _number_ids(root: ElementTree.Element) -> None:
    """Renames ids that something refers to by their order, and drops the others.

    Their own names hash coordinates to the last bit, which the layout doesn't always repeat.
    """
    used = set()
    for element in root.iter():
        for name, value in element.attrib.items():
            if name == _LINK:
                used.add(value[1:])
            used.update(_REFERENCE.findall(value))
    numbers: dict[str, str] = {}
    for element in root.iter():
        own = element.attrib.pop("id", "")
        if own in used:
            numbers[own] = f"i{len(numbers)}"
            element.set("id", numbers[own])
    for element in root.iter():
        link = element.attrib.pop(_LINK, "")
        if link:
            element.set("href", f"#{numbers[link[1:]]}")
        for name, value in element.attrib.items():
            if "url(#" in value:
                element.set(name, _REFERENCE.sub(lambda m: f"url(#{numbers[m[1]]})", value))


def _prefix_ids(root: ElementTree.Element, prefix: str) -> None:
    """Puts the prefix before every id and every reference to one."""
    for element in root.iter():
        for name, value in element.attrib.items():
            if name == "id":
                element.set(name, f"{prefix}-{value}")
            elif name == "href":
                element.set(name, f"#{prefix}-{value[1:]}")
            elif "url(#" in value:
                element.set(name, value.replace("url(#", f"url(#{prefix}-"))
