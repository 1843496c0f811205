"""How alarms stand, and the history of how they came to: written in the transaction of what moved them."""

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import Standing, Transition

_STEPS = (
    "SELECT t.time_us, t.kind, t.subject, before, happening, after, t.raised_us, by, why, until_us, via,"
    " change, e.time_us, e.raised_us, tension_kpa, limit_kpa, evidence"
    " FROM alarm_transition AS t LEFT JOIN alarm_event AS e ON e.id = event_id"
)
_EVENTS = "SELECT change, time_us, raised_us, tension_kpa, limit_kpa, evidence FROM alarm_event"


def load_standings(connection: sqlite3.Connection) -> dict[AlarmKey, Standing]:
    """How each alarm stands that is not at rest, by name."""
    rows = connection.execute("SELECT * FROM alarm_standing ORDER BY kind, subject")
    return {
        AlarmKey(AlarmKind(kind), subject): Standing(State(state), bool(is_on), *rest)
        for kind, subject, state, is_on, *rest in rows
    }


def save_standings(connection: sqlite3.Connection, changed: Mapping[AlarmKey, Standing]) -> None:
    """Write how alarms stand now, within a transaction; those at rest are kept no more."""
    gone = [tuple(key) for key, one in changed.items() if one.state is State.NORMAL]
    kept = [
        (
            *key, one.state, one.is_on, one.since_us, one.raised_us, one.by, one.why, one.via, one.until_us,
            one.acknowledged_us, one.repeated_us, one.by_design,
        )
        for key, one in changed.items() if one.state is not State.NORMAL
    ]  # fmt: skip
    connection.executemany("DELETE FROM alarm_standing WHERE kind = ? AND subject = ?", gone)
    connection.executemany("INSERT OR REPLACE INTO alarm_standing VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?)", kept)


def save_events(connection: sqlite3.Connection, events: Iterable[AlarmEvent], recorded_us: int) -> list[int]:
    """Append what judges said to its history, within a transaction; give the number of each row."""
    return [
        int(
            connection.execute(
                "INSERT INTO alarm_event (recorded_us, time_us, kind, subject, change, raised_us, tension_kpa,"
                " limit_kpa, evidence) VALUES (?,?,?,?,?,?,?,?,?)",
                (
                    recorded_us, e.time_us, e.key.kind, e.key.subject, e.change, e.raised_us, e.tension_kpa,
                    e.limit_kpa, json.dumps(e.evidence, ensure_ascii=False),
                ),
            ).lastrowid
            or 0
        )
        for e in events
    ]  # fmt: skip


def save_steps(
    connection: sqlite3.Connection, steps: Iterable[Transition], events: Sequence[AlarmEvent], rows: Sequence[int]
) -> None:
    """Append steps to the history, within a transaction.

    Args:
        events, rows: what judges said, and the numbers of its rows.
    """
    row_of = {id(event): row for event, row in zip(events, rows, strict=True)}
    connection.executemany(
        "INSERT INTO alarm_transition (time_us, kind, subject, before, happening, after, raised_us, by, why, until_us,"
        " via, event_id) VALUES (?,?,?,?,?,?,?,?,?,?,?,?)",
        [
            (
                s.time_us, s.key.kind, s.key.subject, s.before, s.happening, s.after, s.raised_us, s.by, s.why,
                s.until_us, s.via, row_of.get(id(s.event)),
            )
            for s in steps
        ],
    )  # fmt: skip


def history(connection: sqlite3.Connection, start_us: int = 0, end_us: int = 2**63 - 1) -> Iterator[Transition]:
    """Steps that were taken in ``start_us <= time < end_us``, in the order they were."""
    rows = connection.execute(f"{_STEPS} WHERE t.time_us >= ? AND t.time_us < ? ORDER BY t.id", (start_us, end_us))
    for time_us, kind, subject, before, happening, after, raised_us, by, why, until_us, via, *said in rows:
        key = AlarmKey(AlarmKind(kind), subject)
        event = None if said[0] is None else _event(key, said)
        yield Transition(
            key, time_us, State(before), Happening(happening), State(after), raised_us, by, why, until_us, event, via
        )


def raise_of(connection: sqlite3.Connection, key: AlarmKey, raised_us: int) -> AlarmEvent | None:
    """What the judge said when it raised an episode; ``None``: it is not known."""
    row = connection.execute(
        f"{_EVENTS} WHERE raised_us = ? AND subject = ? AND kind = ? AND change = 'raised' ORDER BY id DESC LIMIT 1",
        (raised_us, key.subject, key.kind),
    ).fetchone()
    return None if row is None else _event(key, row)


def _event(key: AlarmKey, row: Sequence[Any]) -> AlarmEvent:
    change, time_us, raised_us, tension_kpa, limit_kpa, evidence = row
    return AlarmEvent(key, Change(change), time_us, raised_us, tension_kpa, limit_kpa, json.loads(evidence))


def steps_after(
    connection: sqlite3.Connection, number: int, start_us: int, end_us: int, limit: int
) -> list[tuple[int, Transition]]:
    """Steps behind the one of a number, taken in ``start_us <= time < end_us``, each with its own; oldest first."""
    rows = connection.execute(
        "SELECT id, time_us, kind, subject, before, happening, after, raised_us, by, why, until_us, via"
        " FROM alarm_transition WHERE id > ? AND time_us >= ? AND time_us < ? ORDER BY id LIMIT ?",
        (number, start_us, end_us, limit),
    )
    return [
        (
            found,
            Transition(
                AlarmKey(AlarmKind(kind), subject), time_us, State(before), Happening(happening), State(after),
                raised_us, by, why, until_us, None, via,
            ),
        )
        for found, time_us, kind, subject, before, happening, after, raised_us, by, why, until_us, via in rows
    ]  # fmt: skip
