"""The disk of the journal: how much is free, and the reserve that is given up when nothing is."""

import logging
import os
import shutil
import sqlite3
from pathlib import Path

from parchd.app.messages import DiskSpace

logger = logging.getLogger(__name__)

SHARE = 10
"""The reserve is laid only where so many times its size are free: it must not be what fills a small disk."""
NOTHING_BYTES = 1_000_000
"""With less than that free, an error of the disk comes from its being full, whatever SQLite calls it."""


class Disk:
    """Measures the disk of the journal, and keeps a reserve on it.

    The reserve is a file beside the journal. It is given up when the journal cannot be written, so that the alarm about
    it and its message still can be; it is laid again when there is room.
    """

    def __init__(self, database: Path, reserve_bytes: int) -> None:
        self.reserve_bytes = reserve_bytes
        self._folder = database.parent
        self._reserve = database.with_name(f"{database.name}.reserve")

    def measure(self) -> DiskSpace | None:
        """What is free, after the reserve was laid where there is room for it; ``None``: the system does not say."""
        space = self._measure()
        if space is not None and not self._is_laid and space.free_bytes >= SHARE * self.reserve_bytes > 0:
            self._lay()
            return self._measure()
        if self._is_laid and self.reserve_bytes == 0:
            self._reserve.unlink(missing_ok=True)
        return space

    def make_room(self, error: Exception) -> DiskSpace | None:
        """Give the reserve up if that may help against an error; what is free then, or ``None``: it cannot help."""
        space = self._measure()
        if space is None or not self._is_laid or not (_says_full(error) or space.free_bytes < NOTHING_BYTES):
            return None
        try:
            self._reserve.unlink()
        except OSError:
            return None
        logger.error("the disk is full; the reserve is given up", extra={"event": "store.full"})
        return self._measure(is_full=True)

    @property
    def _is_laid(self) -> bool:
        return self._reserve.exists()

    def _lay(self) -> None:
        """Take the room for real: a sparse file would free nothing."""
        try:
            with self._reserve.open("wb") as file:
                os.posix_fallocate(file.fileno(), 0, self.reserve_bytes)
        except OSError as error:
            self._reserve.unlink(missing_ok=True)
            logger.warning("no reserve could be laid: %s", error, extra={"event": "store.noreserve"})

    def _measure(self, *, is_full: bool = False) -> DiskSpace | None:
        try:
            usage = shutil.disk_usage(self._folder)
        except OSError:
            return None
        return DiskSpace(usage.free, usage.total, is_full)


def _says_full(error: BaseException | None) -> bool:
    """Whether an error, or the one it comes from, says that the disk is full."""
    if error is None:
        return False
    code = getattr(error, "sqlite_errorcode", None) or 0
    return code & 0xFF == sqlite3.SQLITE_FULL or _says_full(error.__cause__)
