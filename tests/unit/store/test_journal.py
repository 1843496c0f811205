"""Writing readings, and reading them again."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.contract import Cause, Flag, Place, Reading, Sample, StoredReading, TimeSource, Unit
from parchd.store import journal as journal_module
from parchd.store import reader
from parchd.store.database import open_writer
from parchd.store.journal import Journal
from parchd.testing.bench import refuse
from parchd.testing.site import MINUTE_US, START_US, reading

PLACES = {"bus1/n20": Place("Quillmere Orchard", "north", "post 1", "north-20", 0.2)}


@pytest.fixture
def connection(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    with closing(open_writer(tmp_path / "journal.db")) as opened:
        yield opened


@pytest.fixture
def journal(connection: sqlite3.Connection) -> Journal:
    return Journal(connection)


def write(journal: Journal, *readings: Reading) -> int:
    with journal.transaction():
        return journal.write(readings)


def stored(connection: sqlite3.Connection, seq: int = 0) -> list[StoredReading]:
    return reader.rows_after(connection, PLACES, seq, 1000)


def at(minute: int, tension_kpa: float = 30.0, channel: str = "bus1/n20") -> Reading:
    return reading(channel, START_US + minute * MINUTE_US, tension_kpa)


finite = st.floats(allow_nan=False, allow_infinity=False)
readings = st.builds(
    Reading,
    sample=st.builds(
        Sample,
        channel=st.just("n20"),
        time_us=st.integers(-(2**62), 2**62),
        value=st.none() | finite,
        unit=st.sampled_from(Unit),
        time_source=st.sampled_from(TimeSource),
    ),
    channel=st.sampled_from(["bus1/n20", "bus1/spare"]),
    received_us=st.integers(0, 2**62),
    gauge_kpa=st.none() | finite,
    tension_kpa=st.none() | finite,
    flag=st.sampled_from(Flag),
    cause=st.sampled_from(Cause),
    late=st.booleans(),
    calibration=st.sampled_from(["", "2026-03-01"]),
)


@settings(max_examples=50, deadline=None)
@given(st.lists(readings, max_size=8, unique_by=lambda r: (r.channel, r.sample.time_us)))
def test_what_is_written_is_what_is_read(written: list[Reading]) -> None:
    with closing(open_writer(Path(":memory:"))) as connection:
        journal = Journal(connection)
        assert write(journal, *written) == len(written)
        assert stored(connection) == [
            StoredReading(
                seq, r.sample.time_us, r.channel, PLACES.get(r.channel), r.sample.value, r.sample.unit, r.gauge_kpa,
                r.tension_kpa, r.flag, r.cause, r.late, r.calibration,
            )
            for seq, r in enumerate(written, start=1)
        ]  # fmt: skip


def test_a_redelivered_reading_is_stored_once_and_stays_as_it_was(
    journal: Journal, connection: sqlite3.Connection
) -> None:
    assert write(journal, at(0), at(1)) == 2
    assert write(journal, replace(at(0, 99.0), late=True), at(1), at(2)) == 1
    assert [row.tension_kpa for row in stored(connection)] == [30.0, 30.0, 30.0]


def test_the_order_of_writing_only_grows_over_restarts_and_retention(
    journal: Journal, connection: sqlite3.Connection
) -> None:
    write(journal, at(0), at(1))
    connection.execute("INSERT INTO sink (name, seq, updated_us) VALUES ('farm', 2, 0)")
    with journal.transaction():
        journal.delete_before(START_US + 60 * MINUTE_US, 100)
    again = Journal(connection)
    write(again, at(100))
    assert [row.seq for row in stored(connection)] == [3]


def test_what_fails_leaves_nothing_and_the_next_write_works(journal: Journal, connection: sqlite3.Connection) -> None:
    def fail() -> None:
        with journal.transaction():
            journal.write([at(0, channel="bus1/new"), at(1)])
            raise RuntimeError("power cut")

    with pytest.raises(RuntimeError):
        fail()
    assert not connection.in_transaction
    assert stored(connection) == []
    assert write(journal, at(0, channel="bus1/other"), at(0, channel="bus1/new"), at(1)) == 3
    assert [row.channel for row in stored(connection)] == ["bus1/other", "bus1/new", "bus1/n20"]


def test_a_commit_that_fails_is_rolled_back(journal: Journal, connection: sqlite3.Connection) -> None:
    refuse(connection, sqlite3.SQLITE_TRANSACTION, "COMMIT")
    with pytest.raises(sqlite3.DatabaseError):
        write(journal, at(0))
    assert not connection.in_transaction
    refuse(connection, None)
    assert write(journal, at(0)) == 1


def test_a_transaction_that_cannot_begin_changes_nothing(
    tmp_path: Path, journal: Journal, connection: sqlite3.Connection
) -> None:
    connection.execute("PRAGMA busy_timeout = 0")
    with closing(sqlite3.connect(tmp_path / "journal.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            write(journal, at(0))
        other.execute("ROLLBACK")
    assert write(journal, at(0)) == 1


def test_no_device_fills_the_disk_by_inventing_names(
    journal: Journal, connection: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal_module, "MAX_CHANNELS", 3)
    many = [at(0, channel=f"bus1/c{n}") for n in range(10)]
    assert write(journal, *many) == 3
    assert write(journal, *(replace(r, sample=replace(r.sample, time_us=START_US + 1)) for r in many)) == 3
    assert {row.channel for row in stored(connection)} == {"bus1/c0", "bus1/c1", "bus1/c2"}


def test_the_oldest_readings_go_first_and_no_more_than_asked(journal: Journal, connection: sqlite3.Connection) -> None:
    write(journal, at(3), at(1), at(0), at(2))
    with journal.transaction():
        assert journal.delete_before(START_US + 3 * MINUTE_US, limit=2) == 2
    assert sorted(row.time_us for row in stored(connection)) == [START_US + 2 * MINUTE_US, START_US + 3 * MINUTE_US]
    with journal.transaction():
        assert journal.delete_before(START_US + 3 * MINUTE_US, limit=2) == 1
        assert journal.delete_before(START_US + 3 * MINUTE_US, limit=2) == 0


def test_the_newest_believed_sample_of_a_channel_is_kept_at_hand(
    journal: Journal, connection: sqlite3.Connection
) -> None:
    write(journal, at(5, 50.0))
    write(journal, replace(at(9, 90.0), late=True))
    write(journal, reading("bus1/n20", START_US + 6 * MINUTE_US, None, Flag.MISSING, Cause.NO_VALUE))
    (newest,) = reader.latest(connection).values()
    assert (newest.time_us, newest.value, newest.flag) == (START_US + 6 * MINUTE_US, None, Flag.MISSING)
    assert newest.heard_us == START_US + 5 * MINUTE_US


def test_a_value_within_a_batch_was_heard_though_a_missing_one_follows(
    journal: Journal, connection: sqlite3.Connection
) -> None:
    write(journal, at(5), reading("bus1/n20", START_US + 6 * MINUTE_US, None, Flag.MISSING, Cause.NO_VALUE))
    assert reader.latest(connection)["bus1/n20"].heard_us == START_US + 5 * MINUTE_US


def test_folding_the_log_into_the_database_leaves_no_log(journal: Journal, tmp_path: Path) -> None:
    write(journal, at(0))
    journal.checkpoint()
    assert (tmp_path / "journal.db-wal").stat().st_size == 0


def test_a_closed_journal_takes_nothing(tmp_path: Path) -> None:
    journal = Journal(open_writer(tmp_path / "closed.db"))
    journal.close()
    with pytest.raises(sqlite3.ProgrammingError):
        write(journal, at(0))
