"""From a batch of samples to flagged readings: ``(plan, state, batch) -> (state, readings)``."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from parchd.clock import US_PER_S
from parchd.contract import Cause, Flag, Reading, Sample, SampleBatch, TimeSource, Unit
from parchd.physics.causes import flag_of
from parchd.pipeline.convert import NOTHING_KNOWN, Convert, Converted, Known, compile_conversion
from parchd.pipeline.services import Services
from parchd.pipeline.setup import PipelineSetup, TensiometerSetup
from parchd.quality.limits import Limits, limits_of

FUTURE_TOLERANCE_US = 600 * US_PER_S
AUXILIARY_MAX_AGE_US = 2 * 3600 * US_PER_S
LATE_AFTER_US = 2 * 3600 * US_PER_S
LATE_INTERVALS = 6

_AUXILIARY_DIVISOR = {Unit.MV: 1000.0, Unit.HPA: 10.0}


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
        auxiliaries: units that samples of a supply, temperature or barometer channel may have; a tensiometer's own
            channel may be one as well.
        limits: of the quality tests, for the channel of each tensiometer.
    """

    channels: Mapping[str, ChannelPlan]
    auxiliaries: Mapping[str, frozenset[Unit]]
    limits: Mapping[str, Limits]


@dataclass(frozen=True, slots=True)
class PipelineState:
    """What one batch leaves for the next.

    Args:
        newest_us: time of the newest sample of each channel that was believed.
        auxiliary: last value of each supply (V), temperature (degC) or barometer (kPa) channel, with its time.
        services: what was done to tensiometers, by channel.
    """

    newest_us: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    auxiliary: Mapping[str, tuple[int, float]] = field(default_factory=lambda: MappingProxyType({}))
    services: Mapping[str, Services] = field(default_factory=lambda: MappingProxyType({}))


def compile_pipeline(setup: PipelineSetup) -> PipelinePlan:
    """Compile every chain of a site; two tensiometers on one channel cannot happen past the configuration."""
    tensiometers = setup.tensiometers
    auxiliaries: dict[str, frozenset[Unit]] = {}
    for tensiometer in tensiometers:
        for name, units in auxiliary_channels(tensiometer):
            auxiliaries[name] = auxiliaries.get(name, frozenset()) | units
    channels = {t.channel: ChannelPlan(t, compile_conversion(t)) for t in tensiometers}
    return PipelinePlan(channels, auxiliaries, {t.channel: quality_limits(t) for t in tensiometers})


def quality_limits(setup: TensiometerSetup) -> Limits:
    """Give the limits of the quality tests of a tensiometer."""
    errors = setup.errors
    return limits_of(setup.interval_s, errors.step_kpa / errors.readings, setup.fastest_drying_kpa_per_h)


def auxiliary_channels(setup: TensiometerSetup) -> list[tuple[str, frozenset[Unit]]]:
    """The channels that a tensiometer's chain looks at beside its own, each with the units that fit."""
    named = (
        (setup.supply_channel, frozenset({Unit.V, Unit.MV})),
        (setup.temperature_channel, frozenset({Unit.CELSIUS})),
        (setup.barometer_channel, frozenset({Unit.KPA, Unit.HPA})),
    )
    return [(channel, units) for channel, units in named if channel is not None]


def auxiliary_value(value: float, unit: Unit) -> float:
    """Give what an auxiliary sample says in V, degC or kPa.

    >>> auxiliary_value(5010.0, Unit.MV), auxiliary_value(1000.0, Unit.HPA)
    (5.01, 100.0)
    """
    return value / _AUXILIARY_DIVISOR.get(unit, 1.0)


def process(
    plan: PipelinePlan, state: PipelineState, batch: SampleBatch, received_us: int, *, clock_trusted: bool
) -> tuple[PipelineState, list[Reading]]:
    """Convert a batch, one reading per sample, in the order of time with auxiliaries first.

    A sample that is not newer than the newest of its channel is late: converted, but it judges no alarm and changes
    no state. So is one more than ten minutes in the future, one stamped by a clock that cannot be trusted (both
    with ``Cause.CLOCK``), and one of unknown time. One that arrives two hours and six intervals after it was measured
    is late as well, unless it is replayed. Cutting a batch between two lines changes nothing.
    """
    newest_us, auxiliary = dict(state.newest_us), dict(state.auxiliary)
    turn = _Turn(plan, newest_us, auxiliary, received_us, clock_trusted, batch.replayed, state.services)
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
    services: Mapping[str, Services]

    def take(self, name: str, sample: Sample) -> Reading:
        plan = self.plan.channels.get(name)
        doubt = self._doubt(sample)
        believed = doubt is Cause.NONE and sample.time_us > self.newest_us.get(name, sample.time_us - 1)
        converted = self._convert(plan, sample)
        if believed:
            self.newest_us[name] = sample.time_us
            if sample.unit in self.plan.auxiliaries.get(name, ()):
                self._note_auxiliary(name, sample)
        late = not believed or self._is_old(plan, sample)
        cause = converted.cause or doubt
        if name in self.services and cause is not Cause.NO_VALUE and self.services[name].marks(sample.time_us):
            cause = Cause.SERVICE
        flag = flag_of(cause)
        if plan is None and flag is Flag.PASS:
            flag = Flag.NOT_EVALUATED
        return Reading(
            sample, name, self.received_us, converted.gauge_kpa, converted.tension_kpa, flag, cause, late,
            converted.calibration, converted.uncertainty_kpa,
        )  # fmt: skip

    def _is_old(self, plan: ChannelPlan | None, sample: Sample) -> bool:
        after_us = LATE_AFTER_US if plan is None else plan.late_after_us
        return self.received_us - sample.time_us > after_us and not self.replayed

    def _note_auxiliary(self, name: str, sample: Sample) -> None:
        """Keep the newest value; a device that says that it has none takes back the one before."""
        if sample.value is None:
            self.auxiliary.pop(name, None)
        else:
            self.auxiliary[name] = (sample.time_us, auxiliary_value(sample.value, sample.unit))

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
        setup, time_us = plan.setup, sample.time_us
        if not self.plan.auxiliaries and not self.services:
            return plan.convert(sample.value, sample.unit, time_us, NOTHING_KNOWN)
        served = self.services.get(setup.channel)
        known = Known(
            self._auxiliary_at(setup.supply_channel, time_us),
            self._auxiliary_at(setup.temperature_channel, time_us),
            self._auxiliary_at(setup.barometer_channel, time_us),
            None if served is None else served.height_m(time_us),
        )
        return plan.convert(sample.value, sample.unit, time_us, known)

    def _auxiliary_at(self, channel: str | None, time_us: int) -> float | None:
        if channel is None or (known := self.auxiliary.get(channel)) is None:
            return None
        measured_us, value = known
        return value if abs(time_us - measured_us) <= AUXILIARY_MAX_AGE_US else None


_UNTOUCHED = Converted(None, None, Cause.NONE, "")
