"""The engine on a disk that fails: all of a turn happens, or nothing of it does."""

import sqlite3
from collections.abc import Callable, Iterator
from itertools import count, islice
from pathlib import Path

import pytest

from parchd.app.messages import Message, Post, SinkProgress, Tick
from parchd.contract import Notice, NoticeKind, SampleBatch
from parchd.store.cursors import Cursor
from parchd.testing.bench import MEMORY, Bench, engine_on, refuse
from parchd.testing.site import HOUR_US, MINUTE_US, START_US, batch, engine_setup_of, line, sample, small_site

INSERT, UPDATE, DELETE = sqlite3.SQLITE_INSERT, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE
COMMIT = (sqlite3.SQLITE_TRANSACTION, "COMMIT")
BEGIN = (sqlite3.SQLITE_TRANSACTION, "BEGIN")


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as running:
        running.feed(
            line(START_US, n20=30.0, n40=30.0, n60=30.0), line(START_US + 1, n20=90.0), line(START_US + 2, n20=90.0)
        )
        yield running


def dry(on_committed: Callable[[], None] | None = None) -> SampleBatch:
    """A batch that raises two irrigation alarms, and a fault with its third bad reading."""
    now_us = START_US + MINUTE_US
    return batch(
        sample("n20", now_us, 90.0), sample("n40", now_us, 65.0), sample("n60", now_us, 65.0),
        on_committed=on_committed,
    )  # fmt: skip


@pytest.mark.parametrize(
    "forbidden",
    [
        BEGIN,
        COMMIT,
        (INSERT, "journal"),
        (INSERT, "latest"),
        (INSERT, "alarm"),
        (INSERT, "vote"),
        (INSERT, "alarm_event"),
        (INSERT, "outbox"),
        (UPDATE, "outbox"),
    ],
    ids=lambda forbidden: forbidden[1],
)
def test_a_turn_that_fails_anywhere_leaves_nothing_and_succeeds_when_it_is_offered_again(
    bench: Bench, forbidden: tuple[int, str]
) -> None:
    called: list[str] = []
    messages: list[Message] = [dry(lambda: called.append("committed")), Tick()]
    before = bench.dump()
    refuse(bench.connection, *forbidden)
    for _ in range(2):
        with pytest.raises(sqlite3.DatabaseError):
            bench.turn(START_US + MINUTE_US, *messages)
    refuse(bench.connection, None)
    assert bench.dump() == before
    assert called == []
    bench.turn(START_US + MINUTE_US, *messages)
    assert called == ["committed"]
    assert bench.dump(TABLES) == undisturbed(messages)


TABLES = ("journal", "latest", "alarm", "vote", "alarm_event", "outbox", "channel")


def undisturbed(messages: list[Message]) -> list[str]:
    """What the same messages leave when nothing fails."""
    with engine_on(MEMORY) as twin:
        twin.feed(
            line(START_US, n20=30.0, n40=30.0, n60=30.0), line(START_US + 1, n20=90.0), line(START_US + 2, n20=90.0)
        )
        twin.turn(START_US + MINUTE_US, *messages)
        return twin.dump(TABLES)


def test_a_reading_that_was_rolled_back_does_not_make_its_own_repetition_late(bench: Bench) -> None:
    taken = line(START_US + MINUTE_US, n40=31.0)
    refuse(bench.connection, *COMMIT)
    with pytest.raises(sqlite3.DatabaseError):
        bench.feed(taken)
    refuse(bench.connection, None)
    bench.feed(taken)
    assert bench.rows("SELECT late FROM journal ORDER BY seq DESC LIMIT 1") == [(0,)]


def test_a_state_that_cannot_be_read_back_after_a_failure_is_read_before_the_next_turn(bench: Bench) -> None:
    """The disk fails for good for a while: reads fail too. Nothing of the failed turn may live on in memory."""
    messages: list[Message] = [dry()]
    bench.connection.set_progress_handler(lambda: 1, 1)
    for _ in range(2):
        with pytest.raises(sqlite3.OperationalError):
            bench.turn(START_US + MINUTE_US, *messages)
    bench.connection.set_progress_handler(None, 0)
    refuse(bench.connection, INSERT, "outbox")
    with pytest.raises(sqlite3.DatabaseError):
        bench.turn(START_US + MINUTE_US, *messages)
    refuse(bench.connection, sqlite3.SQLITE_READ, "vote")
    with pytest.raises(sqlite3.DatabaseError):
        bench.turn(START_US + MINUTE_US, *messages)
    refuse(bench.connection, None)
    bench.turn(START_US + MINUTE_US, *messages)
    assert bench.dump(TABLES) == undisturbed(messages)


def test_a_full_disk_is_waited_for(tmp_path: Path) -> None:
    def wet(minute: int) -> SampleBatch:
        return line(START_US + minute * MINUTE_US, n20=30.0, n40=30.0, n60=30.0)

    with engine_on(tmp_path) as bench:
        ((pages,),) = bench.rows("PRAGMA page_count")
        bench.rows(f"PRAGMA max_page_count = {pages + 2}")
        story = (wet(minute) for minute in count())
        with pytest.raises(sqlite3.OperationalError, match="full"):
            bench.feed(*islice(story, 10_000))
        ((written,),) = bench.rows("SELECT count(*) / 3 FROM journal")
        assert written > 0
        bench.rows("PRAGMA max_page_count = 1000000")
        bench.feed(wet(written))
        assert bench.rows("SELECT count(*), sum(late), count(DISTINCT seq) FROM journal") == [
            (3 * written + 3, 0, 3 * written + 3)
        ]


def test_one_message_that_breaks_the_engine_takes_its_group_with_it_and_no_other(bench: Bench) -> None:
    poison = batch(sample("n20", 2**70, 30.0))
    before = bench.dump()
    with pytest.raises(OverflowError):
        bench.turn(START_US + MINUTE_US, dry(), poison)
    assert bench.dump() == before
    bench.turn(START_US + MINUTE_US, dry())
    assert ("irrigate-now", "zone/north", "raised") in bench.events()


@pytest.mark.parametrize(
    "message",
    [Tick(), Post(Notice("t", NoticeKind.TEST, 0, "", "", "")), SinkProgress("farm", Cursor(1))],
    ids=["tick", "post", "sink"],
)
def test_every_kind_of_message_is_undone_by_a_failure(bench: Bench, message: Message) -> None:
    before = bench.dump()
    refuse(bench.connection, *COMMIT)
    with pytest.raises(sqlite3.DatabaseError):
        bench.turn(START_US + HOUR_US, message)
    refuse(bench.connection, None)
    assert bench.dump() == before


def test_an_engine_that_cannot_write_at_its_start_says_so() -> None:
    with engine_on(MEMORY, engine_setup_of(small_site())) as bench:
        bench.connection.execute("PRAGMA query_only = 1")
        with pytest.raises(sqlite3.OperationalError):
            type(bench.engine)(bench.connection, bench.setup, START_US)
