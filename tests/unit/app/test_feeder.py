"""Copying the journal to one sink."""

import logging
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from parchd.app import feeder as feeder_module
from parchd.app.feeder import LONGEST_PAUSE_S, Feeder
from parchd.app.inbox import Inbox
from parchd.app.loop import EngineLoop
from parchd.clock import SystemClock
from parchd.contract import Rejection, SinkUnavailable, StoredReading
from parchd.store import cursors, reader
from parchd.store.cursors import Cursor
from parchd.store.database import open_reader
from parchd.testing.bench import Bench, engine_on
from parchd.testing.sink import FakeSink
from parchd.testing.site import MINUTE_US, START_US, engine_setup_of, line

CLOCK = SystemClock()
SETUP = engine_setup_of()


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("LINGER_S", "SHORTEST_PAUSE_S", "UNREADABLE_PAUSE_S"):
        monkeypatch.setattr(feeder_module, name, 0.01)


class Pump:
    """A journal, an engine's thread, and a feeder between them and a sink."""

    def __init__(self, bench: Bench, sink: FakeSink) -> None:
        self.bench = bench
        self.sink = sink
        self.inbox = Inbox(0.0, CLOCK)
        self.loop = EngineLoop(bench.engine, self.inbox, CLOCK)
        self.loop.start()

    def write(self, *minutes: int) -> None:
        for minute in minutes:
            self.inbox.put(line(START_US + minute * MINUTE_US, n20=30.0), 10.0)

    @contextmanager
    def feeding(self) -> Iterator[Feeder]:
        feeder = Feeder("farm", self.sink, self.inbox, self.bench.path, SETUP.channels)
        self.loop.wake_after_commit(feeder.wake)
        feeder.start()
        try:
            yield feeder
        finally:
            feeder.stop()
            assert feeder.join(10.0)
            self.loop.forget(feeder.wake)

    def recorded(self, seq: int) -> bool:
        """Wait until the cursor of the sink is on disk."""
        pause = threading.Event()
        with closing(open_reader(self.bench.path)) as connection:
            return any(cursors.cursor_of(connection, "farm").seq == seq or pause.wait(0.01) for _ in range(1000))

    def position(self) -> reader.SinkPosition:
        assert self.loop.finish(10.0)
        (position,) = reader.sink_positions(self.bench.connection)
        return position


@pytest.fixture
def sink() -> FakeSink:
    return FakeSink(batch_rows=3)


@pytest.fixture
def pump(tmp_path: Path, sink: FakeSink) -> Iterator[Pump]:
    with engine_on(tmp_path, SETUP) as bench:
        made = Pump(bench, sink)
        yield made
        made.loop.finish(10.0)


def minutes(sink: FakeSink) -> list[int]:
    """Minutes of the rows that the sink holds, in the order it first got them."""
    return [(time_us - START_US) // MINUTE_US for _, time_us in sink.rows]


def has(sink: FakeSink, count: int) -> bool:
    return sink.wait_for(lambda fake: len(fake.rows) >= count)


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.__dict__["event"] for record in caplog.records if record.name == "parchd.app.feeder"]


def test_rows_come_in_the_order_of_writing_in_batches_the_sink_likes(pump: Pump, sink: FakeSink) -> None:
    pump.write(*range(10, 0, -1))
    with pump.feeding():
        assert has(sink, 10)
    assert minutes(sink) == list(range(10, 0, -1))
    assert all(len(write) <= 3 for write in sink.writes)
    assert (pump.position().behind, pump.position().trouble) == (0, "")
    assert sink.closed


def test_each_row_carries_the_place_of_its_tensiometer(pump: Pump, sink: FakeSink) -> None:
    with pump.feeding() as feeder:
        pump.write(0)
        assert has(sink, 1)
        feeder.places = {}
        pump.write(1)
        assert has(sink, 2)
    first, second = sink.rows.values()
    assert (first.place, second.place) == (SETUP.channels["bus1/n20"], None)


def test_a_feeder_that_starts_again_goes_on_where_it_was(pump: Pump, sink: FakeSink) -> None:
    pump.write(0, 1, 2)
    with pump.feeding():
        assert has(sink, 3)
    assert pump.recorded(3)
    sink.closed = False
    pump.write(3, 4)
    with pump.feeding():
        assert has(sink, 5)
    assert [seq for write in sink.writes for seq in write] == [1, 2, 3, 4, 5]


