"""A simulated season for an engine: what it must know of the farm, and the batches that gateways deliver."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import time
from itertools import groupby

import numpy as np

from parchd.alarms.book import AlarmBook
from parchd.alarms.rules import AlarmSetup, Delays, FaultRule, IrrigationRule
from parchd.app.people_setup import people_setup
from parchd.app.setup import EngineSetup, Route
from parchd.contract import Sample, SampleBatch
from parchd.diagnosis.diagnosis import Diagnosis
from parchd.diagnosis.setup import diagnosis_setup
from parchd.people.person import Escalation, Person
from parchd.pipeline.stage import compile_pipeline
from parchd.simulator.season import Season
from parchd.testing.site import names_of, of_routes, route


@dataclass(frozen=True, slots=True)
class Arrival:
    """What came from one gateway at one moment."""

    received_us: int
    batch: SampleBatch


def season_setup(
    season: Season,
    *rules: IrrigationRule,
    routes: Iterable[Route] | None = None,
    digest_at: time | None = None,
    people: Iterable[Person] = (),
    escalation: Escalation | None = None,
) -> EngineSetup:
    """What an engine must know of a season's farm; each zone has a rule of 30 and 50 kPa unless rules are given."""
    pipeline = season.setup
    faults = tuple(FaultRule(t.place.tensiometer, t.channel, t.interval_s) for t in pipeline.tensiometers)
    alarms = AlarmSetup(rules or tuple(_rule(season, zone) for zone in _zones(season)), faults)
    ways = (route(),) if routes is None else tuple(routes)
    return EngineSetup(
        measurement=pipeline,
        pipeline=compile_pipeline(pipeline),
        diagnosis=Diagnosis(diagnosis_setup(pipeline, season.barometer_channel)),
        book=AlarmBook(alarms),
        alarms=alarms,
        names=names_of(pipeline),
        channels={t.channel: t.place for t in pipeline.tensiometers},
        routes=ways,
        people=people_setup([*people, *of_routes(ways, digest_at, {})], alarms, names_of(pipeline), escalation),
        keep_days=None,
    )


def arrivals(season: Season) -> Iterator[Arrival]:
    """Give everything that was delivered, in the order it came; samples of one gateway and moment stay together.

    No two gateways deliver at the very same microsecond.
    """
    samples: list[tuple[int, str, int, str, Sample]] = []
    for name, track in season.tracks.items():
        source, _, channel = name.partition("/")
        columns = (track.received_us.tolist(), track.time_us.tolist(), track.value.tolist())
        for received_us, time_us, value in zip(*columns, strict=True):
            sample = Sample(channel, time_us, None if np.isnan(value) else value, track.unit)
            samples.append((received_us, source, time_us, channel, sample))
    samples.sort(key=lambda one: one[:4])
    last_us = 0
    for (received_us, source), group in groupby(samples, key=lambda one: one[:2]):
        last_us = max(received_us, last_us + 1)
        yield Arrival(last_us, SampleBatch(source, tuple(one[4] for one in group)))


def _zones(season: Season) -> list[str]:
    return list(dict.fromkeys(t.place.zone for t in season.setup.tensiometers))


def _rule(season: Season, zone: str) -> IrrigationRule:
    names = tuple(t.place.tensiometer for t in season.setup.tensiometers if t.place.zone == zone)
    return IrrigationRule(f"zone/{zone}", names, 30.0, 50.0, 3.0, Delays(), None)
