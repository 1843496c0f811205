"""Reading the journal: for sinks and for people."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.alarms.book import AlarmState
from parchd.alarms.condition import Condition, Phase
from parchd.alarms.events import AlarmKey
from parchd.alarms.irrigation import Vote, ZoneState
from parchd.alarms.rules import AlarmKind
from parchd.contract import Notice, NoticeKind, Rejection
from parchd.store import cursors, reader
from parchd.store.cursors import Cursor, cursor_of
from parchd.store.database import open_writer
from parchd.store.journal import Journal
from parchd.store.outbox import Outbox
from parchd.store.states import AlarmKeeper
from parchd.testing.site import MINUTE_US, START_US, reading

MEMORY = Path(":memory:")


@pytest.fixture
def connection() -> Iterator[sqlite3.Connection]:
    with closing(open_writer(MEMORY)) as opened:
        yield opened


def write(connection: sqlite3.Connection, *minutes: int) -> None:
    journal = Journal(connection)
    with journal.transaction():
        journal.write([reading("bus1/n20", START_US + minute * MINUTE_US, 30.0) for minute in minutes])


@settings(deadline=None)
@given(st.lists(st.integers(0, 99), unique=True, max_size=20), st.integers(1, 7))
def test_a_sink_that_follows_the_cursor_gets_each_row_once_in_the_order_of_writing(
    minutes: list[int], batch_rows: int
) -> None:
    with closing(open_writer(MEMORY)) as connection:
        write(connection, *minutes)
        seq, followed = 0, []
        while rows := reader.rows_after(connection, {}, seq, batch_rows):
            assert len(rows) <= batch_rows
            followed += [(row.time_us - START_US) // MINUTE_US for row in rows]
            seq = rows[-1].seq
        assert followed == minutes


def test_a_span_has_its_start_and_not_its_end_and_runs_by_time(connection: sqlite3.Connection) -> None:
    write(connection, 3, 1, 2, 0)
    rows = reader.span(connection, {}, START_US + MINUTE_US, START_US + 3 * MINUTE_US)
    assert [(row.time_us - START_US) // MINUTE_US for row in rows] == [1, 2]


def test_active_alarms_are_those_annunciated_the_oldest_first(connection: sqlite3.Connection) -> None:
    def key(name: str) -> AlarmKey:
        return AlarmKey(AlarmKind.SILENT, f"tensiometer/{name}")

    AlarmKeeper(AlarmState()).save(
        connection,
        AlarmState(
            faults={
                key("a"): Condition(Phase.ACTIVE, 9, 0, 9),
                key("b"): Condition(Phase.CLEARING, 20, 1, 7),
                key("c"): Condition(Phase.RAISING, 5, 1),
            }
        ),
    )
    assert reader.active_alarms(connection) == [
        reader.ActiveAlarm(key("b"), 7, clearing=True), reader.ActiveAlarm(key("a"), 9, clearing=False),
    ]  # fmt: skip


def test_votes_are_found_by_rule_and_tensiometer(connection: sqlite3.Connection) -> None:
    zone = ZoneState({"north-20": Vote(5, 30.0), "north-40": Vote(6, 40.0)}, {})
    AlarmKeeper(AlarmState()).save(connection, AlarmState({"zone/north": zone}))
    assert reader.votes(connection) == {"zone/north": {"north-20": (5, 30.0), "north-40": (6, 40.0)}}


def test_a_new_sink_begins_at_the_first_row(connection: sqlite3.Connection) -> None:
    assert cursor_of(connection, "farm") == Cursor()


def test_a_cursor_never_goes_back_and_rejected_rows_are_set_aside_once(connection: sqlite3.Connection) -> None:
    write(connection, 0, 1, 2)
    cursors.advance(connection, "farm", Cursor(2), [Rejection(1, "no such field")], "", 10)
    cursors.advance(connection, "farm", Cursor(1), [Rejection(1, "said again")], "x" * 1000, 11)
    assert cursor_of(connection, "farm") == Cursor(2)
    assert reader.sink_positions(connection) == [reader.SinkPosition("farm", 1, 11, "x" * 500, 1)]
    assert connection.execute("SELECT seq, reason FROM rejected").fetchall() == [(1, "no such field")]


def test_messages_are_counted_by_notifier_and_state(connection: sqlite3.Connection) -> None:
    outbox = Outbox(connection)
    for name in ("a", "b", "c"):
        outbox.add("mail", "anne", Notice(name, NoticeKind.TEST, 0, "", "", ""), 0)
    outbox.release([1], 0)
    outbox.retry(1, 5, "busy")
    assert reader.outbox_counts(connection) == [
        reader.OutboxCount("mail", "ready", 1, "busy"), reader.OutboxCount("mail", "waiting", 2, ""),
    ]  # fmt: skip


def test_disabled_notifiers_are_listed_with_what_the_receiver_said(connection: sqlite3.Connection) -> None:
    Outbox(connection).disable("hook", "mark 1", 0, "410 Gone")
    assert reader.disabled_notifiers(connection) == {"hook": "410 Gone"}
