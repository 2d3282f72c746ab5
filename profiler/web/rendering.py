"""HTML from templates, with every text escaped."""

from __future__ import annotations

import re
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Final

from fastapi import Depends, Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, JSONResponse

from profiler.errors import GreytareError, plain_name
from profiler.show.answer import Answer
from profiler.show.drawing import drawing
from profiler.show.glossary import GLOSSARY
from profiler.web.session import Session

HERE: Final = Path(__file__).parent

PAGES: Final = (
    ("series", "/series", "Series"),
    ("result", "/result", "Result"),
    ("onset", "/onset/settings", "On set"),
    ("plan", "/plan", "Plan and check"),
    ("fleet", "/fleet/table", "Fleet"),
    ("teach", "/teach", "Teach"),
)

# fmt: off
_OUR_WORDS: Final = (
    "ambient", "aperture", "fill", "flash", "folder", "frame", "key", "light", "loss", "meter",
    "mix", "mode", "name", "place", "plan", "port", "profile", "reading", "row", "setting",
    "settings", "sheet", "spot", "the", "time", "this", "total",
)
# fmt: on
"""Words that messages begin with where they don't begin with a name of the user's."""

_LABELS: Final = {
    "iso": "ISO label",
    "key": "Key reading",
    "spot": "Spots",
    "setting": "Camera setting",
    "loss": "Filters and losses",
    "flash_reading": "Flash was read",
    "over": "Flash over ambient",
    "mode": "Meter mode",
    "min_time": "Shortest time",
    "max_time": "Longest time",
    "darks": "Lens-cap frames",
    "copies": "Frames of each setting",
    "new_sheet": "Series",
    "greytare plan": "Plan",
    "greytare check": "Check",
    "greytare fit": "Result",
    "greytare measure": "Series",
    "greytare fleet": "Fleet",
}
"""What the page calls an input or a command, where it isn't the term itself."""


def session_of(request: Request) -> Session:
    """Return the session of the page that a request came to."""
    session: Session = request.app.state.session
    return session


SessionHere = Annotated[Session, Depends(session_of)]


@cache
def environment() -> Environment:
    """Return the template environment; autoescape is on for everything."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["pages"] = PAGES
    made.filters["drawn"] = lambda picture: Markup(drawing(picture))
    made.globals["glossary"] = GLOSSARY
    return made


def fragment(template: str, /, **values: Any) -> str:
    """Return the HTML of a template."""
    return environment().get_template(template).render(**values)


def page(
    template: str, /, *, here: str, title: str, status: int = 200, **values: Any
) -> HTMLResponse:
    """Return a whole page; here: which of PAGES it belongs to."""
    return HTMLResponse(fragment(template, here=here, title=title, **values), status_code=status)


def sentence(error: GreytareError) -> str:
    """Return an error in one sentence, with the names of fields and pages where it has terms.

    >>> sentence(GreytareError("there is no reading", "place", 'Add {key} "EV 12.0" or a spot'))
    'Place: there is no reading. Add ‘Key reading’ "EV 12.0" or a spot.'
    """
    place = error.where or _label(error.field)
    text = f"{error.seen(place)}. {error.cure(_quoted)}."
    first = re.match(r"\w+", text)
    # names of files keep their first letter
    return text[:1].upper() + text[1:] if first and first[0] in _OUR_WORDS else text


def field_of(error: GreytareError, fields: tuple[str, ...]) -> str:
    """Return which of the fields an error is about; empty where none is named."""
    return error.field if error.field in fields else ""


def refusal(error: GreytareError, fields: tuple[str, ...] = ()) -> JSONResponse:
    """Return the answer to a script: one sentence and the field that it belongs to."""
    content = {"error": sentence(error), "field": field_of(error, fields)}
    return JSONResponse(content, status_code=400)


def _label(term: str) -> str:
    """The label of the field for a data term."""
    return _LABELS.get(term, plain_name(term).capitalize())


def _quoted(term: str) -> str:
    """The label in quotes; a command that no page stands for as it is typed."""
    if term.startswith("greytare ") and term not in _LABELS:
        return term
    return f"‘{_label(term)}’"


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
