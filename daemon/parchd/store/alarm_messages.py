"""What people were sent about alarms, for reports."""

import sqlite3
from collections.abc import Iterator

ABOUT_NO_ALARM = ("digest", "test")


def alarm_messages(connection: sqlite3.Connection, start_us: int, end_us: int) -> Iterator[tuple[str, int]]:
    """To whom and when, in order; the outbox keeps 30 days. One that is not delivered yet counts when it was queued.

    What went into another message is counted with that one.
    """
    yield from connection.execute(
        "SELECT notifier || ': ' || recipient, COALESCE(done_us, created_us) AS time_us FROM outbox"
        " WHERE state <> 'merged' AND kind NOT IN (?, ?) AND time_us >= ? AND time_us < ? ORDER BY time_us, id",
        (*ABOUT_NO_ALARM, start_us, end_us),
    )
