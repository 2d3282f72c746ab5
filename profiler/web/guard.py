"""The door of the local page: who may ask, and from where."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qsl, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import HTMLResponse, RedirectResponse, Response

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from profiler.web.tickets import Tickets

OWN: Final = "127.0.0.1"
SAFE_METHODS: Final = ("GET", "HEAD")
POLICY: Final = (
    "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; "
    "script-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "
    "object-src 'none'"
)
HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # not no-referrer: browsers would then send "Origin: null" with forms of the page itself
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


class Guard:
    """ASGI middleware that lets in only the browser that was given the token.

    The Host must be the address with the port, or localhost for this machine's own (so that a
    foreign name that resolves here is refused), the Origin of a request that changes something must
    be the page itself, and a ticket must come in the address, then the secret in a cookie.
    """

    def __init__(self, app: ASGIApp, *, tickets: Tickets, port: int, address: str = OWN) -> None:
        self.app, self.tickets = app, tickets
        self.names = (address, "localhost") if address == OWN else (address,)
        self.hosts = {f"{name}:{port}" for name in self.names}
        if port == 80:
            self.hosts |= set(self.names)
        # cookies are shared by all ports of a host, so the name holds the port
        self.cookie = f"greytare-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a refusal, or hand on."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        answer = self._refusal(scope) or self._welcome(scope)
        await (answer or self.app)(scope, receive, send_with_headers)

    def _refusal(self, scope: Scope) -> Response | None:
        """The answer to a request that didn't come from the page itself."""
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return _refuse(f"This page answers under {' or '.join(self.names)} only.")
        if scope["method"] not in SAFE_METHODS:
            origins = headers.getlist("origin")
            if origins != [f"http://{hosts[0]}"]:
                return _refuse("The request came from another page; nothing was changed.")
        return None

    def _welcome(self, scope: Scope) -> Response | None:
        """None where the cookie has the secret, that cookie for a ticket, else a refusal."""
        kept = cookie_parser(Headers(scope=scope).get("cookie", "")).get(self.cookie, "")
        if self.tickets.is_secret(kept):
            return None
        query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        given = next((value for name, value in query if name == "token"), "")
        if scope["method"] != "GET" or not self.tickets.take(given):
            return _refuse(self.tickets.refusal)
        rest = urlencode([(name, value) for name, value in query if name != "token"])
        # a path such as //elsewhere would be another host for the browser
        path = "/" + scope["path"].lstrip("/\\")
        target = f"{path}?{rest}" if rest else path
        response: Response = RedirectResponse(target, status_code=303)
        if Headers(scope=scope).get("sec-fetch-site", "") == "cross-site":
            # from the file of the handover: after a redirect the browser would still hold back a
            # strict cookie, so a page of our own leads on
            response = HTMLResponse(_leading_to(target))
        response.set_cookie(
            self.cookie, self.tickets.secret_of(given), httponly=True, samesite="strict", path="/"
        )
        return response


def _leading_to(target: str) -> str:
    address = html.escape(target)
    return (
        '<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>greytare</title>'
        f'<meta http-equiv="refresh" content="0; url={address}">'
        f'<p><a href="{address}">Open greytare</a></p></html>'
    )


def _refuse(sentence: str) -> Response:
    return HTMLResponse(
        '<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>greytare: refused</title>'
        f"<h1>Refused</h1><p>{html.escape(sentence)}</p></html>",
        status_code=403,
    )
