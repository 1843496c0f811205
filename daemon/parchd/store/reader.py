"""Reading the journal: for sinks and for people."""

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from parchd.alarms.condition import Change, Phase
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.rules import AlarmKind
from parchd.contract import Cause, Flag, Place, StoredReading, Unit
from parchd.store.codes import UNIT_OF_CODE

_COLUMNS = (
    "seq, time_us, name, value, unit, gauge_kpa, tension_kpa, flag, cause, late, calibration, uncertainty_kpa"
    " FROM journal JOIN channel ON channel.id = channel_id"
)


@dataclass(frozen=True, slots=True)
class Latest:
    """The newest believed sample of a channel."""

    channel: str
    time_us: int
    value: float | None
    unit: Unit
    gauge_kpa: float | None
    tension_kpa: float | None
    flag: Flag
    cause: Cause
    heard_us: int
    uncertainty_kpa: float | None = None


@dataclass(frozen=True, slots=True)
class ActiveAlarm:
    """An alarm that is annunciated now."""

    key: AlarmKey
    raised_us: int
    clearing: bool


@dataclass(frozen=True, slots=True)
class SinkPosition:
    """How far a sink has come, and what holds it up (empty: nothing)."""

    name: str
    behind: int
    updated_us: int
    trouble: str
    rejected: int


@dataclass(frozen=True, slots=True)
class OutboxCount:
    """Messages of one notifier in one state."""

    notifier: str
    state: str
    count: int
    trouble: str


def rows_after(
    connection: sqlite3.Connection, places: Mapping[str, Place], seq: int, limit: int
) -> list[StoredReading]:
    """The next rows in the order of writing, at most ``limit``."""
    query = f"SELECT {_COLUMNS} WHERE seq > ? ORDER BY seq LIMIT ?"
    return [_stored(row, places) for row in connection.execute(query, (seq, limit))]


def rows_within(
    connection: sqlite3.Connection,
    places: Mapping[str, Place],
    after: tuple[int, int],
    end_us: int,
    channels: Sequence[int],
    limit: int,
) -> tuple[list[StoredReading], tuple[int, int]]:
    """Rows of some channels in the order of time, at most ``limit``, and time and channel of the last of them.

    Args:
        after: time and channel of the row before the first.
        end_us: where the span ends; it does not belong to it.
        channels: numbers of channels.
    """
    marks = ",".join("?" * len(channels))
    query = (
        f"SELECT channel_id, {_COLUMNS} WHERE (time_us, channel_id) > (?, ?) AND time_us < ?"
        f" AND channel_id IN ({marks}) ORDER BY time_us, channel_id LIMIT ?"
    )
    rows = connection.execute(query, (*after, end_us, *channels, limit)).fetchall()
    last = (rows[-1][2], rows[-1][0]) if rows else after
    return [_stored(row[1:], places) for row in rows], last


def span(
    connection: sqlite3.Connection, places: Mapping[str, Place], start_us: int, end_us: int
) -> Iterator[StoredReading]:
    """All rows measured in ``start_us <= time < end_us``, in the order of time."""
    query = f"SELECT {_COLUMNS} WHERE time_us >= ? AND time_us < ? ORDER BY time_us, channel_id"
    for row in connection.execute(query, (start_us, end_us)):
        yield _stored(row, places)


def latest(connection: sqlite3.Connection) -> dict[str, Latest]:
    """The newest believed sample of every channel, by channel."""
    rows = connection.execute(
        "SELECT name, time_us, value, unit, gauge_kpa, tension_kpa, flag, cause, heard_us, uncertainty_kpa"
        " FROM latest JOIN channel ON channel.id = channel_id ORDER BY name"
    )
    return {
        name: Latest(name, time_us, value, UNIT_OF_CODE[unit], gauge, tension, Flag(flag), Cause(cause), heard_us, u)
        for name, time_us, value, unit, gauge, tension, flag, cause, heard_us, u in rows
    }


def first_us(connection: sqlite3.Connection) -> int | None:
    """Time of the oldest reading that is kept; ``None``: there is none."""
    row = connection.execute("SELECT min(time_us) FROM journal").fetchone()
    return None if row[0] is None else int(row[0])


