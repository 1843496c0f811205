"""What counts once: links that were used, and commands whose id is known."""

import sqlite3
from dataclasses import dataclass

LINK_KEY = "link_key"


@dataclass(frozen=True, slots=True)
class Answered:
    """Something that was asked for and answered.

    Args:
        at_us: when.
        asked, answer: JSON; what they mean is up to who writes them.
    """

    at_us: int
    asked: str
    answer: str


def answered(connection: sqlite3.Connection, name: str) -> Answered | None:
    """What was answered under a name; ``None``: nothing, as far as is known."""
    row = connection.execute("SELECT at_us, asked, answer FROM answered WHERE name = ?", (name,)).fetchone()
    return None if row is None else Answered(*row)


def note_answer(connection: sqlite3.Connection, name: str, what: Answered, expires_us: int) -> None:
    """Write down what was answered, within a transaction."""
    connection.execute(
        "INSERT OR REPLACE INTO answered VALUES (?,?,?,?,?)", (name, what.at_us, what.asked, what.answer, expires_us)
    )


def forget_answers(connection: sqlite3.Connection, now_us: int) -> None:
    """Delete what nobody can ask for again, within a transaction."""
    connection.execute("DELETE FROM answered WHERE expires_us < ?", (now_us,))


def link_key(connection: sqlite3.Connection) -> bytes | None:
    """The key that links are signed with; ``None``: there is none yet."""
    row = connection.execute("SELECT value FROM meta WHERE key = ?", (LINK_KEY,)).fetchone()
    return None if row is None else bytes.fromhex(row[0])


def set_link_key(connection: sqlite3.Connection, key: bytes) -> None:
    """Sign links with another key from now on; none of the old ones can be used any more."""
    connection.execute("INSERT OR REPLACE INTO meta VALUES (?,?)", (LINK_KEY, key.hex()))
