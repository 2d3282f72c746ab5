"""Marks drawn as SVG that stands in any page: widths in percent, one colour, no style sheet.

Light, dark and print follow from the colour of the text around it; a narrow page keeps the size of
the letters.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Final

from profiler.show.marks import Bar, Bars, Picture, Stack, Stacks, Step, Strip

_ROW: Final = 62.0
_CLOSE_ROW: Final = 46.0
_MANY: Final = 5
"""More rows than these are set close, so that a page holds them."""
_TEXT: Final = 13.0
_EDGE: Final = 1.5
"""Percent of the width that stay free at either side."""


def drawing(picture: Picture) -> str:
    """Return a picture as an SVG element that fills the width it is given."""
    if isinstance(picture, Bars):
        return _bars(picture)
    return _strip(picture) if isinstance(picture, Strip) else _stacks(picture)


def _bars(shown: Bars) -> str:
    at = _place(shown.low, shown.high)
    parts: list[str] = []
    height = _ROW if len(shown.bars) <= _MANY else _CLOSE_ROW
    for row, bar in enumerate(shown.bars):
        parts += _bar(bar, at, 4.0 + height * row, height)
    foot = 4.0 + height * len(shown.bars)
    for stop in _whole_stops(shown.low, shown.high):
        parts.append(_upright(at(stop), foot - 4.0, foot + 2.0, 1.0))
        words = f"{stop:+d}".replace("-", "\u2212") if stop else "grey"
        parts.append(_text(at(stop), foot + 14.0, words, anchor="middle"))
    return _svg(shown.title, foot + 20.0, parts)


def _bar(bar: Bar, at: Callable[[float], float], top: float, height: float) -> list[str]:
    """Name; below it floor to clip filled, the interval darker, grey a line, aim a triangle."""
    low = at(bar.floor) if bar.floor is not None else _EDGE
    middle, high = top + 24.0, top + height - 12.0
    parts = [
        _named(top + 11.0, bar.name, bar.text),
        _box(low, at(bar.clip_low), middle, high, 'fill-opacity="0.2"'),
        _box(at(bar.clip_low), at(bar.clip_high), middle, high, 'fill-opacity="0.5"'),
        _upright(at(bar.clip), middle - 2.0, high + 2.0, 3.0, dashed=bar.at_least),
        _upright(at(0.0), middle - 2.0, high + 2.0, 1.5),
    ]
    if bar.floor is not None:
        parts.append(_upright(low, middle, high, 1.0))
    if bar.aim is not None:
        parts.append(_pointer(at(bar.aim), middle - 1.0))
    parts += [_upright(at(tick), middle + 6.0, high, 2.0) for tick in bar.ticks]
    return parts


def _strip(shown: Strip) -> str:
    at = _place(shown.low, shown.high, 9.0)
    parts = [_line(at(shown.low), at(shown.high), 30.0)]
    chosen = next((k for k, step in enumerate(shown.steps) if step.chosen), 0)
    for k, step in enumerate(shown.steps):
        parts += _step(step, at(step.at), spare=(k - chosen) % 2 == 1)
    parts.append(_pointer(at(shown.wanted), 28.0))
    parts.append(_text(at(shown.wanted), 12.0, shown.rest, anchor="middle"))
    return _svg(shown.title, 62.0, parts)


def _step(step: Step, x: float, *, spare: bool) -> list[str]:
    """A mark of the dial; spare: its text gives way where there is little room."""
    thick = 4.0 if step.chosen else 1.5
    return [
        _upright(x, 30.0, 42.0, thick),
        _text(x, 56.0, step.text, anchor="middle", strong=step.chosen, spare=spare),
    ]


def _stacks(shown: Stacks) -> str:
    most = max(sum(amount for _, amount in stack.parts) for stack in shown.stacks)
    at = _place(0.0, most)
    parts: list[str] = []
    for row, stack in enumerate(shown.stacks):
        parts += _stack(stack, at, 4.0 + _ROW * row)
    return _svg(shown.title, 4.0 + _ROW * len(shown.stacks), parts)


def _stack(stack: Stack, at: Callable[[float], float], top: float) -> list[str]:
    start, fills = 0.0, ('fill-opacity="0.75"', 'fill-opacity="0.2"')
    whole = sum(amount for _, amount in stack.parts)
    named = ", ".join(f"{name} {100.0 * part / whole:.0f} %" for name, part in stack.parts)
    parts = [_named(top + 11.0, stack.name, named)]
    for k, (_, amount) in enumerate(stack.parts):
        fill = fills[k % len(fills)]
        parts.append(_box(at(start), at(start + amount), top + 20.0, top + 38.0, fill))
        start += amount
    parts.append(_outline(at(0.0), at(whole), top + 20.0, top + 38.0))
    return parts


def _place(low: float, high: float, edge: float = _EDGE) -> Callable[[float], float]:
    def at(value: float) -> float:
        inside = min(max(value, low), high)
        return edge + (100.0 - 2.0 * edge) * (inside - low) / (high - low)

    return at


def _whole_stops(low: float, high: float) -> list[int]:
    step = 1 if high - low < 9.0 else 2
    return [k for k in range(-40, 41) if k % step == 0 and low <= k <= high]


def _svg(title: str, height: float, parts: Sequence[str]) -> str:
    return (
        f'<svg class="gt-marks" width="100%" '
        f'height="{height:g}" role="img" aria-label="{escape(title)}" fill="currentColor" '
        f'font-size="{_TEXT:g}">{"".join(parts)}</svg>'
    )


def _text(
    x: float,
    y: float,
    words: str,
    *,
    anchor: str = "start",
    strong: bool = False,
    spare: bool = False,
) -> str:
    more = ' class="spare"' if spare else ""
    more += ' font-weight="bold"' if strong else ""
    return f'<text x="{x:.2f}%" y="{y:g}" text-anchor="{anchor}"{more}>{escape(words)}</text>'


def _named(y: float, name: str, words: str) -> str:
    bold = f'<tspan font-weight="bold">{escape(name)}</tspan>'
    return f'<text x="{_EDGE:.2f}%" y="{y:g}">{bold} \u2002{escape(words)}</text>'


def _box(left: float, right: float, top: float, bottom: float, fill: str) -> str:
    width = max(right - left, 0.0)
    return (
        f'<rect x="{left:.2f}%" y="{top:g}" width="{width:.2f}%" height="{bottom - top:g}" {fill}/>'
    )


def _outline(left: float, right: float, top: float, bottom: float) -> str:
    return _box(left, right, top, bottom, 'fill="none" stroke="currentColor"')


def _upright(x: float, top: float, bottom: float, thick: float, *, dashed: bool = False) -> str:
    dash = ' stroke-dasharray="4 3"' if dashed else ""
    return (
        f'<line x1="{x:.2f}%" x2="{x:.2f}%" y1="{top:g}" y2="{bottom:g}" stroke="currentColor" '
        f'stroke-width="{thick:g}"{dash}/>'
    )


def _line(left: float, right: float, y: float) -> str:
    return (
        f'<line x1="{left:.2f}%" x2="{right:.2f}%" y1="{y:g}" y2="{y:g}" stroke="currentColor" '
        'stroke-opacity="0.5"/>'
    )


def _pointer(x: float, tip: float) -> str:
    """A triangle that points down at a place; its own viewport moves with the width."""
    return (
        f'<svg x="{x:.2f}%" y="{tip - 9.0:g}" width="1" height="9" overflow="visible">'
        '<path d="M-6,0 h12 l-6,9 z"/></svg>'
    )