def active_alarms(connection: sqlite3.Connection) -> list[ActiveAlarm]:
    """Alarms that are active now, the oldest first."""
    rows = connection.execute(
        "SELECT kind, subject, raised_us, phase FROM alarm WHERE phase IN ('active', 'clearing') ORDER BY raised_us"
    )
    return [ActiveAlarm(AlarmKey(AlarmKind(k), s), r, Phase(p) is Phase.CLEARING) for k, s, r, p in rows]


def events(connection: sqlite3.Connection, start_us: int, end_us: int) -> Iterator[AlarmEvent]:
    """What happened to alarms in ``start_us <= time < end_us``, in the order it was recorded."""
    rows = connection.execute(
        "SELECT kind, subject, change, time_us, raised_us, tension_kpa, limit_kpa, evidence FROM alarm_event"
        " WHERE time_us >= ? AND time_us < ? ORDER BY id",
        (start_us, end_us),
    )
    for kind, subject, change, time_us, raised_us, tension_kpa, limit_kpa, evidence in rows:
        key = AlarmKey(AlarmKind(kind), subject)
        yield AlarmEvent(key, Change(change), time_us, raised_us, tension_kpa, limit_kpa, json.loads(evidence))


def last_trusted(
    connection: sqlite3.Connection, channel: str, begin_us: int, end_us: int, decides: Callable[[int], bool]
) -> tuple[int, float] | None:
    """The last reading of a channel (time, kPa) within a span that may decide; ``None``: there is none."""
    rows = connection.execute(
        "SELECT time_us, tension_kpa FROM journal WHERE time_us >= ? AND time_us < ?"
        " AND channel_id = (SELECT id FROM channel WHERE name = ?) AND flag IN (1, 2) AND NOT late"
        " AND tension_kpa IS NOT NULL ORDER BY time_us DESC",
        (begin_us, end_us, channel),
    )
    return next(((time_us, tension_kpa) for time_us, tension_kpa in rows if decides(time_us)), None)


def votes(connection: sqlite3.Connection) -> dict[str, dict[str, tuple[int, float]]]:
    """The last deciding reading of each tensiometer (time, kPa), by the subject of the irrigation rule."""
    found: dict[str, dict[str, tuple[int, float]]] = {}
    for subject, tensiometer, time_us, tension_kpa, _ in connection.execute("SELECT * FROM vote"):
        found.setdefault(subject, {})[tensiometer] = (time_us, tension_kpa)
    return found


def sink_positions(connection: sqlite3.Connection) -> list[SinkPosition]:
    """How far each sink has come."""
    rows = connection.execute(
        "SELECT name, (SELECT count(*) FROM journal WHERE journal.seq > sink.seq), updated_us, trouble,"
        " (SELECT count(*) FROM rejected WHERE rejected.sink = sink.name) FROM sink ORDER BY name"
    )
    return [SinkPosition(*row) for row in rows]


def outbox_counts(connection: sqlite3.Connection) -> list[OutboxCount]:
    """How many messages of each notifier stand where, with the trouble of one of them."""
    rows = connection.execute(
        "SELECT notifier, state, count(*), max(trouble) FROM outbox GROUP BY notifier, state ORDER BY notifier, state"
    )
    return [OutboxCount(*row) for row in rows]


def disabled_notifiers(connection: sqlite3.Connection) -> dict[str, str]:
    """Notifiers whose receiver wants no more, with what it said."""
    return dict(connection.execute("SELECT notifier, reason FROM disabled"))


def _stored(row: tuple[Any, ...], places: Mapping[str, Place]) -> StoredReading:
    seq, time_us, name, value, unit, gauge_kpa, tension_kpa, flag, cause, late, calibration, u = row
    return StoredReading(
        seq, time_us, name, places.get(name), value, UNIT_OF_CODE[unit], gauge_kpa, tension_kpa, Flag(flag),
        Cause(cause), bool(late), calibration, u,
    )  # fmt: skip
