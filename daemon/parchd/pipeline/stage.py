"""From a batch of samples to flagged readings: ``(plan, state, batch) -> (state, readings)``."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from parchd.clock import US_PER_S
from parchd.contract import Cause, Flag, Reading, Sample, SampleBatch, TimeSource, Unit
from parchd.physics.causes import flag_of
from parchd.pipeline.convert import Convert, Converted, compile_conversion
from parchd.pipeline.setup import PipelineSetup, TensiometerSetup

FUTURE_TOLERANCE_US = 600 * US_PER_S
AUXILIARY_MAX_AGE_US = 2 * 3600 * US_PER_S
LATE_AFTER_US = 2 * 3600 * US_PER_S
LATE_INTERVALS = 6


@dataclass(frozen=True, slots=True)
class ChannelPlan:
    """What happens to samples of a tensiometer's channel."""

    setup: TensiometerSetup
    convert: Convert

    @property
    def late_after_us(self) -> float:
        """Age at which a sample is one that a gateway caught up with, not one that is slow."""
        return max(LATE_AFTER_US, LATE_INTERVALS * self.setup.interval_s * US_PER_S)


@dataclass(frozen=True, slots=True)
class PipelinePlan:
    """The compiled pipeline of a site; channels nobody named are only kept.

    Args:
        channels: a plan for the channel of each tensiometer.
        auxiliaries: channels with a supply or a temperature; a tensiometer's may be one as well.
    """

    channels: Mapping[str, ChannelPlan]
    auxiliaries: frozenset[str]


@dataclass(frozen=True, slots=True)
class PipelineState:
    """What one batch leaves for the next.

    Args:
        newest_us: time of the newest sample of each channel that was believed.
        auxiliary: last value of each supply (V) or temperature (degC) channel, with its time.
    """

    newest_us: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    auxiliary: Mapping[str, tuple[int, float]] = field(default_factory=lambda: MappingProxyType({}))


def compile_pipeline(setup: PipelineSetup) -> PipelinePlan:
    """Compile every chain of a site; two tensiometers on one channel cannot happen past the configuration."""
    tensiometers = setup.tensiometers
    auxiliaries = {name for t in tensiometers for name in (t.supply_channel, t.temperature_channel) if name is not None}
    channels = {t.channel: ChannelPlan(t, compile_conversion(t)) for t in tensiometers}
    return PipelinePlan(channels, frozenset(auxiliaries))


def process(
    plan: PipelinePlan, state: PipelineState, batch: SampleBatch, received_us: int, *, clock_trusted: bool
) -> tuple[PipelineState, list[Reading]]:
    """Convert a batch, one reading per sample, in the order of time with auxiliaries first.

    A sample that is not newer than the newest of its channel is late: converted, but it judges no alarm and changes
    no state. So is one more than ten minutes in the future, one stamped by a clock that cannot be trusted (both
    with ``Cause.CLOCK``), and one of unknown time. One that arrives two hours and six intervals after it was measured
    is late as well, unless it is replayed. Cutting a batch between two lines changes nothing.
    """
    turn = _Turn(plan, dict(state.newest_us), dict(state.auxiliary), received_us, clock_trusted, batch.replayed)
    readings = [turn.take(name, sample) for name, sample in _ordered(plan, batch)]
    return replace(state, newest_us=turn.newest_us, auxiliary=turn.auxiliary), readings


def _ordered(plan: PipelinePlan, batch: SampleBatch) -> list[tuple[str, Sample]]:
    prefix, auxiliaries = batch.source + "/", plan.auxiliaries
    named = [(prefix + sample.channel, sample) for sample in batch.samples]
    return sorted(named, key=lambda item: (item[1].time_us, item[0] not in auxiliaries))


@dataclass(slots=True)
class _Turn:
    """The working state of one batch."""

    plan: PipelinePlan
    newest_us: dict[str, int]
    auxiliary: dict[str, tuple[int, float]]
    received_us: int
    clock_trusted: bool
    replayed: bool

    def take(self, name: str, sample: Sample) -> Reading:
        plan = self.plan.channels.get(name)
        doubt = self._doubt(sample)
        believed = doubt is Cause.NONE and sample.time_us > self.newest_us.get(name, sample.time_us - 1)
        converted = self._convert(plan, sample)
        if believed:
            self.newest_us[name] = sample.time_us
            if name in self.plan.auxiliaries:
                self._note_auxiliary(name, sample)
        late = not believed or self._is_old(plan, sample)
        cause = converted.cause or doubt
        flag = flag_of(cause)
        if plan is None and flag is Flag.PASS:
            flag = Flag.NOT_EVALUATED
        return Reading(
            sample, name, self.received_us, converted.gauge_kpa, converted.tension_kpa, flag, cause, late,
            converted.calibration,
        )  # fmt: skip

    def _is_old(self, plan: ChannelPlan | None, sample: Sample) -> bool:
        after_us = LATE_AFTER_US if plan is None else plan.late_after_us
        return self.received_us - sample.time_us > after_us and not self.replayed

    def _note_auxiliary(self, name: str, sample: Sample) -> None:
        """Keep the newest value; a device that says that it has none takes back the one before."""
        if sample.value is None:
            self.auxiliary.pop(name, None)
        else:
            self.auxiliary[name] = (sample.time_us, sample.value / 1000.0 if sample.unit is Unit.MV else sample.value)

    def _doubt(self, sample: Sample) -> Cause:
        if sample.time_source is TimeSource.UNKNOWN:
            return Cause.TIME_UNKNOWN
        if sample.time_us > self.received_us + FUTURE_TOLERANCE_US:
            return Cause.CLOCK
        if not self.clock_trusted and sample.time_source is TimeSource.ARRIVAL:
            return Cause.CLOCK
        return Cause.NONE

    def _convert(self, plan: ChannelPlan | None, sample: Sample) -> Converted:
        if sample.value is None:
            return Converted(None, None, Cause.NO_VALUE, "")
        if plan is None:
            return _UNTOUCHED
        setup = plan.setup
        supply_v = self._auxiliary_at(setup.supply_channel, sample.time_us)
        water_c = self._auxiliary_at(setup.temperature_channel, sample.time_us)
        return plan.convert(sample.value, sample.unit, sample.time_us, supply_v, water_c)

    def _auxiliary_at(self, channel: str | None, time_us: int) -> float | None:
        if channel is None or (known := self.auxiliary.get(channel)) is None:
            return None
        measured_us, value = known
        return value if abs(time_us - measured_us) <= AUXILIARY_MAX_AGE_US else None


_UNTOUCHED = Converted(None, None, Cause.NONE, "")
