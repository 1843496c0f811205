"""The behaviour suite for sources, tried on sources that break its rules: each must be found out."""

import contextlib
import queue
import threading
from collections.abc import Callable, Sequence
from typing import ClassVar

import pytest

from parchd.contract import (
    AdapterKind,
    Intake,
    Options,
    Sample,
    SampleBatch,
    Services,
    SourceLost,
    StopSignal,
    TimeSource,
    Unit,
)
from parchd.testing import FakeClock, source_suite
from parchd.testing.source_suite import ConnectedSourceSuite, Sent

Wire = queue.SimpleQueue[list[float] | None]


class TinyOptions(Options):
    host: str = "nowhere"


class Tiny:
    """The smallest source that keeps all rules: pairs of numbers from a queue."""

    def __init__(self, options: TinyOptions, services: Services, wire: Wire | None = None) -> None:
        del options
        self.name = services.name
        self.wire: Wire = wire or queue.SimpleQueue()
        self.there = True
        self.time_us = 0

    def run(self, intake: Intake, stop: StopSignal) -> None:
        if not self.there:
            raise SourceLost("nobody there")
        intake.connected("queue")
        while not stop.is_set():
            self.turn(intake)

    def turn(self, intake: Intake) -> None:
        intake.beat()
        try:
            values = self.wire.get(timeout=0.02)
        except queue.Empty:
            return
        if values is None:
            raise SourceLost("cut")
        self.take(values, intake)

    def take(self, values: list[float], intake: Intake) -> None:
        if len(values) == 2:
            self.hand_over(values, intake)
        else:
            intake.rejected("not a pair")

    def hand_over(self, values: list[float], intake: Intake) -> None:
        intake.put(SampleBatch(self.name, self.samples(values)))

    def samples(self, values: list[float]) -> tuple[Sample, ...]:
        self.time_us += 1
        pairs = zip(("a0", "a1"), values, strict=True)
        return tuple(Sample(name, self.time_us, value, Unit.V, TimeSource.ARRIVAL) for name, value in pairs)


class Rig:
    """The other end of the queue."""

    name = "tiny"

    def __init__(self, make: Callable[[TinyOptions, Services], Tiny] = Tiny) -> None:
        self.source = make(TinyOptions(), Services(self.name, "Quillmere Orchard", FakeClock()))
        self._count = 0.0

    def feed(self, groups: int) -> Sequence[Sequence[Sent]]:
        return [self._feed_one() for _ in range(groups)]

    def _feed_one(self) -> Sequence[Sent]:
        self._count += 1
        self.source.wire.put([self._count, -self._count])
        return [Sent("a0", self._count, Unit.V), Sent("a1", -self._count, Unit.V)]

    def feed_garbage(self) -> None:
        self.source.wire.put([1.0])

    def lose(self) -> None:
        self.source.there = False
        self.source.wire.put(None)

    def restore(self) -> None:
        self.source.there = True
        while not self.source.wire.empty():
            self.source.wire.get()


class TestTiny(ConnectedSourceSuite):
    kind = AdapterKind(options=TinyOptions, build=Tiny)
    options: ClassVar = {"host": "127.0.0.1"}

    @pytest.fixture
    def rig(self) -> Rig:
        return Rig()


class DropsOne(Tiny):
    def hand_over(self, values: list[float], intake: Intake) -> None:
        if values[0] != 2:
            super().hand_over(values, intake)


class SwapsChannels(Tiny):
    def samples(self, values: list[float]) -> tuple[Sample, ...]:
        return super().samples(values[::-1])


class WrongUnit(Tiny):
    def samples(self, values: list[float]) -> tuple[Sample, ...]:
        return tuple(Sample(s.channel, s.time_us, s.value, Unit.MV) for s in super().samples(values))


class InventsChannel(Tiny):
    def samples(self, values: list[float]) -> tuple[Sample, ...]:
        return (*super().samples(values), Sample("a2", self.time_us, 0.0, Unit.V))


class SplitsPairs(Tiny):
    def hand_over(self, values: list[float], intake: Intake) -> None:
        for sample in self.samples(values):
            intake.put(SampleBatch(self.name, (sample,)))


class StandsStill(Tiny):
    def samples(self, values: list[float]) -> tuple[Sample, ...]:
        self.time_us = 0
        return super().samples(values)


