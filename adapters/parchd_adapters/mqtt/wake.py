"""A bell between two threads, for a thread that sleeps in ``poll``."""

import contextlib
import socket
from typing import Self


class Wake:
    """``ring`` makes ``fileno()`` readable until ``hush``; any thread may ring, also after the end."""

    def __init__(self) -> None:
        self._ours, self._theirs = socket.socketpair()
        self._ours.setblocking(False)
        self._theirs.setblocking(False)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._ours.close()
        self._theirs.close()

    def fileno(self) -> int:
        return self._ours.fileno()

    def ring(self) -> None:
        with contextlib.suppress(OSError):  # full: it rings already; closed: nobody waits any more
            self._theirs.send(b"\0")

    def hush(self) -> None:
        """Make it quiet. Look for what it rang about after this, not before."""
        with contextlib.suppress(BlockingIOError):
            self._ours.recv(65536)
