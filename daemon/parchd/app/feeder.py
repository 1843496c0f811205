"""Copying the journal to one sink, from a cursor that survives everything."""

import logging
import sqlite3
import threading
from collections.abc import Mapping
from pathlib import Path

from parchd.app.inbox import Inbox
from parchd.app.messages import SinkProgress
from parchd.contract import Place, Sink, SinkUnavailable, StoredReading, StoreError
from parchd.store import cursors
from parchd.store.cursors import Cursor
from parchd.store.database import open_reader

logger = logging.getLogger(__name__)

LINGER_S = 1.0
SHORTEST_PAUSE_S = 1.0
LONGEST_PAUSE_S = 300.0
UNREADABLE_PAUSE_S = 10.0


class Feeder:
    """Offers rows to a sink in the order of writing until it takes them; the engine keeps the cursor.

    At least once: after a crash the rows since the last kept cursor are written again, to the same effect.
    """

    def __init__(self, name: str, sink: Sink, inbox: Inbox, database: Path, places: Mapping[str, Place]) -> None:
        self.name = name
        self.wake = threading.Event()
        self.places = places
        self._sink = sink
        self._inbox = inbox
        self._database = database
        self._stop = threading.Event()
        self._pause_s = SHORTEST_PAUSE_S
        self._trouble = ""
        self._thread = threading.Thread(target=self._run, name=f"sink {name}", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()
        self.wake.set()

    def join(self, timeout_s: float) -> bool:
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        """Feed until stopped; a journal that cannot be read now is opened again."""
        try:
            while not self._stop.is_set():
                try:
                    self._feed()
                except (sqlite3.Error, StoreError) as error:
                    logger.warning("sink %s: %s; trying again", self.name, error, extra={"event": "store.unreadable"})
                    self._stop.wait(UNREADABLE_PAUSE_S)
        finally:
            self._sink.close()

    def _feed(self) -> None:
        connection = open_reader(self._database)
        try:
            cursor = cursors.cursor_of(connection, self.name)
            while not self._stop.is_set():
                self.wake.clear()
                cursor = self._copy(connection, cursor)
        finally:
            connection.close()

    def _copy(self, connection: sqlite3.Connection, cursor: Cursor) -> Cursor:
        """Offer the next rows; return where the sink stands then."""
        rows, then = cursors.rows_next(connection, self.places, cursor, self._sink.batch_rows)
        if not rows:
            self.wake.wait(5 * LINGER_S)
            return cursor
        try:
            rejections = self._sink.write(rows)
        except SinkUnavailable as error:
            self._hold(error, cursor, error.retry_after_s)
            return cursor
        except Exception as error:
            logger.exception("sink %s failed", self.name, extra={"event": "sink.failed"})
            self._hold(error, cursor, None)
            return cursor
        self._advance(rows, SinkProgress(self.name, then, tuple(rejections)))
        return then

    def _advance(self, rows: list[StoredReading], progress: SinkProgress) -> None:
        self._pause_s = SHORTEST_PAUSE_S
        if self._trouble:
            logger.info("sink %s: takes rows again", self.name, extra={"event": "sink.resumed"})
            self._trouble = ""
        if progress.rejections:
            logger.warning(
                "sink %s: %d rows set aside; the first: %s", self.name, len(progress.rejections),
                progress.rejections[0].reason, extra={"event": "sink.rejected"},
            )  # fmt: skip
        self._inbox.tell(progress)
        if len(rows) < self._sink.batch_rows:
            self._stop.wait(LINGER_S)

    def _hold(self, error: Exception, cursor: Cursor, retry_after_s: float | None) -> None:
        pause_s = max(self._pause_s, retry_after_s or 0.0)
        if str(error) != self._trouble:
            self._trouble = str(error)
            logger.warning("sink %s: %s; rows are kept", self.name, error, extra={"event": "sink.unavailable"})
            self._inbox.tell(SinkProgress(self.name, cursor, trouble=self._trouble))
        self._pause_s = min(2 * self._pause_s, LONGEST_PAUSE_S)
        self._stop.wait(pause_s)
