"""Keeping over a restart what sources, sinks and notifiers cannot do, and when sources could again."""

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


def load_reached(connection: sqlite3.Connection) -> dict[str, int]:
    """When each source was there again."""
    return dict(connection.execute("SELECT source, at_us FROM reached"))


def save_reached(connection: sqlite3.Connection, source: str, at_us: int) -> None:
    """Write down that a source is there again, within a transaction."""
    connection.execute("INSERT OR REPLACE INTO reached VALUES (?,?)", (source, at_us))
