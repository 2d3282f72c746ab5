"""Output to terminals that shows control characters rather than sends them."""

from __future__ import annotations

import io
import re
import sys
from typing import Final, TextIO

_ACTS: Final = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)
"""Characters that steer a terminal or turn the direction of writing; not tab and new line."""


def shown(text: str) -> str:
    """Return a text with its control characters written out, as JSON does.

    >>> print(shown("Halden\\x1b[2J H2"))
    Halden\\u001b[2J H2
    """
    return _ACTS.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


class PlainText(io.TextIOWrapper):
    """A text stream that shows control characters, and characters that it can't encode."""

    def write(self, text: str, /) -> int:
        """Write the text; return its length."""
        # a line that is written over again begins with a return of its own
        start, rest = (text[:1], text[1:]) if text.startswith("\r") else ("", text)
        super().write(start + shown(rest))
        return len(text)


def make_output_plain() -> None:
    """Let whatever is printed from here on go through PlainText, whoever prints it.

    Texts from files, sheets and names of files reach the terminal on many ways; this is the last
    step of all of them. The bars of progress draw on a stream of their own.
    """
    sys.stdout = _plain(sys.stdout)
    sys.stderr = _plain(sys.stderr)


def _plain(stream: TextIO) -> TextIO:
    if type(stream) is not io.TextIOWrapper:  # none, or something of a test's
        return stream
    stream.flush()
    buffering = stream.line_buffering
    # in place of ASCII click would take UTF-8 too, on a stream of its own
    encoding = "utf-8" if stream.encoding.lower() in ("ascii", "us-ascii") else stream.encoding
    return PlainText(
        stream.detach(), encoding=encoding, errors="backslashreplace", line_buffering=buffering
    )
