"""An answer as the page shows it, for a person and for the script."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from profiler.show.answer import Answer
from profiler.web.page import fragment


def plain(answer: Answer) -> dict[str, Any]:
    """Return what the script needs: the line that says it all, the rest as HTML, the picture.

    figures: the same names with their words that the HTML holds.
    """
    return {
        "headline": answer.headline,
        "html": fragment("answer.html", answer=answer),
        "figures": [[fact.name, fact.text] for fact in answer.figures],
        "scale": None if answer.marks is None else asdict(answer.marks),
        "missing": answer.waits,
    }
