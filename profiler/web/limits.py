"""What a request may weigh and how long it may take to arrive; and the last word on any failure."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from starlette.requests import Request
from starlette.responses import Response

from profiler.files.mishap import mishap

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from profiler.errors import GreytareError

MOST_BYTES: Final = 1 << 20
"""A sheet of a thousand rows, edited all at once, has 0.1 MB."""
PATIENCE_S: Final = 5.0

log = logging.getLogger("greytare.web")


class Limits:
    """ASGI middleware that takes in a body whole, within limits, before anybody reads it.

    say: makes the answer that refuses a request, from the request, a sentence and a status.
    """

    def __init__(self, app: ASGIApp, *, say: Callable[[Request, str, int], Response]) -> None:
        self.app, self.say = app, say

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand on, or answer a refusal."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        try:
            async with asyncio.timeout(PATIENCE_S):
                body = await _whole_body(receive)
        except TimeoutError:
            words, status = "The request took too long to arrive; nothing was changed.", 408
            body = None
        else:
            words = f"The request is longer than {MOST_BYTES >> 20} MiB; nothing was changed."
            status = 413
        if body is None:
            answer = self.say(Request(scope), words, status)
            answer.headers["Connection"] = "close"
            await answer(scope, receive, send)
            return
        given = False

        async def replay() -> Message:
            nonlocal given
            if given:
                return await receive()
            given = True
            return {"type": "http.request", "body": body, "more_body": False}

        await self.app(scope, replay, send)


async def _whole_body(receive: Receive) -> bytes | None:
    """The body, None where it is too long; the rest of it is left unread then."""
    parts = bytearray()
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return bytes(parts)
        parts += message.get("body", b"")
        if len(parts) > MOST_BYTES:
            return None
        if not message.get("more_body", False):
            return bytes(parts)


class LastWord:
    """ASGI middleware that answers what nobody foresaw with one sentence, and logs it."""

    def __init__(
        self, app: ASGIApp, *, tell: Callable[[Request, GreytareError, int], Response]
    ) -> None:
        self.app, self.tell = app, tell

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand on; answer where that fails before an answer has begun."""
        begun = False

        async def watched(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, watched)
        except Exception as error:
            doing = f"{scope.get('method', '')} {scope.get('path', '')}"[:200]
            log.error("%s failed", doing.encode("unicode_escape").decode(), exc_info=error)
            if begun:
                raise
            status = 400 if isinstance(error, OSError) else 500
            await self.tell(Request(scope), mishap(error, doing), status)(scope, receive, send)
