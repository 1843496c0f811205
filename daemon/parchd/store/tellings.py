"""Keeping what must be remembered to tell people, and what they were told."""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.people.state import Episode, Flood, Item, PersonState, TellingState
from parchd.people.telling import Telling
from parchd.store.plain import from_text, to_text

_NOBODY = PersonState()


def load_telling_state(connection: sqlite3.Connection) -> TellingState:
    """Read what was remembered."""
    persons = {
        person: from_text(PersonState, text, items=_items(connection, person))
        for person, text in connection.execute("SELECT person, state FROM told_person ORDER BY person")
    }
    episodes = {
        AlarmKey(AlarmKind(kind), subject): from_text(Episode, text)
        for kind, subject, text in connection.execute("SELECT * FROM told_alarm ORDER BY kind, subject")
    }
    raised_us = {
        AlarmKey(AlarmKind(kind), subject): from_text(tuple[int, ...], text)
        for kind, subject, text in connection.execute("SELECT * FROM told_raise ORDER BY kind, subject")
    }
    return TellingState(persons, episodes, raised_us)


class TellingKeeper:
    """Writes the parts of what is remembered that changed since it was last written; within a transaction."""

    def __init__(self, state: TellingState) -> None:
        self._before = state

    def save(self, connection: sqlite3.Connection, state: TellingState, now_us: int) -> None:
        """Write the changes; people who are gone are forgotten."""
        before, self._before = self._before, state
        for person in sorted(before.persons.keys() - state.persons.keys()):
            _save_person(connection, person, before.persons[person], _NOBODY, now_us)
            connection.execute("DELETE FROM told_person WHERE person = ?", (person,))
        for person, after in state.persons.items():
            if (known := before.persons.get(person, _NOBODY)) is not after:
                _save_person(connection, person, known, after, now_us)
        _save_by_alarm(connection, "told_alarm", before.episodes, state.episodes)
        _save_by_alarm(connection, "told_raise", before.raised_us, state.raised_us)


def note_tellings(connection: sqlite3.Connection, tellings: Iterable[Telling]) -> None:
    """Append messages to what people were sent, within a transaction."""
    connection.executemany(
        "INSERT INTO telling (time_us, person, kind, priority, alarms, notice) VALUES (?,?,?,?,?,?)",
        [
            (t.time_us, t.person.key, t.kind, int(t.priority), sum(item.asks for item in t.items), t.name)
            for t in tellings
        ],
    )


def forget_tellings_before(connection: sqlite3.Connection, time_us: int) -> None:
    """Delete what people were sent before ``time_us``, and floods that began before it."""
    connection.execute("DELETE FROM telling WHERE time_us < ?", (time_us,))
    connection.execute("DELETE FROM alarm_flood WHERE start_us < ? AND end_us IS NOT NULL", (time_us,))


def _items(connection: sqlite3.Connection, person: str) -> tuple[Item, ...]:
    rows = connection.execute("SELECT item FROM told_item WHERE person = ? ORDER BY since_us, id", (person,))
    return tuple(from_text(Item, text) for (text,) in rows)


def _save_person(
    connection: sqlite3.Connection, person: str, before: PersonState, after: PersonState, now_us: int
) -> None:
    if replace(before, items=()) != replace(after, items=()) or before is _NOBODY:
        text = to_text(after, leave_out=("items",))
        connection.execute("INSERT OR REPLACE INTO told_person VALUES (?,?)", (person, text))
    if before.items != after.items:
        _save_items(connection, person, before.items, after.items)
    if before.flood != after.flood:
        _save_flood(connection, person, before.flood, after.flood, now_us)


def _save_items(connection: sqlite3.Connection, person: str, before: Sequence[Item], after: Sequence[Item]) -> None:
    gone = [(person, *_name(item)) for item in before if item not in after]
    new = [(person, *_name(item), item.since_us, to_text(item)) for item in after if item not in before]
    connection.executemany("DELETE FROM told_item WHERE person = ? AND lane = ? AND thread = ? AND kind = ?", gone)
    connection.executemany(
        "INSERT OR REPLACE INTO told_item (person, lane, thread, kind, since_us, item) VALUES (?,?,?,?,?,?)", new
    )


def _name(item: Item) -> tuple[str, str, str]:
    return item.lane, item.thread, item.kind


def _save_flood(
    connection: sqlite3.Connection, person: str, before: Flood | None, after: Flood | None, now_us: int
) -> None:
    if after is not None:
        connection.execute(
            "INSERT OR REPLACE INTO alarm_flood VALUES (?,?,NULL,?)", (person, after.start_us, after.alarms)
        )
    if before is not None and (after is None or after.start_us != before.start_us):
        end_us = max(now_us, before.start_us)
        query = "UPDATE alarm_flood SET end_us = ? WHERE person = ? AND start_us = ?"
        connection.execute(query, (end_us, person, before.start_us))


def _save_by_alarm(
    connection: sqlite3.Connection, table: str, before: Mapping[AlarmKey, object], after: Mapping[AlarmKey, object]
) -> None:
    gone = [tuple(key) for key in before if key not in after]
    changed = [(*key, to_text(one)) for key, one in after.items() if before.get(key) is not one]
    connection.executemany(f"DELETE FROM {table} WHERE kind = ? AND subject = ?", gone)  # noqa: S608 - our own names
    connection.executemany(f"INSERT OR REPLACE INTO {table} VALUES (?,?,?)", changed)  # noqa: S608 - our own names
