"""The engine's thread: it drops only what is poisonous and holds on while the disk fails."""

import logging
import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import cast

import pytest

from parchd.app import loop as loop_module
from parchd.app.engine import Engine
from parchd.app.inbox import Inbox
from parchd.app.loop import EngineLoop
from parchd.app.messages import Ask, DiskSpace, Message, SinkProgress, Tick
from parchd.app.requests import Acknowledge, Answer
from parchd.clock import SystemClock
from parchd.contract import SampleBatch, Verdict
from parchd.store.cursors import Cursor
from parchd.testing import FakeClock
from parchd.testing.bench import Bench, engine_on, refuse
from parchd.testing.site import START_US, batch, line, sample

CLOCK = SystemClock()
FULL = sqlite3.OperationalError("database or disk is full")


class ScriptedEngine:
    """Fails as it is told, else keeps what it is given."""

    def __init__(self, fail: Callable[[Sequence[Message]], Exception | None] = lambda _: None) -> None:
        self.fail = fail
        self.turns: list[list[Message]] = []
        self.attempts = 0
        self.attempted = threading.Event()

    def turn(self, messages: Sequence[Message], now_us: int) -> None:
        del now_us
        self.attempts += 1
        self.attempted.set()
        error = self.fail(messages)
        if error is not None:
            raise error
        self.turns.append(list(messages))

    @property
    def done(self) -> list[Message]:
        return [message for turn in self.turns for message in turn if not isinstance(message, Tick)]


