"""The link that lets phones in, and how it is shown."""

from __future__ import annotations

import ipaddress
import socket
from typing import Final

from profiler.errors import GreytareError
from profiler.web.tickets import Tickets

RISK: Final = (
    "Anybody on this network who has the link can read these answers and write a new sheet here; "
    "nothing is encrypted."
)
_ELSEWHERE: Final = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737): asking for the way to it sends nothing."""


class Link(Tickets):
    """One ticket that lets in as often as it is used, for it stands on a wall or on a screen."""

    refusal = "Scan the code again, or ask for the link: this page lets in nobody without it."

    def __init__(self) -> None:
        super().__init__()
        self.ticket = self.new()

    def take(self, given: str) -> bool:
        """Whether this is the ticket."""
        return self.is_out(given)


def own_address(wanted: str | None) -> str:
    """Return one address of this machine: the one asked for, else that of the network in use.

    GreytareError where it names every address at once, isn't one in numbers, or none is known.
    """
    if wanted is None:
        return _in_use()
    try:
        address = ipaddress.IPv4Address(wanted.strip())
    except ValueError as error:
        raise GreytareError(
            "this isn't an address in numbers, such as 192.168.1.20",
            wanted,
            "Give one that this machine has, or leave {address} out",
            "address",
        ) from error
    if address.is_unspecified or address.is_multicast or str(address) == "255.255.255.255":
        raise GreytareError(
            "this isn't one address of one machine",
            wanted,
            "Give one that this machine has on the network of the phones",
            "address",
        )
    return str(address)


def code_in_terminal(link: str) -> str:
    """Return the link as a QR code in characters of a terminal."""
    import io

    import segno

    out = io.StringIO()
    segno.make(link, micro=False).terminal(out, compact=True)
    return out.getvalue().rstrip("\n")


def code_on_page(link: str) -> str:
    """Return the link as a QR code in SVG: dark on light, whatever the screen's colours."""
    import segno

    code = segno.make(link, micro=False)
    return str(code.svg_inline(scale=4, light="#fff", title="The link as a QR code"))


def _in_use() -> str:
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(_ELSEWHERE)
            found = str(probe.getsockname()[0])
    except OSError as error:
        raise GreytareError(
            "this machine has no address on a network",
            "phone",
            "Connect it to the phones' network, or give {address}",
            "address",
        ) from error
    return own_address(found)