def test_an_outage_of_any_length_loses_nothing(pump: Pump, sink: FakeSink, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    sink.away = SinkUnavailable("connection refused")
    with pump.feeding():
        for minute in range(20):
            pump.write(minute)
        assert sink.wait_for(lambda fake: fake.failures >= 5)
        sink.away = None
        assert has(sink, 20)
    assert minutes(sink) == list(range(20))
    assert pump.position().trouble == ""
    assert events(caplog) == ["sink.unavailable", "sink.resumed"]


def test_trouble_can_be_seen_while_it_lasts(pump: Pump, sink: FakeSink) -> None:
    pump.write(0)
    sink.away = SinkUnavailable("wrong token", needs_person=True)
    with pump.feeding():
        assert sink.wait_for(lambda fake: fake.failures >= 2)
    position = pump.position()
    assert (position.behind, position.trouble) == (1, "wrong token")


def test_a_sink_that_crashes_is_tried_again(pump: Pump, sink: FakeSink, caplog: pytest.LogCaptureFixture) -> None:
    sink.fail(ZeroDivisionError(), KeyError("x"))
    with pump.feeding():
        pump.write(0)
        assert has(sink, 1)
    assert events(caplog).count("sink.failed") == 2


def test_a_write_whose_answer_was_lost_comes_again_to_the_same_effect(pump: Pump, sink: FakeSink) -> None:
    sink.fail(SinkUnavailable("timed out"), after_storing=True)
    with pump.feeding():
        pump.write(0, 1)
        assert sink.wait_for(lambda fake: sum(map(len, fake.writes)) >= 2)
    assert minutes(sink) == [0, 1]


def test_rows_that_the_server_will_never_take_are_set_aside_and_hold_up_nobody(
    pump: Pump, sink: FakeSink, caplog: pytest.LogCaptureFixture
) -> None:
    sink.judge = lambda row: "odd minute" if (row.time_us - START_US) // MINUTE_US % 2 else None
    with pump.feeding():
        pump.write(*range(10))
        assert has(sink, 5)
        assert sink.wait_for(lambda fake: sum(map(len, fake.writes)) == 10)
    assert minutes(sink) == [0, 2, 4, 6, 8]
    assert (pump.position().behind, pump.position().rejected) == (0, 5)
    assert "sink.rejected" in events(caplog)


def test_pauses_grow_to_five_minutes_and_a_server_may_ask_for_longer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(feeder_module, "SHORTEST_PAUSE_S", 1.0)
    feeder = Feeder("farm", FakeSink(), Inbox(0.0, CLOCK), tmp_path / "none.db", {})
    asked_s: list[float | None] = []

    class Stop(threading.Event):
        def wait(self, timeout: float | None = None) -> bool:
            asked_s.append(timeout)
            return False

    feeder._stop = Stop()
    for retry_after_s in (None, None, 30.0, None, None, None, None, None, None, None, 7200.0):
        feeder._hold(SinkUnavailable("away"), Cursor(), retry_after_s)
    assert asked_s == [1.0, 2.0, 30.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 300.0, 7200.0]
    assert LONGEST_PAUSE_S == 300.0


def test_the_next_trouble_starts_over_with_a_short_pause(pump: Pump, sink: FakeSink) -> None:
    with pump.feeding() as feeder:
        sink.fail(*[SinkUnavailable("away")] * 4)
        pump.write(0)
        assert has(sink, 1)
        pump.write(1)
        assert has(sink, 2)
        assert feeder._pause_s == feeder_module.SHORTEST_PAUSE_S


def test_a_feeder_is_stopped_in_the_middle_of_a_long_pause(pump: Pump, sink: FakeSink) -> None:
    sink.away = SinkUnavailable("busy", retry_after_s=3600.0)
    pump.write(0)
    with pump.feeding():
        assert sink.wait_for(lambda fake: fake.failures == 1)
    assert sink.closed


def test_a_feeder_with_nothing_to_copy_does_not_spin(pump: Pump, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(feeder_module, "LINGER_S", 12.0)
    looked = threading.Semaphore(0)

    def nothing(*_: object) -> list[StoredReading]:
        looked.release()
        return []

    monkeypatch.setattr(reader, "rows_after", nothing)
    with pump.feeding() as feeder:
        assert looked.acquire(timeout=10.0)
        feeder.wake.set()
        assert looked.acquire(timeout=10.0)
        assert not looked.acquire(timeout=0.05)


def test_a_journal_that_cannot_be_read_now_is_tried_again(
    pump: Pump, sink: FakeSink, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    plain, errors = reader.rows_after, iter([sqlite3.OperationalError("disk I/O error")])

    def failing(*arguments: object) -> list[StoredReading]:
        for error in errors:
            raise error
        return plain(*arguments)  # type: ignore[arg-type] # handed through as they came

    monkeypatch.setattr(reader, "rows_after", failing)
    with pump.feeding():
        pump.write(0)
        assert has(sink, 1)
    assert "store.unreadable" in events(caplog)
    assert sink.closed


def test_a_sink_may_reject_all_it_is_given(pump: Pump) -> None:
    class Picky(FakeSink):
        def write(self, rows: object) -> list[Rejection]:
            assert isinstance(rows, list)
            super().write([])
            return [Rejection(row.seq, "no") for row in rows]

    pump.sink = Picky()
    pump.write(0, 1)
    with pump.feeding():
        assert pump.sink.wait_for(lambda fake: len(fake.writes) >= 1)
    assert pump.position().rejected in (1, 2)
