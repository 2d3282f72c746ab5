"""Fields of a form that a browser posts by itself."""

from __future__ import annotations

from urllib.parse import parse_qsl

from fastapi import Request

from profiler.errors import GreytareError

_LONGEST = 100_000


async def form_of(request: Request) -> dict[str, str]:
    """Return name -> text of a posted form; of a name that comes twice the last counts."""
    body = await request.body()
    if len(body) > _LONGEST:
        raise GreytareError("the form is too long", "form", "Load the page again")
    try:
        pairs = parse_qsl(body.decode("utf-8"), keep_blank_values=True)
    except UnicodeDecodeError as error:
        raise GreytareError("the form isn't text", "form", "Load the page again") from error
    return dict(pairs)