def started(engine: object, inbox: Inbox | None = None) -> tuple[EngineLoop, Inbox]:
    inbox = inbox or Inbox(0.0, CLOCK)
    loop = EngineLoop(cast("Engine", engine), inbox, CLOCK)
    loop.start()
    return loop, inbox


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pauses of no time at all."""
    monkeypatch.setattr(loop_module, "LONGEST_PAUSE_S", 0.0)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with engine_on(tmp_path) as running:
        yield running


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.__dict__["event"] for record in caplog.records if "event" in record.__dict__]


def poison() -> SampleBatch:
    """A batch with a time that no database takes."""
    return batch(sample("n20", 2**70, 30.0))


def test_everything_queued_is_worked_off_before_the_end() -> None:
    engine, inbox = ScriptedEngine(), Inbox(60.0, CLOCK)
    batches = [line(START_US + n, n20=30.0) for n in range(50)]
    for taken in batches:
        inbox.put(taken, 0.0)
    inbox.group_s = 0.0
    loop, _ = started(engine, inbox)
    assert loop.finish(10.0)
    assert engine.done == batches
    assert inbox.is_empty


def test_others_are_woken_after_a_commit_until_they_are_forgotten() -> None:
    loop, inbox = started(ScriptedEngine())
    first, second = threading.Event(), threading.Event()
    loop.wake_after_commit(first)
    loop.wake_after_commit(second)
    inbox.tell(Tick())
    assert first.wait(10.0)
    assert second.wait(10.0)
    loop.forget(first)
    first.clear()
    second.clear()
    inbox.tell(Tick())
    assert second.wait(10.0)
    assert loop.finish(10.0)
    assert not first.is_set()


def test_a_message_that_breaks_the_engine_is_dropped_alone(caplog: pytest.LogCaptureFixture) -> None:
    def fail(messages: Sequence[Message]) -> Exception | None:
        return ZeroDivisionError() if SinkProgress("bad", Cursor(0)) in messages else None

    engine = ScriptedEngine(fail)
    inbox = Inbox(0.0, CLOCK)
    for name in ("a", "bad", "b"):
        inbox.tell(SinkProgress(name, Cursor(0)))
    loop, _ = started(engine, inbox)
    assert loop.finish(10.0)
    assert engine.done == [SinkProgress("a", Cursor(0)), SinkProgress("b", Cursor(0))]
    assert loop.dropped == 1
    assert events(caplog) == ["engine.dropped"]


def test_who_asks_for_what_breaks_the_engine_is_not_left_waiting() -> None:
    """A command that came over a broker would hold up all acknowledgements behind it."""
    answers: list[Answer] = []
    ask = Ask(Acknowledge(), answers.append)
    loop, inbox = started(ScriptedEngine(lambda messages: ValueError("broken") if ask in messages else None))
    inbox.tell(ask)
    assert loop.finish(5.0)
    (answer,) = answers
    assert (answer.state, answer.verdict) == ("failed", Verdict.BUSY)


def test_of_a_batch_only_the_broken_sample_is_dropped_and_its_sender_waits_no_longer(bench: Bench) -> None:
    released = threading.Event()
    taken = batch(
        sample("n20", START_US, 30.0), sample("n40", 2**70, 30.0), sample("n60", START_US, 31.0),
        on_committed=released.set, urgent=True,
    )  # fmt: skip
    loop, inbox = started(bench.engine)
    inbox.put(taken, 0.0)
    assert released.wait(10.0)
    assert loop.finish(10.0)
    assert loop.dropped == 1
    assert bench.rows("SELECT tension_kpa FROM journal ORDER BY seq") == [(30.0,), (31.0,)]


def test_a_flood_of_poison_is_complained_about_once_a_minute(bench: Bench, caplog: pytest.LogCaptureFixture) -> None:
    loop, inbox = started(bench.engine)
    for _ in range(20):
        inbox.put(poison(), 10.0)
    inbox.put(line(START_US, n20=30.0), 10.0)
    assert loop.finish(10.0)
    assert loop.dropped == 20
    assert events(caplog).count("engine.dropped") == 1
    assert bench.rows("SELECT count(*) FROM journal") == [(1,)]


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize("error", [FULL, sqlite3.DatabaseError("database disk image is malformed")])
def test_a_disk_that_fails_is_waited_for_and_nothing_is_dropped(
    error: Exception, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    engine = ScriptedEngine(lambda _: error if engine.attempts < 3 else None)
    monkeypatch.setattr(threading.Event, "wait", _hurried(threading.Event.wait))
    inbox, taken = Inbox(0.0, CLOCK), line(START_US, n20=30.0)
    inbox.put(taken, 0.0)
    loop, _ = started(engine, inbox)
    woken = threading.Event()
    loop.wake_after_commit(woken)
    assert woken.wait(10.0)
    assert loop.finish(10.0)
    assert engine.done == [taken]
    assert loop.dropped == 0
    assert events(caplog) == ["store.failed", "store.failed"]


Wait = Callable[[threading.Event, float | None], bool]


def _hurried(wait: Wait) -> Wait:
    """Cut the pause of a second to a hundredth."""

    def hurried(event: threading.Event, timeout: float | None = None) -> bool:
        return wait(event, 0.01 if timeout == 1.0 else timeout)

    return hurried


def test_a_disk_that_fails_for_good_does_not_hold_up_the_end_and_nothing_is_acknowledged() -> None:
    acknowledged: list[str] = []
    engine = ScriptedEngine(lambda _: FULL)
    inbox = Inbox(0.0, CLOCK)
    inbox.put(batch(sample("n20", START_US, 30.0), on_committed=lambda: acknowledged.append("no")), 0.0)
    loop, _ = started(engine, inbox)
    assert engine.attempted.wait(10.0)
    assert not loop.finish(10.0)
    assert engine.done == []
    assert acknowledged == []


def test_a_batch_that_could_be_stored_in_part_only_is_not_acknowledged_when_the_disk_fails() -> None:
    def fail(messages: Sequence[Message]) -> Exception | None:
        sizes = [len(message.samples) for message in messages if isinstance(message, SampleBatch)]
        return FULL if sizes == [1] else OverflowError() if sizes else None

    acknowledged: list[str] = []
    inbox = Inbox(0.0, CLOCK)
    two = batch(
        sample("n20", START_US, 1.0), sample("n40", START_US, 1.0), on_committed=lambda: acknowledged.append("no")
    )
    inbox.put(two, 0.0)
    loop, _ = started(ScriptedEngine(fail), inbox)
    assert not loop.finish(10.0)
    assert acknowledged == []


def test_an_engine_that_does_not_come_back_is_not_waited_for_longer_than_asked() -> None:
    come_back = threading.Event()

    def hang(_: Sequence[Message]) -> None:
        come_back.wait(10.0)

    engine = ScriptedEngine(hang)
    loop, inbox = started(engine)
    inbox.tell(Tick())
    assert engine.attempted.wait(10.0)
    assert not loop.finish(0.01)
    come_back.set()
    assert loop.finish(10.0)


def test_the_silence_of_a_loop_is_the_time_since_it_came_round() -> None:
    clock = FakeClock()
    loop = EngineLoop(cast("Engine", ScriptedEngine()), Inbox(0.0, clock), clock)
    clock.advance(42.0)
    assert loop.silent_s == 42.0


def test_a_real_engine_on_a_real_disk_that_fails_stores_all_of_it_afterwards(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(threading.Event, "wait", _hurried(threading.Event.wait))
    committed = threading.Event()
    refuse(bench.connection, sqlite3.SQLITE_TRANSACTION, "COMMIT")
    loop, inbox = started(bench.engine)
    failed = threading.Event()
    handler = _Notice(failed)
    loop_module.logger.addHandler(handler)
    try:
        now_us = CLOCK.now_us()
        inbox.put(batch(sample("n20", now_us, 65.0), on_committed=committed.set, urgent=True), 0.0)
        assert failed.wait(10.0)
        assert not committed.is_set()
        refuse(bench.connection, None)
        assert committed.wait(10.0)
    finally:
        loop_module.logger.removeHandler(handler)
        assert loop.finish(10.0)
    assert bench.rows("SELECT tension_kpa, late FROM journal") == [(65.0, 0)]
    assert len(bench.events()) == 2


class _Notice(logging.Handler):
    """Sets an event at the first log record."""

    def __init__(self, event: threading.Event) -> None:
        super().__init__()
        self._event = event

    def emit(self, record: logging.LogRecord) -> None:
        del record
        self._event.set()


def test_on_a_full_disk_the_alarm_about_it_is_written_before_what_waits(caplog: pytest.LogCaptureFixture) -> None:
    room = iter([DiskSpace(8_000_000, 10**9, is_full=True)])
    errors = iter([FULL])
    engine = ScriptedEngine(lambda _: next(errors, None))
    inbox = Inbox(0.0, CLOCK)
    loop = EngineLoop(cast("Engine", engine), inbox, CLOCK, lambda _error: next(room, None))
    loop.start()
    taken = line(START_US, n20=30.0)
    inbox.put(taken, 1.0)
    assert loop.finish(10.0)
    assert engine.done == [DiskSpace(8_000_000, 10**9, is_full=True), taken]
    assert "store.failed" not in events(caplog)


def test_a_reserve_that_is_not_enough_is_said_and_the_rest_is_held_as_before(
    quick: None, caplog: pytest.LogCaptureFixture
) -> None:
    room = iter([DiskSpace(0, 10**9, is_full=True)])
    errors = iter([FULL, FULL, FULL])
    engine = ScriptedEngine(lambda _: next(errors, None))
    inbox = Inbox(0.0, CLOCK)
    loop = EngineLoop(cast("Engine", engine), inbox, CLOCK, lambda _error: next(room, None))
    loop.start()
    taken = line(START_US, n20=30.0)
    inbox.put(taken, 1.0)
    while taken not in engine.done:
        engine.attempted.wait(1.0)
    assert loop.finish(10.0)
    assert engine.done == [taken]
    assert events(caplog).count("store.failed") == 2
