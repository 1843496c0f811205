"""How far sinks have come, and what they are to copy next."""

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from parchd.contract import Place, Rejection, StoredReading
from parchd.store import reader

LONGEST_TEXT = 500
BEFORE_ALL = (-1, -1)


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a sink stands.

    Args:
        seq: everything up to it was taken.
        rewritten: the last span computed anew that was taken whole.
        position: time and channel of the last row taken of the span after that.
    """

    seq: int = 0
    rewritten: int = 0
    position: tuple[int, int] = BEFORE_ALL


def cursor_of(connection: sqlite3.Connection, sink: str) -> Cursor:
    """Read where a sink stands; a new one copies all there is, so that no span needs to come once more."""
    row = connection.execute("SELECT seq, rewritten FROM sink WHERE name = ?", (sink,)).fetchone()
    if row is not None:
        return Cursor(*row)
    (newest,) = connection.execute("SELECT coalesce(max(id), 0) FROM rewritten").fetchone()
    return Cursor(0, newest)


def rows_next(
    connection: sqlite3.Connection, places: Mapping[str, Place], cursor: Cursor, limit: int
) -> tuple[list[StoredReading], Cursor]:
    """Give what a sink is to take next, and where it stands then: new rows first, then spans computed anew."""
    rows = reader.rows_after(connection, places, cursor.seq, limit)
    if rows:
        return rows, replace(cursor, seq=rows[-1].seq)
    query = "SELECT id, start_us, end_us, channels FROM rewritten WHERE id > ? ORDER BY id"
    for span, start_us, end_us, channels in connection.execute(query, (cursor.rewritten,)):
        after = max(cursor.position, (start_us, -1))
        rows, last = reader.rows_within(connection, places, after, end_us, json.loads(channels), limit)
        if len(rows) == limit:
            return rows, replace(cursor, position=last)
        cursor = replace(cursor, rewritten=span, position=BEFORE_ALL)
        if rows:
            return rows, cursor
    return [], cursor


def note_rewritten(connection: sqlite3.Connection, span_us: tuple[int, int], channels: Sequence[int]) -> None:
    """Have sinks copy a span once more, within a transaction."""
    connection.execute(
        "INSERT INTO rewritten (start_us, end_us, channels) VALUES (?,?,?)", (*span_us, json.dumps(list(channels)))
    )


def advance(
    connection: sqlite3.Connection,
    sink: str,
    cursor: Cursor,
    rejections: Iterable[Rejection],
    trouble: str,
    now_us: int,
) -> None:
    """Move a sink's cursor, never back, and set aside what its server will never take; in a transaction."""
    connection.execute(
        "INSERT INTO sink (name, seq, rewritten, updated_us, trouble) VALUES (?,?,?,?,?)"
        " ON CONFLICT (name) DO UPDATE SET seq = max(seq, excluded.seq),"
        " rewritten = max(rewritten, excluded.rewritten), updated_us = excluded.updated_us, trouble = excluded.trouble",
        (sink, cursor.seq, cursor.rewritten, now_us, trouble[:LONGEST_TEXT]),
    )
    rows = [(sink, rejection.seq, now_us, rejection.reason[:LONGEST_TEXT]) for rejection in rejections]
    connection.executemany("INSERT OR IGNORE INTO rejected VALUES (?,?,?,?)", rows)
