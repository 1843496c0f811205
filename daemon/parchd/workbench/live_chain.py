"""From raw samples to `LiveSample`: the daemon's own pipeline, for one tensiometer."""

from collections.abc import Iterable
from itertools import groupby

from parchd.contract import Cause, Reading, Sample, SampleBatch
from parchd.pipeline.setup import PipelineSetup, SiteSetup, TensiometerSetup
from parchd.pipeline.signal import signal_paths
from parchd.pipeline.stage import PipelineState, compile_pipeline, process
from parchd.workbench.live import LiveSample

NamedSample = tuple[str, Sample]
"""A source and a sample of it."""


class Chain:
    """Converts samples of one tensiometer and of the channels its conversion looks at. Reads no clock."""

    def __init__(self, setup: TensiometerSetup, site: SiteSetup) -> None:
        self._setup = setup
        self._plan = compile_pipeline(PipelineSetup(site, (setup,)))
        self._state = PipelineState()
        self._paths = signal_paths(setup)
        self.channels: frozenset[str] = frozenset({setup.channel, *self._plan.auxiliaries})
        """``source/channel`` of all that it needs."""

    @property
    def sources(self) -> frozenset[str]:
        """The sources of these channels."""
        return frozenset(channel.partition("/")[0] for channel in self.channels)

    def convert(self, samples: Iterable[NamedSample], received_us: int) -> list[LiveSample]:
        """Convert samples in the order they came; those of other channels are passed over."""
        wanted = [(source, one) for source, one in samples if f"{source}/{one.channel}" in self.channels]
        found: list[LiveSample] = []
        for source, group in groupby(wanted, key=lambda named: named[0]):
            for _, one in group:
                batch = SampleBatch(source, (one,), replayed=True)
                at_us = max(received_us, one.time_us)  # a board whose clock is ahead has a supply and a pressure too
                self._state, readings = process(self._plan, self._state, batch, at_us, clock_trusted=True)
                found += [self._live(reading) for reading in readings if reading.channel == self._setup.channel]
        return found

    def _live(self, reading: Reading) -> LiveSample:
        sample, transducer = reading.sample, self._setup.transducer
        supply_v = self._auxiliary(self._setup.supply_channel, transducer.nominal_supply_v)
        signal = None
        if sample.value is not None and reading.gauge_kpa is not None:
            signal = float(self._paths[sample.unit].scale(sample.value))
        return LiveSample(
            time_us=sample.time_us,
            value=sample.value,
            unit=sample.unit,
            signal=signal,
            supply_v=supply_v,
            indicated_kpa=None if signal is None else float(transducer.indicated_kpa(signal, supply_v)),
            vacuum_kpa=None if reading.gauge_kpa is None else 0.0 - reading.gauge_kpa,
            tension_kpa=reading.tension_kpa,
            trouble="" if reading.gauge_kpa is not None else self._trouble(reading.cause, sample),
            air_kpa=self._auxiliary(self._setup.barometer_channel, self._setup.air_kpa),
        )

    def _auxiliary(self, channel: str | None, otherwise: float) -> float:
        known = self._state.auxiliary.get(channel) if channel is not None else None
        return otherwise if known is None else known[1]

    def _trouble(self, cause: Cause, sample: Sample) -> str:
        """Say why there is no pressure, with what would be needed where that helps."""
        shown = "" if sample.value is None else f" ({sample.value:g} {sample.unit.value})"
        if cause is Cause.NO_SUPPLY and self._setup.supply_channel is not None:
            return f"{cause.word}; it is measured on {self._setup.supply_channel}"
        if cause is Cause.UNIT:
            units = ", ".join(unit.value for unit in self._paths)
            return f"{cause.word}{shown}: it takes {units}"
        return f"{cause.word}{shown}"
