"""An answer of a page of the fleet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from profiler.web.page import fragment


@dataclass(frozen=True, kw_only=True)
class Reply:
    """An answer in one line, and its detail as HTML; missing: what to type stands in the line."""

    headline: str
    html: str = ""
    missing: bool = False

    def plain(self) -> dict[str, Any]:
        """Return what a script needs to show it."""
        return {"headline": self.headline, "html": self.html, "missing": self.missing}


def reply(headline: str, template: str, **values: Any) -> Reply:
    """Return the answer whose detail is a template filled in."""
    return Reply(headline=headline, html=fragment(template, **values))
