"""An end for a conversation whose other side never ends it."""

import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from types import TracebackType


class Deadline:
    """Breaks a connection off that is not done with in time, and calls that a `TimeoutError`.

    The time-out of a socket counts from byte to byte: a server that sends one every few seconds would never end.

    Args:
        seconds: for all that is done within the ``with`` block.
        connection: gives the socket that is in use when the time is over; ``None``: there is none.
    """

    def __init__(self, seconds: float, connection: Callable[[], socket.socket | None]) -> None:
        self._seconds = seconds
        self._connection = connection
        self._is_over = False
        self._timer = threading.Timer(seconds, self._break_off)
        self._timer.name = "deadline"
        self._timer.daemon = True

    def __enter__(self) -> None:
        self._timer.start()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._timer.cancel()
        self._timer.join()
        if self._is_over and (error is None or isinstance(error, Exception)):  # some take the end for an end
            raise TimeoutError(f"not done within {self._seconds:g} s") from error

    def _break_off(self) -> None:
        self._is_over = True
        connection = self._connection()
        if connection is not None:
            with suppress(OSError):  # that it is closed already is all we want
                # Not that of SSLSocket: it takes the encryption away under the feet of who reads.
                socket.socket.shutdown(connection, socket.SHUT_RDWR)
