"""Keeping over a restart what sources, sinks and notifiers cannot do."""

import sqlite3

from parchd.alarms.health import Trouble, Troubles


def load_troubles(connection: sqlite3.Connection) -> Troubles:
    """Read all troubles."""
    troubles: Troubles = {}
    for subject, part, since_us, text, final in connection.execute("SELECT * FROM trouble"):
        troubles.setdefault(subject, {})[part] = Trouble(since_us, text, bool(final))
    return troubles


def save_troubles(connection: sqlite3.Connection, troubles: Troubles, subject: str) -> None:
    """Write the troubles of one subject, within a transaction."""
    connection.execute("DELETE FROM trouble WHERE subject = ?", (subject,))
    rows = [(subject, part, *trouble) for part, trouble in troubles.get(subject, {}).items()]
    connection.executemany("INSERT INTO trouble VALUES (?,?,?,?,?)", rows)
