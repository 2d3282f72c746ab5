"""One listening socket on this machine, and the loop behind it."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import logging
import socket
from collections.abc import Callable
from typing import TYPE_CHECKING

from profiler.errors import GreytareError

if TYPE_CHECKING:
    import uvicorn
    from starlette.types import ASGIApp

HOST = "127.0.0.1"
HEAD_PATIENCE_S = 5.0
"""So long a connection may be open without the whole head of a request; a browser needs ms."""


def listen(port: int, host: str = HOST) -> socket.socket:
    """Return an open socket on one address; GreytareError where it isn't ours, or taken."""
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind((host, port))
    except (OSError, OverflowError) as error:
        door.close()
        if isinstance(error, OSError) and error.errno == errno.EADDRNOTAVAIL:
            raise GreytareError(
                "this machine doesn't have that address",
                host,
                "Give one that it has, or leave {address} out",
                "address",
            ) from error
        raise GreytareError(
            "the port can't be used; another program may have it",
            f"port {port}",
            "Choose another one with {port}, or none to get a free one",
            "port",
        ) from error
    return door


def make_server(app: ASGIApp, ready: Callable[[], None]) -> uvicorn.Server:
    """Return a server that calls `ready` once it answers; its `should_exit` ends it."""
    import h11
    import uvicorn
    from uvicorn.protocols.http.h11_impl import H11Protocol

    class Impatient(H11Protocol):
        """A connection that is closed where the head of a request doesn't arrive in time."""

        _waits: asyncio.TimerHandle | None = None

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            self._look()

        def data_received(self, data: bytes) -> None:
            super().data_received(data)
            self._look()

        def connection_lost(self, exc: Exception | None) -> None:
            self._stop()
            super().connection_lost(exc)

        def _look(self) -> None:
            if self.conn.their_state is not h11.IDLE:
                self._stop()
            elif self._waits is None:
                self._waits = self.loop.call_later(HEAD_PATIENCE_S, self.transport.close)

        def _stop(self) -> None:
            if self._waits is not None:
                self._waits.cancel()
                self._waits = None

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            if not self.should_exit:
                ready()

    config = uvicorn.Config(
        app,
        http=Impatient,
        log_level="warning",
        access_log=False,
        server_header=False,
        lifespan="off",
        ws="none",
        timeout_graceful_shutdown=5,
    )
    logging.getLogger("uvicorn.error").addFilter(_is_news)
    return Server(config)


def run(app: ASGIApp, door: socket.socket, ready: Callable[[], None]) -> None:
    """Answer requests until Ctrl-C."""
    # uvicorn ends in order on Ctrl-C, then raises it once more
    with contextlib.suppress(KeyboardInterrupt):
        make_server(app, ready).run(sockets=[door])


def _is_news(record: logging.LogRecord) -> bool:
    """Whether a log record tells something new: not that Ctrl-C cut an answer short, nor a fault
    that the page has logged itself."""
    cut = record.exc_info is not None and record.exc_info[0] is asyncio.CancelledError
    known = ("Cancel ", "Exception in ASGI application")
    return not cut and not record.getMessage().startswith(known)
