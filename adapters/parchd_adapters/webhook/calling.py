"""Connections to receivers: only to an address that was looked at."""

import http.client
import socket
import ssl
from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from parchd_adapters.webhook.addresses import Address, special

CONNECT_S = 5.0
MOST_PLACES = 3


class Forbidden(OSError):
    """The receiver's name leads to an address that must not be called."""


class NoAuthority(OSError):
    """The file of certificate authorities cannot be used."""


class Unreachable(OSError):
    """Nobody answers at any address of the receiver."""


@dataclass(frozen=True, slots=True)
class _Place:
    """An address as the system's look-up gave it, with all that connecting to it takes."""

    address: Address
    family: socket.AddressFamily
    sockaddr: tuple[Any, ...]


class Line(http.client.HTTPConnection):
    """A connection for one request.

    The name is looked up once, and the connection goes to an address that this look-up gave and that was checked: a
    name that leads elsewhere a moment later (DNS rebinding) changes nothing. No redirect is followed, no proxy used.

    Args:
        url: the receiver.
        timeout_s: longest silence; connecting waits 5 s for each address at most.
        ca_file: whom to trust instead of the system's authorities.
        allow_private: call addresses too that are not of the public internet.

    Raises:
        NoAuthority: ``ca_file`` cannot be used.
    """

    def __init__(self, url: str, timeout_s: float, ca_file: Path | None = None, *, allow_private: bool) -> None:
        parts = urlsplit(url)
        self._tls = _trusting(ca_file) if parts.scheme == "https" else None
        self.default_port = 443 if self._tls else 80
        super().__init__(parts.hostname or "", parts.port or self.default_port)
        self.target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
        self._silence_s = timeout_s
        self._allow_private = allow_private

    def connect(self) -> None:
        """Look the name up, check, connect, and encrypt.

        Raises:
            Forbidden, Unreachable, socket.gaierror, ssl.SSLError, TimeoutError
        """
        places = _places(self.host, self.port)
        if not self._allow_private:
            places = _public(places)
        self.sock = _first_that_answers(places[:MOST_PLACES], min(CONNECT_S, self._silence_s))
        self.sock.settimeout(self._silence_s)
        if self._tls is not None:
            self.sock = self._tls.wrap_socket(self.sock, server_hostname=self.host)


def _trusting(ca_file: Path | None) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=ca_file)
    except OSError as error:
        raise NoAuthority(str(error)) from error


def _places(host: str, port: int) -> list[_Place]:
    """All addresses of a host in the order that the system prefers (RFC 6724)."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return [
        _Place(ip_address(str(sockaddr[0]).partition("%")[0]), family, sockaddr) for family, _, _, _, sockaddr in found
    ]


def _public(places: Sequence[_Place]) -> list[_Place]:
    public = [place for place in places if not special(place.address)]
    if not public:
        first = places[0].address
        raise Forbidden(f"{first}, {special(first)}")
    return public


def _first_that_answers(places: Sequence[_Place], timeout_s: float) -> socket.socket:
    troubles: list[str] = []
    for place in places:
        try:
            return _connected(place, timeout_s)
        except OSError as error:
            troubles.append(f"{place.address}: {error.strerror or error}")
    raise Unreachable("; ".join(troubles))


def _connected(place: _Place, timeout_s: float) -> socket.socket:
    line = socket.socket(place.family, socket.SOCK_STREAM)
    try:
        line.settimeout(timeout_s)
        line.connect(place.sockaddr)
    except BaseException:
        line.close()
        raise
    return line
