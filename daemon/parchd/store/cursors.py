"""How far sinks have come: written by the engine for them."""

import sqlite3
from collections.abc import Iterable

from parchd.contract import Rejection

LONGEST_TEXT = 500


def advance(
    connection: sqlite3.Connection, sink: str, seq: int, rejections: Iterable[Rejection], trouble: str, now_us: int
) -> None:
    """Move a sink's cursor to ``seq``, never back, and set aside what its server will never take; in a transaction."""
    connection.execute(
        "INSERT INTO sink VALUES (?,?,?,?) ON CONFLICT (name) DO UPDATE SET seq = max(seq, excluded.seq),"
        " updated_us = excluded.updated_us, trouble = excluded.trouble",
        (sink, seq, now_us, trouble[:LONGEST_TEXT]),
    )
    rows = [(sink, rejection.seq, now_us, rejection.reason[:LONGEST_TEXT]) for rejection in rejections]
    connection.executemany("INSERT OR IGNORE INTO rejected VALUES (?,?,?,?)", rows)
