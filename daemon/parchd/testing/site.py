"""A small invented site, what arrives from it, and what the engine must know of it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, time
from typing import Any

from parchd.alarms.book import AlarmBook
from parchd.alarms.rules import AlarmSetup, Delays, FaultRule, IrrigationRule
from parchd.alarms.wording import Names
from parchd.app.people_setup import people_setup, recipients_as_people
from parchd.app.setup import EngineSetup, Route
from parchd.clock import US_PER_S, from_datetime
from parchd.config import NotifierPolicy
from parchd.contract import Cause, Flag, Place, Reading, Sample, SampleBatch, TimeSource, Unit
from parchd.diagnosis.diagnosis import Diagnosis
from parchd.diagnosis.setup import diagnosis_setup
from parchd.people.person import Escalation, Person
from parchd.physics.transducers import DirectPressure, Ratiometric, Transducer
from parchd.pipeline.setup import PipelineSetup, SiteSetup, TensiometerSetup
from parchd.pipeline.stage import compile_pipeline
from parchd.store.dispatch import DispatchRules

START_US = from_datetime(datetime(2026, 6, 1, 4, tzinfo=UTC))
"""Six in the morning at the site."""
MINUTE_US = 60 * US_PER_S
HOUR_US = 60 * MINUTE_US
DAY_US = 24 * HOUR_US

SITE = SiteSetup("Quillmere Orchard", "Europe/Berlin", 120.0)
ZONES = {"north": "north block", "creek": "creek terrace"}
DIRECT = DirectPressure(vacuum_positive=True)
NORTH = ("north-20", "north-40", "north-60")


def tensiometer(
    name: str, channel: str, transducer: Transducer = DIRECT, *, height_m: float = 0.0, **changes: Any
) -> TensiometerSetup:
    """Set one tensiometer up; its zone and its depth are parts of its name, ``zone-depth_cm``.

    With the transducer of this module and no height, the sample in kPa is the tension.
    """
    zone, _, depth_cm = name.partition("-")
    place = Place(SITE.name, zone, "post 1", name, int(depth_cm) / 100.0)
    setup = TensiometerSetup(
        place, f"bus1/{channel}", transducer, height_m,
        usable_limit_kpa=85.0, lowest_kpa=-15.0, highest_kpa=99.0, interval_s=600.0,
    )  # fmt: skip
    return replace(setup, **changes)


def small_site(**rule: Any) -> tuple[PipelineSetup, AlarmSetup]:
    """Three tensiometers in the north block (``bus1/n20``, ``n40``, ``n60``, direct kPa), one on the creek terrace.

    That one (``bus1/c30``) is ratiometric, with its supply on ``bus1/vs`` and its temperature on ``bus1/temp``.
    ``rule`` changes the irrigation rule of the north block, which is to plan at 40 kPa and to irrigate at 60 kPa, with
    a deadband of 5 kPa, no delays and no window.
    """
    creek = tensiometer(
        "creek-30", "c30", Ratiometric(0.0, -100.0),
        height_m=0.6, supply_channel="bus1/vs", temperature_channel="bus1/temp",
    )  # fmt: skip
    tensiometers = (*(tensiometer(name, f"n{name[-2:]}") for name in NORTH), creek)
    north = IrrigationRule("zone/north", NORTH, 40.0, 60.0, 5.0, Delays(), None)
    return PipelineSetup(SITE, tensiometers), AlarmSetup(
        irrigation=(
            replace(north, **rule),
            IrrigationRule("zone/creek", ("creek-30",), None, 50.0, 5.0, Delays(), None),
        ),
        faults=tuple(FaultRule(t.place.tensiometer, t.channel, t.interval_s) for t in tensiometers),
    )


def names_of(pipeline: PipelineSetup) -> Names:
    """What people of the site call things."""
    places = {t.place.tensiometer: t.place for t in pipeline.tensiometers}
    return Names(pipeline.site.name, pipeline.site.time_zone, ZONES, places)


def route(notifier: str = "mail", *recipients: str, max_per_hour: int = 100, **changes: Any) -> Route:
    """A notifier as the outbox sees it; to ``anne`` unless told otherwise."""
    made = Route(notifier, recipients or ("anne",), "mark 1", DispatchRules(max_per_hour))
    return replace(made, **changes)


def of_routes(routes: Iterable[Route], digest_at: time | None, policies: Mapping[str, NotifierPolicy]) -> list[Person]:
    """The recipients of routes as people; with no policy of its own a route is told of all."""
    return [
        person
        for way in routes
        for person in recipients_as_people(
            way.notifier, way.recipients, policies.get(way.notifier, NotifierPolicy()), digest_at, SITE.time_zone
        )
    ]


def engine_setup_of(
    site: tuple[PipelineSetup, AlarmSetup] | None = None,
    routes: Iterable[Route] | None = None,
    *,
    digest_at: time | None = None,
    keep_days: int | None = None,
    policies: Mapping[str, NotifierPolicy] | None = None,
    people: Iterable[Person] = (),
    escalation: Escalation | None = None,
) -> EngineSetup:
    """Compile a site for the engine: the small one, and one route, unless told otherwise.

    Recipients of a route are told by its policy, if there is one, else of all.
    """
    pipeline, alarms = site or small_site()
    ways = (route(),) if routes is None else tuple(routes)
    persons = [*people, *of_routes(ways, digest_at, policies or {})]
    return EngineSetup(
        measurement=pipeline,
        pipeline=compile_pipeline(pipeline),
        diagnosis=Diagnosis(
            diagnosis_setup(pipeline, silent_intervals={r.tensiometer: r.silent_intervals for r in alarms.faults})
        ),
        book=AlarmBook(alarms),
        alarms=alarms,
        names=names_of(pipeline),
        channels={t.channel: t.place for t in pipeline.tensiometers},
        routes=ways,
        people=people_setup(persons, alarms, names_of(pipeline), escalation),
        keep_days=keep_days,
    )


def sample(
    channel: str,
    time_us: int,
    value: float | None,
    unit: Unit = Unit.KPA,
    time_source: TimeSource = TimeSource.DEVICE,
) -> Sample:
    """One sample; kPa by the device's own clock unless told otherwise."""
    return Sample(channel, time_us, value, unit, time_source)


def batch(*samples: Sample, on_committed: Callable[[], None] | None = None, urgent: bool = False) -> SampleBatch:
    """A batch of the site's one source."""
    return SampleBatch("bus1", samples, on_committed, urgent)


def line(time_us: int, **values: float | None) -> SampleBatch:
    """What one line of the bus says: values in kPa by channel."""
    return batch(*(sample(channel, time_us, value) for channel, value in values.items()))


def reading(
    channel: str,
    time_us: int,
    tension_kpa: float | None,
    flag: Flag = Flag.PASS,
    cause: Cause = Cause.NONE,
    *,
    late: bool = False,
    received_us: int | None = None,
) -> Reading:
    """A reading of a directly connected tensiometer, received as it was measured unless told otherwise."""
    gauge_kpa = None if tension_kpa is None else -tension_kpa
    taken = Sample(channel.partition("/")[2], time_us, None if flag is Flag.MISSING else tension_kpa or 0.0, Unit.KPA)
    received_us = time_us if received_us is None else received_us
    return Reading(taken, channel, received_us, gauge_kpa, tension_kpa, flag, cause, late)