class SaysWrongName(Tiny):
    def hand_over(self, values: list[float], intake: Intake) -> None:
        intake.put(SampleBatch("other", self.samples(values)))


class NeverBeats(Tiny):
    def turn(self, intake: Intake) -> None:
        while self.wire.empty():
            return
        super().turn(intake)


class HearsNoStop(Tiny):
    def run(self, intake: Intake, stop: StopSignal) -> None:
        del stop
        super().run(intake, stop=threading.Event())

    def turn(self, intake: Intake) -> None:
        if not self.there:
            raise SourceLost("the test is over")
        super().turn(intake)


class SwallowsLoss(Tiny):
    def turn(self, intake: Intake) -> None:
        try:
            super().turn(intake)
        except SourceLost:
            self.there = True


class RaisesSomethingElse(Tiny):
    def turn(self, intake: Intake) -> None:
        try:
            super().turn(intake)
        except SourceLost:
            raise RuntimeError("cut") from None


class DiesOfGarbage(Tiny):
    def take(self, values: list[float], intake: Intake) -> None:
        self.hand_over(values, intake)


class HidesGarbage(Tiny):
    def take(self, values: list[float], intake: Intake) -> None:
        if len(values) == 2:
            self.hand_over(values, intake)


class IgnoresStopping(Tiny):
    def turn(self, intake: Intake) -> None:
        with contextlib.suppress(RuntimeError):
            super().turn(intake)


class WorksOnce(Tiny):
    runs = 0

    def run(self, intake: Intake, stop: StopSignal) -> None:
        self.runs += 1
        if self.runs > 1:
            intake.connected("queue")
            stop.wait()
        super().run(intake, stop)


SUITE = TestTiny()
FAULTS: list[tuple[type[Tiny], Callable[[Rig], None]]] = [
    (DropsOne, SUITE.test_samples_arrive_with_channel_value_and_unit),
    (SwapsChannels, SUITE.test_samples_arrive_with_channel_value_and_unit),
    (WrongUnit, SUITE.test_samples_arrive_with_channel_value_and_unit),
    (InventsChannel, SUITE.test_samples_arrive_with_channel_value_and_unit),
    (StandsStill, SUITE.test_what_is_handed_over_keeps_the_contract),
    (SaysWrongName, SUITE.test_what_is_handed_over_keeps_the_contract),
    (SplitsPairs, SUITE.test_values_sent_together_stay_in_one_batch),
    (NeverBeats, SUITE.test_it_says_that_it_lives_while_the_line_is_silent),
    (IgnoresStopping, SUITE.test_it_leaves_when_the_daemon_takes_nothing_more),
    (DiesOfGarbage, SUITE.test_garbage_is_counted_and_harms_nothing),
    (HidesGarbage, SUITE.test_garbage_is_counted_and_harms_nothing),
    (SwallowsLoss, SUITE.test_a_lost_connection_is_raised),
    (RaisesSomethingElse, SUITE.test_a_lost_connection_is_raised),
    (WorksOnce, SUITE.test_a_second_run_delivers_again),
]


@pytest.mark.parametrize(("broken", "test"), FAULTS, ids=lambda part: part.__name__)
def test_the_suite_finds_out(broken: type[Tiny], test: Callable[[Rig], None], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source_suite, "PATIENCE_S", 0.3)
    monkeypatch.setattr("parchd.testing.arrivals.PATIENCE_S", 0.3)
    with pytest.raises(AssertionError):
        test(Rig(broken))


@pytest.mark.parametrize(
    "test", [SUITE.test_a_stop_ends_the_run_within_two_seconds, SUITE.test_nothing_is_handed_over_after_the_stop]
)
def test_the_suite_finds_a_source_that_hears_no_stop(
    test: Callable[[Rig], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source_suite, "STOP_S", 0.3)
    rig = Rig(HearsNoStop)
    ending = threading.Timer(0.6, rig.lose)
    ending.start()
    with pytest.raises(AssertionError):
        test(rig)
    ending.join()


def test_the_suite_finds_options_that_take_any_key() -> None:
    class Lax(TinyOptions, extra="ignore"):
        pass

    class TestLax(TestTiny):
        kind = AdapterKind(options=Lax, build=Tiny)

    with pytest.raises(pytest.fail.Exception):
        TestLax().test_options_refuse_a_key_they_do_not_know()
