"""Tickets that let one browser into the page, each once."""

from __future__ import annotations

import html
import os
import secrets
import shutil
import tempfile
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path


class Tickets:
    """Tickets that are out, and the secret that a browser keeps in a cookie once it is in.

    A ticket may be seen by others, as part of an address; when it has been used it is worth
    nothing. The secret itself never stands in an address.
    """

    refusal = (
        "The address that greytare serve printed lets one browser in, once. To come in again open "
        "the file that it named, or start it again."
    )

    def __init__(self) -> None:
        self.secret = secrets.token_urlsafe(32)
        self._lock = threading.Lock()
        self._out: dict[str, Callable[[], None] | None] = {}

    def new(self, used: Callable[[], None] | None = None) -> str:
        """Return a ticket; `used` is called when it has let somebody in."""
        ticket = secrets.token_urlsafe(32)
        with self._lock:
            self._out[ticket] = used
        return ticket

    def take(self, given: str) -> bool:
        """Whether this is a ticket that is out; it isn't any more afterwards."""
        with self._lock:
            found = [out for out in self._out if same(out, given)]
            used = [self._out.pop(ticket) for ticket in found]
        for call in used:
            if call is not None:
                call()
        return bool(found)

    def is_out(self, given: str) -> bool:
        """Whether this is a ticket that is out."""
        with self._lock:
            return any(same(out, given) for out in self._out)

    def secret_of(self, given: str) -> str:
        """Return what a browser that came in by this ticket keeps in its cookie."""
        del given  # one secret for all who are let in
        return self.secret

    def is_secret(self, given: str) -> bool:
        """Whether a browser holds the secret."""
        return same(self.secret, given)


class Handover:
    """A file that takes the user's browser to the page; only the user can read it.

    The arguments of a browser that is started can be read by everybody on the machine, so they name
    this file instead of an address that lets in. Its ticket is renewed when it was used.
    """

    def __init__(self, tickets: Tickets, base: str) -> None:
        self._tickets, self._base = tickets, base
        self._folder = Path(tempfile.mkdtemp(prefix="greytare-page-"))
        self.path = self._folder / "open.html"
        self._write()

    def close(self) -> None:
        """Take the file away."""
        shutil.rmtree(self._folder, ignore_errors=True)

    def _write(self) -> None:
        address = html.escape(f"{self._base}/?token={self._tickets.new(self._renew)}")
        text = (
            '<!DOCTYPE html><html lang="en"><meta charset="utf-8">'
            '<meta name="referrer" content="no-referrer"><title>greytare</title>'
            f'<meta http-equiv="refresh" content="0; url={address}">'
            f'<p><a href="{address}">Open greytare</a></p></html>\n'
        )
        part = self._folder / "open.part"
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
            stream.write(text)
        part.replace(self.path)

    def _renew(self) -> None:
        with suppress(OSError):  # the folder is gone: then there is no way in again
            self._write()


def same(one: str, other: str) -> bool:
    """Return whether two secrets are equal, in a time that doesn't tell how much of them is."""
    return secrets.compare_digest(one.encode(), other.encode("utf-8", "surrogatepass"))
