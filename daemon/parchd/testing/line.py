"""A serial line without a serial port."""

import contextlib
import os
import select
import tempfile
import threading
import tty
from pathlib import Path

_SLICE_S = 0.05


class PtyLine:
    """A device on a serial line: write what it says, pull it out, plug it in again.

    ``path`` is what a program opens: a link that goes away with the device and comes back with it, as
    ``/dev/serial/by-id`` does. The pair behind it has another number each time.

    Safe to use from several threads.

    Args:
        link: where to put the link; a temporary folder when left out.
    """

    def __init__(self, link: Path | None = None) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="parchd-line-") if link is None else None
        self._link = link or Path(self._folder.name if self._folder else "", "device")
        self._lock = threading.Lock()
        self._ours: int | None = None
        self._theirs: int | None = None
        self.replug()

    @property
    def path(self) -> str:
        return str(self._link)

    @property
    def plugged(self) -> bool:
        return self._ours is not None

    def write(self, data: bytes, timeout_s: float = 5.0) -> int:
        """Send bytes down the line; what finds no reader for ``timeout_s`` is lost, as on a wire.

        Returns:
            the number of bytes that found room.
        """
        sent = 0
        waits_left = max(1, round(timeout_s / _SLICE_S))
        while sent < len(data) and waits_left and self.plugged:
            taken = self._write_some(data[sent:])
            sent += taken
            waits_left -= not taken
        return sent

    def _write_some(self, data: bytes) -> int:
        with self._lock:
            if self._ours is None or not select.select([], [self._ours], [], _SLICE_S)[1]:
                return 0
            with contextlib.suppress(BlockingIOError):
                return os.write(self._ours, data)
            return 0

    def unplug(self) -> None:
        """Take the device away: who has it open gets an error, and its path is gone."""
        with self._lock:
            self._link.unlink(missing_ok=True)
            for end in (self._ours, self._theirs):
                if end is not None:
                    os.close(end)
            self._ours = self._theirs = None

    def replug(self) -> None:
        """Bring the device back under the same path."""
        self.unplug()
        with self._lock:
            self._ours, self._theirs = os.openpty()
            tty.setraw(self._theirs)
            os.set_blocking(self._ours, False)
            self._link.symlink_to(os.ttyname(self._theirs))

    def close(self) -> None:
        """Unplug, and leave nothing behind."""
        self.unplug()
        if self._folder is not None:
            self._folder.cleanup()

    def __enter__(self) -> "PtyLine":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
