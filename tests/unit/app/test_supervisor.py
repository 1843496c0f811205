"""Keeping sources alive."""

import logging
import random
import threading

import pytest

from parchd.app.inbox import MAX_WAITING_SAMPLES, Inbox
from parchd.app.messages import SourceHealth
from parchd.app.supervisor import LONGEST_PAUSE_S, SourceRunner
from parchd.clock import SystemClock
from parchd.contract import Intake, SampleBatch, Source, SourceLost, Stopping, StopSignal
from parchd.testing import FakeClock
from parchd.testing.site import START_US, batch, line, sample
from parchd.testing.wiring import FakeSource

CLOCK = SystemClock()


class Pauses(threading.Event):
    """A stop signal that notes how long it was to be waited for, and does not wait."""

    def __init__(self) -> None:
        super().__init__()
        self.asked_s: list[float | None] = []

    def wait(self, timeout: float | None = None) -> bool:
        self.asked_s.append(timeout)
        return super().wait(0.0)


class Story:
    """A source whose runs go as written; after the last it waits to be stopped."""

    def __init__(self, *outcomes: Exception | str | SampleBatch) -> None:
        self.outcomes = list(outcomes)
        self.told = threading.Event()

    def run(self, intake: Intake, stop: StopSignal) -> None:
        if not self.outcomes:
            self.told.set()
            while not stop.is_set():
                intake.beat()
            return
        outcome = self.outcomes.pop(0)
        if outcome == "connected":
            intake.connected("a line")
            outcome = SourceLost("pulled out")
        if isinstance(outcome, SampleBatch):
            intake.put(outcome)
            self.run(intake, stop)
        if isinstance(outcome, Exception):
            raise outcome


@pytest.fixture
def inbox() -> Inbox:
    return Inbox(0.0, CLOCK)


@pytest.fixture(autouse=True)
def no_jitter(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(random, "uniform", lambda low, high: high)


def runner_of(source: Source, inbox: Inbox) -> SourceRunner:
    return SourceRunner("bus1", source, inbox, CLOCK)


def pauses_of(*outcomes: Exception | str) -> list[float | None]:
    """How long was paused between runs that went like this."""
    source = Story(*outcomes)
    runner = runner_of(source, Inbox(0.0, CLOCK))
    runner._stop = pauses = Pauses()
    runner.start()
    assert source.told.wait(10.0)
    runner.stop()
    assert runner.join(10.0)
    return pauses.asked_s


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.__dict__["event"] for record in caplog.records if "event" in record.__dict__]


def test_pauses_grow_while_a_line_stays_away_and_have_an_end() -> None:
    pauses = pauses_of(*[SourceLost("no such device")] * 9)
    assert pauses == [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 60.0, 60.0, 60.0]
    assert LONGEST_PAUSE_S == 60.0


def test_a_source_that_was_connected_starts_over_with_a_short_pause() -> None:
    lost = SourceLost("no such device")
    assert pauses_of(lost, lost, lost, "connected", lost) == [1.0, 2.0, 4.0, 1.0, 2.0]


def test_a_source_that_crashes_is_started_again_like_one_that_is_lost(caplog: pytest.LogCaptureFixture) -> None:
    assert pauses_of(ZeroDivisionError(), KeyError("x"), SourceLost("gone")) == [1.0, 2.0, 4.0]
    assert events(caplog) == ["source.failed", "source.failed", "source.lost"]
    assert [record.exc_info is not None for record in caplog.records] == [True, True, False]


def test_jitter_shortens_a_pause_by_half_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(random, "uniform", lambda low, high: low)
    assert pauses_of(SourceLost("a"), SourceLost("b")) == [0.5, 1.0]


def test_batches_reach_the_inbox_in_order(inbox: Inbox) -> None:
    source = FakeSource()
    runner = runner_of(source, inbox)
    runner.start()
    batches = [line(START_US + n, n20=30.0) for n in range(5)]
    source.send(*batches)
    taken: list[object] = []
    while len(taken) < 5:
        taken += [message for message in inbox.take(10.0) if isinstance(message, SampleBatch)]
    runner.stop()
    assert runner.join(10.0)
    assert taken == batches


def health_of(*outcomes: Exception | str | SampleBatch) -> list[str]:
    """What the engine is told of a source whose runs go like this."""
    source, inbox = Story(*outcomes), Inbox(0.0, CLOCK)
    runner = runner_of(source, inbox)
    runner._stop = Pauses()
    runner.start()
    assert source.told.wait(10.0)
    runner.stop()
    assert runner.join(10.0)
    return [message.trouble for message in inbox.take(1.0) if isinstance(message, SourceHealth)]


def test_the_engine_is_told_of_a_trouble_once_until_it_is_another() -> None:
    lost = SourceLost("no such device")
    assert health_of(lost, lost, SourceLost("no permission"), lost) == [
        "no such device", "no permission", "no such device",
    ]  # fmt: skip


def test_a_crash_is_a_trouble_too_and_a_nameless_one_gets_words() -> None:
    assert health_of(ZeroDivisionError("x"), SourceLost()) == ["ZeroDivisionError: x", "the connection is gone"]


def test_a_connection_that_does_not_last_is_no_recovery() -> None:
    lost = SourceLost("pulled out")
    assert health_of(lost, "connected", "connected", lost) == ["pulled out"]


