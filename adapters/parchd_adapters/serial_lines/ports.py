"""Ports that only move bytes."""

import contextlib
import errno
import select
import socket
import termios
from collections.abc import Iterator
from typing import Protocol
from urllib.parse import urlsplit

import serial

from parchd.contract import SourceLost
from parchd_adapters.serial_lines.options import Parity, SerialLinesOptions

# What pyserial lets out when a device goes away; termios.error is no OSError, closing under a read gives a TypeError.
LINE_ERRORS = (OSError, termios.error, TypeError, ValueError)
CHUNK = 4096
CONNECT_S = 1.5

_PARITIES = {Parity.NONE: serial.PARITY_NONE, Parity.EVEN: serial.PARITY_EVEN, Parity.ODD: serial.PARITY_ODD}
_HINTS = {
    errno.ENOENT: "the device is not there",
    errno.EIO: "the device went away",
    errno.EACCES: "no permission: the daemon's user belongs in the group dialout",
    errno.EAGAIN: "another program holds it",
    errno.EBUSY: "another program holds it",
}


class Port(Protocol):
    def read(self, wait_s: float) -> bytes:
        """Return what is there, up to `CHUNK` bytes, or nothing when nothing comes within ``wait_s``.

        Raises:
            SourceLost: the line is gone.
        """
        ...

    def close(self) -> None: ...


def open_port(options: SerialLinesOptions) -> Port:
    """Open the options' port.

    Raises:
        SourceLost: it cannot be opened now.
    """
    with _lost(options.port):
        return TcpPort(options.port) if options.port.startswith("socket:") else TtyPort(options)


@contextlib.contextmanager
def _lost(name: str, otherwise: str = "") -> Iterator[None]:
    try:
        yield
    except LINE_ERRORS as error:
        words = _HINTS.get(getattr(error, "errno", None) or 0, "") or otherwise or error
        raise SourceLost(f"{name}: {words}") from error


class TtyPort:
    """A device, or a port of an RFC 2217 server."""

    def __init__(self, options: SerialLinesOptions) -> None:
        self._name = options.port
        self._serial = serial.serial_for_url(
            options.port,
            do_not_open=True,
            baudrate=options.baud,
            parity=_PARITIES[options.parity],
            bytesize=options.data_bits,
            stopbits=options.stop_bits,
            exclusive=True if options.port.startswith("/") else None,
        )
        self._serial.open()

    def read(self, wait_s: float) -> bytes:
        with _lost(self._name, "the device went away"):
            if self._serial.timeout != wait_s:
                self._serial.timeout = wait_s
            return bytes(self._serial.read(max(1, min(CHUNK, self._serial.in_waiting))))

    def close(self) -> None:
        with contextlib.suppress(*LINE_ERRORS):
            self._serial.close()


class TcpPort:
    """A raw TCP port. Not pyserial's: that one reads single bytes, and leaks its socket when the peer is gone."""

    def __init__(self, url: str) -> None:
        self._name = url
        parts = urlsplit(url)
        self._socket = socket.create_connection((parts.hostname or "", parts.port or 0), timeout=CONNECT_S)
        self._socket.setblocking(False)
        _probe_when_idle(self._socket)

    def read(self, wait_s: float) -> bytes:
        with _lost(self._name):
            if not select.select([self._socket], [], [], wait_s)[0]:
                return b""
            if data := self._socket.recv(CHUNK):
                return data
            raise ConnectionResetError("the other end closed the connection")

    def close(self) -> None:
        self._socket.close()


def _probe_when_idle(connection: socket.socket) -> None:
    """Notice within about a minute that a silent peer has lost its power."""
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE, 30)
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPINTVL, 10)
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPCNT, 3)
