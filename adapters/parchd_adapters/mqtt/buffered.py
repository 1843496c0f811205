"""A socket that is read and written in large pieces."""

import contextlib
import ssl
from typing import Protocol

PIECE_BYTES = 64 * 1024

_NOT_NOW = (BlockingIOError, ssl.SSLWantReadError, ssl.SSLWantWriteError)


class Plain(Protocol):
    """What a socket must be able to do."""

    def recv(self, buffer_size: int) -> bytes: ...
    def send(self, buffer: bytes | bytearray) -> int: ...
    def close(self) -> None: ...
    def fileno(self) -> int: ...
    def setblocking(self, flag: bool) -> None: ...


class BufferedSocket:
    """Keeps what was received beyond what was asked for, and what is to be sent until `flush`.

    The library asks for one byte, for another, then for the rest, and sends each acknowledgement by itself. Each of
    those is a call of the system that also lets go of the interpreter; together they cost more than all else.

    ``trouble`` is what the system last said; the library keeps it for itself.
    """

    def __init__(self, sock: Plain) -> None:
        self.trouble = ""
        self._sock = sock
        self._received = b""
        self._given = 0
        self._unsent = bytearray()

    def recv(self, buffer_size: int) -> bytes:
        """
        Raises:
            BlockingIOError, ssl.SSLWantReadError: there is nothing now. OSError: the connection has ended.
        """
        begin = self._given
        if begin == len(self._received):
            self._received, begin = self._receive(), 0
        self._given = min(begin + buffer_size, len(self._received))
        return self._received[begin : self._given]

    def send(self, buffer: bytes | bytearray) -> int:
        """
        Raises:
            BlockingIOError: too much waits to be sent.
        """
        if len(self._unsent) >= PIECE_BYTES:
            raise BlockingIOError
        self._unsent += buffer
        return len(buffer)

    def flush(self) -> None:
        """Send what can be sent now.

        Raises:
            OSError: the connection has ended.
        """
        try:
            while self._unsent:
                del self._unsent[: self._sock.send(self._unsent)]
        except _NOT_NOW:
            return
        except OSError as error:
            self.trouble = str(error)
            raise

    def _receive(self) -> bytes:
        try:
            return self._sock.recv(PIECE_BYTES)
        except _NOT_NOW:
            raise
        except OSError as error:
            self.trouble = str(error)
            raise

    def pending(self) -> int:
        """How much was received that ``poll`` cannot see."""
        decrypted = self._sock.pending() if isinstance(self._sock, ssl.SSLSocket) else 0
        return len(self._received) - self._given + decrypted

    @property
    def has_unsent(self) -> bool:
        return bool(self._unsent)

    def close(self) -> None:
        """Send what can be sent at once, and close."""
        with contextlib.suppress(OSError):
            self.flush()
        self._sock.close()

    def fileno(self) -> int:
        return self._sock.fileno()

    def setblocking(self, flag: bool) -> None:
        self._sock.setblocking(flag)
