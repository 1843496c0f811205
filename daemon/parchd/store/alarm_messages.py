"""What people were sent about alarms, for reports."""

import sqlite3
from collections.abc import Iterator


def alarm_messages(connection: sqlite3.Connection, start_us: int, end_us: int) -> Iterator[tuple[str, int]]:
    """To whom and when, in order; a digest is about no alarm of its own.

    A recipient of a notifier whom nobody named is called by both: ``people/anne@quillmere.example``.
    """
    yield from connection.execute(
        "SELECT person, time_us FROM telling WHERE kind <> 'digest' AND time_us >= ? AND time_us < ?"
        " ORDER BY time_us, id",
        (start_us, end_us),
    )
