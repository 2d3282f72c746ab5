"""An answer of a page of the fleet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from profiler.fleet.rows import Row
from profiler.show.answer import Answer
from profiler.web.rendering import fragment


@dataclass(frozen=True, kw_only=True)
class Reply:
    """An answer in one line, and its detail as HTML; waits: what to type stands in the line."""

    headline: str
    html: str = ""
    waits: bool = False

    def plain(self) -> dict[str, Any]:
        """Return what a script needs to show it."""
        return {"headline": self.headline, "html": self.html, "missing": self.waits}


def reply(headline: str, template: str, **values: Any) -> Reply:
    """Return the answer whose detail is a template filled in."""
    return Reply(headline=headline, html=fragment(template, **values))


def answered(
    answer: Answer,
    address: Callable[[Row], str],
    *,
    chart: Any = None,
    legend: str = "",
    **more: Any,
) -> Reply:
    """Return an answer of the fleet as a page shows it, bodies leading to their addresses.

    chart: what the script draws above the tables, with its legend.
    """
    values = {"answer": answer, "address": address, "chart": chart, "legend": legend}
    return reply(answer.headline, "fleet_answer.html", **values, **more)
