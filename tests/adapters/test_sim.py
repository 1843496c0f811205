from collections.abc import Sequence
from typing import Any, ClassVar

import pytest

from parchd.clock import US_PER_S, Clock, ScaledClock
from parchd.contract import Services, Source, TimeSource
from parchd.testing import FakeClock, FakeIntake
from parchd.testing.running import Running
from parchd.testing.source_suite import Sent, SourceSuite
from parchd_adapters.sim import KIND
from parchd_adapters.sim.model import Model

START_US = 1_780_000_000 * US_PER_S  # 20 s before a full minute
YEAR_S = 365 * 86_400


def source(clock: Clock, **given: Any) -> Source:
    return KIND.build(KIND.options.model_validate(given), Services("farm", "Quillmere Orchard", clock))


class Field:
    """The field as the model alone has it, and a source whose clock the test moves."""

    name = "farm"

    def __init__(self) -> None:
        self._clock = FakeClock(START_US)
        options = KIND.options.model_validate({"supply_channel": "supply", "seed": 7})
        self._model = Model(options)
        self._state = self._model.start(START_US)
        self.source: Source = KIND.build(options, Services(self.name, "Quillmere Orchard", self._clock))

    def feed(self, groups: int) -> Sequence[Sequence[Sent]]:
        return [self._feed_one() for _ in range(groups)]

    def _feed_one(self) -> Sequence[Sent]:
        passed_s = 20 if self._state.time_us == START_US else 60
        self._state = self._model.step(self._state, passed_s)
        self._clock.advance(passed_s)
        time_us = self._state.time_us
        return [Sent(signal.channel, signal.value, signal.unit, time_us) for signal in self._model.read(self._state)]


class TestSim(SourceSuite):
    kind = KIND
    options: ClassVar = {"interval_s": 60}

    @pytest.fixture
    def rig(self) -> Field:
        return Field()


def test_samples_stand_on_multiples_of_the_interval_and_name_the_device_as_their_clock() -> None:
    clock, intake = FakeClock(START_US), FakeIntake()
    with Running(source(clock, interval_s=60), intake):
        assert intake.wait_for(lambda intake: bool(intake.details))
        clock.advance(180)
        assert intake.wait_for(lambda intake: len(intake.samples) == 6)
    assert [sample.time_us % (60 * US_PER_S) for sample in intake.samples] == [0] * 6
    assert {sample.time_source for sample in intake.samples} == {TimeSource.DEVICE}
    assert [batch.samples[0].time_us - START_US for batch in intake.batches] == [20_000_000, 80_000_000, 140_000_000]


def test_a_fast_clock_gets_every_sample_in_time_and_none_drifts() -> None:
    clock, intake = ScaledClock(START_US, speed=600.0), FakeIntake()
    with Running(source(clock, interval_s=60), intake):
        assert intake.wait_for(lambda intake: len(intake.batches) == 10)
        behind_us = clock.now_us() - intake.batches[-1].samples[0].time_us
    times = [batch.samples[0].time_us for batch in intake.batches]
    assert times == [START_US + (20 + 60 * number) * US_PER_S for number in range(len(times))]
    assert behind_us < 120 * US_PER_S


def test_a_clock_that_leaps_a_year_does_not_flood() -> None:
    clock, intake = FakeClock(START_US), FakeIntake()
    with Running(source(clock, interval_s=60), intake):
        assert intake.wait_for(lambda intake: bool(intake.details))
        clock.step(YEAR_S)
        assert intake.wait_for(lambda intake: len(intake.batches) == 1)
        clock.advance(60)
        assert intake.wait_for(lambda intake: len(intake.batches) == 2)
        assert not intake.wait_for(lambda intake: len(intake.batches) > 2, 0.2)
    last_us = intake.batches[1].samples[0].time_us
    assert 0 <= START_US + (YEAR_S + 60) * US_PER_S - last_us < 60 * US_PER_S


def test_a_clock_that_is_set_back_does_not_silence_it() -> None:
    clock, intake = FakeClock(START_US), FakeIntake()
    with Running(source(clock, interval_s=60), intake):
        assert intake.wait_for(lambda intake: bool(intake.details))
        clock.advance(30)
        assert intake.wait_for(lambda intake: len(intake.batches) == 1)
        clock.step(-3600)
        seen = intake.beats
        assert intake.wait_for(lambda intake: intake.beats > seen + 1)
        clock.advance(60)
        assert intake.wait_for(lambda intake: len(intake.batches) == 2)
    times = [batch.samples[0].time_us - START_US for batch in intake.batches]
    assert times[0] == 20 * US_PER_S
    assert times[1] == -3520 * US_PER_S  # the last full minute of the clock as it was set


def test_a_channel_that_is_silent_leaves_the_others_alone() -> None:
    clock, intake = FakeClock(START_US), FakeIntake()
    faults = [{"channel": "deep", "kind": "silent", "after_s": 60}]
    with Running(source(clock, interval_s=60, faults=faults), intake):
        assert intake.wait_for(lambda intake: bool(intake.details))
        clock.advance(90)
        assert intake.wait_for(lambda intake: len(intake.samples) == 3)
    assert [sample.channel for sample in intake.samples] == ["shallow", "deep", "shallow"]


def test_the_soil_goes_on_where_it_was_when_the_source_runs_again() -> None:
    clock = FakeClock(START_US)
    drying = {"start_kpa": 30, "drying_kpa_per_day": 20, "noise_kpa": 0}
    farm = source(clock, interval_s=60, utc_offset_h=-12, tensiometers={"t": drying})  # it is half past eight
    shown = []
    for _ in range(2):
        with Running(farm, intake := FakeIntake()):
            assert intake.wait_for(lambda intake: bool(intake.details))
            clock.advance(6 * 3600)
            assert intake.wait_for(lambda intake: len(intake.samples) >= 360)
        shown.append(intake.samples[-1].value or 0.0)
    assert shown[1] > shown[0] + 0.05
