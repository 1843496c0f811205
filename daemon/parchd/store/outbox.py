"""Messages on their way to people: written with the alarm that made them, gone only when delivered."""

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from parchd.clock import US_PER_S
from parchd.contract import Notice, NoticeKind, Priority
from parchd.store.dispatch import Waiting

RATE_WINDOW_US = 3600 * US_PER_S


@dataclass(frozen=True, slots=True)
class Letter:
    """One message that may leave now."""

    row_id: int
    recipient: str
    attempts: int
    notice: Notice


class Outbox:
    """The writing end of the outbox; every call stands within a transaction."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def add(self, notifier: str, recipient: str, notice: Notice, now_us: int) -> None:
        """Queue a message; one with a known id is queued already."""
        self._connection.execute(
            "INSERT OR IGNORE INTO outbox (notice_id, notifier, recipient, kind, priority, created_us, state, notice)"
            " VALUES (?,?,?,?,?,?,'waiting',?)",
            (notice.id, notifier, recipient, notice.kind, int(notice.priority), now_us, notice.to_json()),
        )

    def waiting(self, notifier: str) -> list[Waiting]:
        """What is held by rate or quiet hours, oldest first."""
        rows = self._connection.execute(
            "SELECT id, recipient, kind, priority, created_us FROM outbox WHERE notifier = ? AND state = 'waiting'"
            " ORDER BY id",
            (notifier,),
        )
        return [Waiting(i, r, NoticeKind(k), Priority(p), c) for i, r, k, p, c in rows]

    def notices(self, row_ids: Iterable[int]) -> list[Notice]:
        """The messages of these rows, in their order."""
        query = "SELECT notice FROM outbox WHERE id = ?"
        return [Notice.from_json(self._connection.execute(query, (i,)).fetchone()[0]) for i in row_ids]

    def released_us(self, notifier: str, now_us: int) -> dict[str, list[int]]:
        """When messages were sent to each recipient within the last hour; those on their way count as sent now.

        A time in the future does not count: it is that of a clock which was set back since. Nor do messages that
        somebody asked for again: they must not hold up an alarm.
        """
        rows = self._connection.execute(
            "SELECT recipient, ? FROM outbox WHERE notifier = ? AND state = 'ready' AND again_us IS NULL"
            " UNION ALL SELECT recipient, done_us FROM outbox WHERE notifier = ? AND state = 'sent'"
            " AND done_us > ? AND done_us <= ? AND again_us IS NULL",
            (now_us, notifier, notifier, now_us - RATE_WINDOW_US, now_us),
        )
        released: dict[str, list[int]] = {}
        for recipient, time_us in rows:
            released.setdefault(recipient, []).append(time_us)
        return released

    def created_us(self, row_id: int) -> int | None:
        """When a message was queued, or asked for again; ``None``: there is no such row."""
        query = "SELECT COALESCE(again_us, created_us) FROM outbox WHERE id = ?"
        row = self._connection.execute(query, (row_id,)).fetchone()
        return None if row is None else int(row[0])

    def recipient(self, row_id: int) -> str:
        """Whom a message is for; empty: there is no such row."""
        row = self._connection.execute("SELECT recipient FROM outbox WHERE id = ?", (row_id,)).fetchone()
        return "" if row is None else str(row[0])

    def release(self, row_ids: Iterable[int], now_us: int) -> None:
        """Let messages go."""
        rows = [(now_us, i) for i in row_ids]
        self._connection.executemany("UPDATE outbox SET state = 'ready', next_us = ? WHERE id = ?", rows)

    def again(self, notifier: str, span_us: tuple[int, int], now_us: int, *, undelivered: bool) -> int:
        """Let messages go once more under their ids; return how many.

        What went into another message does not go by itself: that other one does.

        Args:
            span_us: begin and end of when they were queued.
            undelivered: only those that never arrived.
        """
        states = ("refused",) if undelivered else ("refused", "sent")
        changed = self._connection.execute(
            "UPDATE outbox SET state = 'ready', again_us = ?, next_us = ?, attempts = 0, done_us = NULL, trouble = ''"
            " WHERE notifier = ? AND created_us >= ? AND created_us < ? AND state IN (?, ?)",
            (now_us, now_us, notifier, *span_us, states[0], states[-1]),
        )
        return changed.rowcount

    def merged(self, row_ids: Iterable[int], now_us: int) -> None:
        """Mark messages whose content went into another."""
        self._connection.executemany(
            "UPDATE outbox SET state = 'merged', done_us = ? WHERE id = ?", [(now_us, i) for i in row_ids]
        )

    def sent(self, row_id: int, now_us: int) -> None:
        self._connection.execute(
            "UPDATE outbox SET state = 'sent', done_us = ?, attempts = attempts + 1, trouble = '' WHERE id = ?",
            (now_us, row_id),
        )

    def retry(self, row_id: int, next_us: int, trouble: str) -> None:
        self._connection.execute(
            "UPDATE outbox SET next_us = ?, attempts = attempts + 1, trouble = ? WHERE id = ?",
            (next_us, trouble[:500], row_id),
        )

    def refused(self, row_id: int, now_us: int, trouble: str) -> None:
        self._connection.execute(
            "UPDATE outbox SET state = 'refused', done_us = ?, attempts = attempts + 1, trouble = ? WHERE id = ?",
            (now_us, trouble[:500], row_id),
        )

    def disable(self, notifier: str, fingerprint: str, now_us: int, reason: str) -> None:
        self._connection.execute(
            "INSERT OR REPLACE INTO disabled VALUES (?,?,?,?)", (notifier, fingerprint, now_us, reason[:500])
        )

    def disabled(self) -> dict[str, str]:
        """Notifiers whose receivers want no more messages, each with the reason."""
        return dict(self._connection.execute("SELECT notifier, reason FROM disabled"))

    def enable_changed(self, notifier: str, fingerprint: str) -> bool:
        """Enable a notifier again whose configuration is not the one that was disabled; true if there was one."""
        deleted = self._connection.execute(
            "DELETE FROM disabled WHERE notifier = ? AND fingerprint <> ?", (notifier, fingerprint)
        )
        return deleted.rowcount > 0

    def forget_before(self, time_us: int) -> None:
        """Delete messages that were done with before ``time_us``."""
        self._connection.execute(
            "DELETE FROM outbox WHERE state NOT IN ('waiting', 'ready') AND done_us < ?", (time_us,)
        )


def next_letter(connection: sqlite3.Connection, notifier: str, now_us: int) -> Letter | None:
    """The message that is due first at one notifier; ``None``: nothing is due, or the notifier is disabled.

    Messages to one recipient keep their order: a younger one waits while an older one is being tried again. Those that
    somebody asked for again come after all others.
    """
    row = connection.execute(
        "SELECT id, recipient, attempts, notice FROM outbox AS o WHERE notifier = ? AND state = 'ready'"
        " AND next_us <= ? AND NOT EXISTS (SELECT 1 FROM outbox AS older WHERE older.notifier = o.notifier"
        "   AND older.recipient = o.recipient AND older.state = 'ready'"
        "   AND (older.again_us IS NOT NULL, older.id) < (o.again_us IS NOT NULL, o.id))"
        " AND NOT EXISTS (SELECT 1 FROM disabled WHERE disabled.notifier = o.notifier)"
        " ORDER BY again_us IS NOT NULL, id LIMIT 1",
        (notifier, now_us),
    ).fetchone()
    if row is None:
        return None
    row_id, recipient, attempts, notice = row
    return Letter(row_id, recipient, attempts, Notice.from_json(notice))
