"""Connections that cannot be kept open for ever, and not too many of them."""

import asyncio
import socket
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

LONGEST_S = 30.0
"""A connection is cut off after so long, whatever it does: who reads or writes a byte a minute holds nothing up."""
MOST_CONNECTIONS = 64
"""More are hung up on at once: the daemon needs its file descriptors for its own work."""


class ShortLived(H11Protocol):
    """One connection, up to its deadline."""

    _deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        if len(self.connections) > MOST_CONNECTIONS:
            transport.abort()
        else:
            self._deadline = self.loop.call_later(LONGEST_S, transport.abort)

    def connection_lost(self, exc: Exception | None) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
        super().connection_lost(exc)


def listener(host: str, port: int) -> socket.socket:
    """Open the socket to listen on.

    TCP is named as its protocol: without that asyncio leaves small answers waiting for 40 ms.

    Raises:
        OSError: the port is taken, or the address is not one of this machine.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    opened = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            opened.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        opened.bind((host, port))
        opened.listen()
    except OSError:
        opened.close()
        raise
    return opened