def test_a_batch_that_arrives_is_a_recovery_and_is_told_once() -> None:
    lost = SourceLost("no such device")
    assert health_of(lost, line(START_US, n20=1.0), line(START_US + 1, n20=1.0)) == ["no such device", ""]


def test_a_source_that_works_says_so_at_its_start_for_there_may_be_an_old_trouble() -> None:
    assert health_of(line(START_US, n20=1.0)) == [""]


def test_a_connection_that_lasts_for_a_minute_is_a_recovery_though_nothing_arrives() -> None:
    clock, inbox = FakeClock(), Inbox(0.0, CLOCK)
    runner = SourceRunner("bus1", FakeSource(), inbox, clock)
    runner._tell("gone")
    runner.connected("a broker")
    for _ in range(5):
        clock.advance(10.0)
        runner.beat()
    assert [message.trouble for message in inbox.take(0.0) if isinstance(message, SourceHealth)] == ["gone"]
    clock.advance(10.0)
    runner.beat()
    assert [message.trouble for message in inbox.take(0.0) if isinstance(message, SourceHealth)] == [""]


def test_a_source_that_has_read_all_ends_and_is_not_started_again(
    inbox: Inbox, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    source = FakeSource()
    runner = runner_of(source, inbox)
    runner.start()
    assert not runner.ended
    source.end()
    assert runner.join(10.0)
    assert (runner.ended, source.runs, runner.silent_s) == (True, 1, 0.0)
    assert events(caplog) == ["source.connected", "source.ended"]


def test_a_source_is_stopped_in_the_middle_of_a_pause(inbox: Inbox) -> None:
    paused = threading.Event()

    class Away:
        def run(self, intake: Intake, stop: StopSignal) -> None:
            paused.set()
            raise SourceLost("away")

    runner = runner_of(Away(), inbox)
    runner.start()
    assert paused.wait(10.0)
    runner.stop()
    assert runner.join(10.0)


def test_a_source_that_fails_because_it_is_stopped_is_not_started_again(inbox: Inbox) -> None:
    class Clumsy:
        runs = 0

        def run(self, intake: Intake, stop: StopSignal) -> None:
            self.runs += 1
            while not stop.is_set():
                intake.beat()
            raise OSError("the port was closed under me")

    source = Clumsy()
    runner = runner_of(source, inbox)
    runner.start()
    runner.stop()
    assert runner.join(10.0)
    assert source.runs <= 1


def fill(inbox: Inbox) -> None:
    for _ in range(MAX_WAITING_SAMPLES // 1000):
        assert inbox.put(batch(*[sample("n20", START_US, 1.0)] * 1000), 0.0)


def test_a_source_held_up_by_a_full_inbox_lives_and_can_be_stopped(
    inbox: Inbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(inbox)
    held = threading.Event()
    beats: list[float] = []
    source = FakeSource()
    runner = runner_of(source, inbox)
    plain_put = inbox.put

    def put(taken: SampleBatch, timeout_s: float) -> bool:
        assert timeout_s == 1.0
        held.set()
        beats.append(runner.silent_s)
        return plain_put(taken, 0.01)

    monkeypatch.setattr(inbox, "put", put)
    runner.start()
    source.send(line(START_US, n20=30.0))
    assert held.wait(10.0)
    runner.stop()
    assert runner.join(10.0)
    assert runner.ended
    assert max(beats) < 1.0


def test_an_offer_that_finds_no_room_is_told_so_and_one_after_the_stop_is_refused(inbox: Inbox) -> None:
    runner = runner_of(FakeSource(), inbox)
    taken = line(START_US, n20=30.0)
    assert runner.offer(taken, 0.0)
    fill(inbox)
    assert not runner.offer(taken, 0.0)
    runner.stop()
    with pytest.raises(Stopping):
        runner.offer(taken, 0.0)
    with pytest.raises(Stopping):
        runner.put(taken)


@pytest.fixture
def slow() -> tuple[FakeClock, SourceRunner]:
    clock = FakeClock()
    return clock, SourceRunner("bus1", FakeSource(), Inbox(0.0, clock), clock)


def test_rejected_input_is_counted_by_reason_and_summed_up_once_a_minute(
    slow: tuple[FakeClock, SourceRunner], caplog: pytest.LogCaptureFixture
) -> None:
    clock, runner = slow
    for n in range(1000):
        runner.rejected("not a number", b"\xff\x00" * 500, count=1)
        runner.rejected("too long", "x" * n, count=2)
        clock.advance(0.125)
    assert runner.rejects == {"not a number": 1000, "too long": 2000}
    assert events(caplog) == ["source.rejected"] * 3
    assert [int(record.getMessage().split()[2]) for record in caplog.records] == [1, 1440, 1440]
    assert all(len(record.getMessage()) < 200 for record in caplog.records)


def test_a_source_is_silent_since_it_last_showed_that_it_lives(slow: tuple[FakeClock, SourceRunner]) -> None:
    clock, runner = slow
    clock.advance(50.0)
    assert runner.silent_s == 50.0
    runner.beat()
    assert runner.silent_s == 0.0
    clock.advance(5.0)
    runner.connected("a line")
    assert runner.silent_s == 0.0
    clock.advance(5.0)
    assert runner.offer(line(START_US, n20=1.0), 0.0)
    assert runner.silent_s == 0.0
