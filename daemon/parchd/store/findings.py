"""What the diagnosis said: findings from their begin to their end, and events. Nothing is ever deleted."""

import json
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from parchd.diagnosis.findings import End, Event, Fact, Finding, FindingKey
from parchd.diagnosis.kinds import EventKind, FindingKind

_SELECT = (
    'SELECT kind, subject, start_us, found_us, confidence, facts, others, ended_us, "end", thread, recorded_us,'
    " closed_us, by, because FROM finding"
)


@dataclass(frozen=True, slots=True)
class FindingRecord:
    """A finding with what is known of it beside the evidence.

    Args:
        finding: itself.
        thread: of the messages about it; empty: nobody was told.
        recorded_us, closed_us: when it was written down, and when its end was; ``None``: it holds.
        by, because: who dismissed it, and why.
    """

    finding: Finding
    thread: str
    recorded_us: int
    closed_us: int | None
    by: str
    because: str


def begin(connection: sqlite3.Connection, finding: Finding, thread: str, now_us: int) -> None:
    """Write down a finding that holds, within a transaction."""
    connection.execute(
        "INSERT INTO finding (kind, subject, start_us, found_us, recorded_us, confidence, facts, others, thread)"
        " VALUES (?,?,?,?,?,?,?,?,?)",
        (
            finding.key.kind, finding.key.subject, finding.start_us, finding.found_us, now_us, finding.confidence,
            facts_text(finding.facts), json.dumps(finding.others, ensure_ascii=False), thread,
        ),
    )  # fmt: skip


def end(connection: sqlite3.Connection, finding: Finding, now_us: int, by: str = "", because: str = "") -> str:
    """Write down that a finding ended, and who dismissed it; within a transaction. Give the thread of its messages."""
    rows = connection.execute(
        'UPDATE finding SET ended_us = ?, "end" = ?, closed_us = ?, by = ?, because = ?'
        " WHERE kind = ? AND subject = ? AND ended_us IS NULL RETURNING thread",
        (finding.ended_us, finding.end, now_us, by, because, finding.key.kind, finding.key.subject),
    ).fetchall()
    return str(rows[0][0]) if rows else ""


def open_findings(connection: sqlite3.Connection) -> dict[FindingKey, FindingRecord]:
    """All findings that hold, in the order they were written down."""
    rows = connection.execute(f"{_SELECT} WHERE ended_us IS NULL ORDER BY id")
    return {record.finding.key: record for record in map(_record, rows)}


def last_ended(connection: sqlite3.Connection, key: FindingKey) -> FindingRecord | None:
    """The last finding of this key that ended; ``None``: there is none."""
    row = connection.execute(
        f"{_SELECT} WHERE kind = ? AND subject = ? AND ended_us IS NOT NULL ORDER BY id DESC LIMIT 1", tuple(key)
    ).fetchone()
    return None if row is None else _record(row)


def past_findings(connection: sqlite3.Connection, start_us: int, end_us: int) -> list[FindingRecord]:
    """Findings that ended and held at some time in ``start_us <= time < end_us``, in the order of their begin.

    One that was dismissed, or gave way to another, held from when it was found until that was known.
    """
    rows = connection.execute(
        f"{_SELECT} WHERE ended_us IS NOT NULL AND start_us < ?"
        " AND max(ended_us, found_us, start_us) >= ? ORDER BY start_us, id",
        (end_us, start_us),
    )
    return [_record(row) for row in rows]


def dismissed(connection: sqlite3.Connection) -> dict[FindingKey, int]:
    """When each finding was dismissed, the last time."""
    rows = connection.execute(
        "SELECT kind, subject, max(closed_us) FROM finding WHERE \"end\" = 'dismissed' GROUP BY kind, subject"
    )
    return {FindingKey(FindingKind(kind), subject): time_us for kind, subject, time_us in rows}


def spans(connection: sqlite3.Connection, subject: str) -> Iterator[tuple[FindingKind, int, int | None]]:
    """Kind, begin and end of all findings about a subject that left a span; no end: it holds."""
    rows = connection.execute(
        "SELECT kind, start_us, ended_us FROM finding WHERE subject = ?"
        " AND (ended_us IS NULL OR ended_us > start_us) ORDER BY start_us, id",
        (subject,),
    )
    for kind, start_us, ended_us in rows:
        yield FindingKind(kind), start_us, ended_us


def note_event(connection: sqlite3.Connection, event: Event, now_us: int) -> None:
    """Write down an event, or what it has grown to, within a transaction."""
    connection.execute(
        "INSERT INTO event (kind, subject, start_us, end_us, recorded_us, facts, details) VALUES (?,?,?,?,?,?,?)"
        " ON CONFLICT (start_us, kind, subject) DO UPDATE SET end_us = excluded.end_us, facts = excluded.facts,"
        " details = excluded.details",
        (
            event.kind, event.subject, event.start_us, event.end_us, now_us, facts_text(event.facts),
            json.dumps(event.details, ensure_ascii=False),
        ),
    )  # fmt: skip


def events(connection: sqlite3.Connection, start_us: int, end_us: int) -> list[Event]:
    """Events that began in ``start_us <= time < end_us``, in that order."""
    rows = connection.execute(
        "SELECT kind, subject, start_us, end_us, facts, details FROM event WHERE start_us >= ? AND start_us < ?"
        " ORDER BY start_us, kind, subject",
        (start_us, end_us),
    )
    return [Event(EventKind(k), s, b, e, facts_of(json.loads(f)), json.loads(d)) for k, s, b, e, f, d in rows]


def facts_text(facts: Iterable[Fact]) -> str:
    """Write evidence as JSON; a number that is none (NaN) stays so."""
    return json.dumps([list(fact) for fact in facts], ensure_ascii=False)


def facts_of(raw: Iterable[Any]) -> tuple[Fact, ...]:
    """Read evidence again."""
    return tuple(Fact(*fact) for fact in raw)


def _record(row: tuple[Any, ...]) -> FindingRecord:
    kind, subject, start_us, found_us, confidence, facts, others, ended_us, ended, *rest = row
    finding = Finding(
        FindingKey(FindingKind(kind), subject), start_us, found_us, confidence, facts_of(json.loads(facts)), ended_us,
        None if ended is None else End(ended), tuple(json.loads(others)),
    )  # fmt: skip
    return FindingRecord(finding, *rest)
