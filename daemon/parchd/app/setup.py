"""What the engine must know; made from a loaded configuration."""

from collections.abc import Mapping
from dataclasses import dataclass

from parchd.alarms.book import AlarmBook
from parchd.alarms.rules import AlarmSetup
from parchd.alarms.wording import Names
from parchd.app.answers import LinkSetup
from parchd.app.people_setup import people_setup, recipients_as_people, with_addresses
from parchd.clock import US_PER_S
from parchd.config import Loaded
from parchd.contract import Place
from parchd.diagnosis.diagnosis import Diagnosis
from parchd.diagnosis.setup import diagnosis_setup
from parchd.people.person import PeopleSetup, Person
from parchd.pipeline.setup import PipelineSetup
from parchd.pipeline.stage import PipelinePlan, compile_pipeline
from parchd.store.dispatch import DispatchRules


@dataclass(frozen=True, slots=True)
class Route:
    """One notifier as the outbox sees it.

    Args:
        transitions: it gets every step in the life of alarms.
    """

    notifier: str
    recipients: tuple[str, ...]
    fingerprint: str
    rules: DispatchRules
    transitions: bool = False


@dataclass(frozen=True, slots=True)
class EngineSetup:
    """Everything the engine works by; replaced as a whole on reload."""

    measurement: PipelineSetup
    pipeline: PipelinePlan
    diagnosis: Diagnosis
    book: AlarmBook
    alarms: AlarmSetup
    names: Names
    channels: Mapping[str, Place]
    routes: tuple[Route, ...]
    people: PeopleSetup
    keep_days: int | None
    links: LinkSetup | None = None
    """Where links in messages lead; ``None``: there are none."""


def engine_setup(loaded: Loaded, recipients: Mapping[str, tuple[str, ...]]) -> EngineSetup:
    """Compile a configuration for the engine; ``recipients`` by notifier, as the built notifiers name them."""
    return EngineSetup(
        measurement=loaded.pipeline,
        pipeline=compile_pipeline(loaded.pipeline),
        diagnosis=diagnosis_of(loaded),
        book=AlarmBook(loaded.alarms),
        alarms=loaded.alarms,
        names=names(loaded),
        channels=places(loaded),
        routes=tuple(
            Route(
                name,
                recipients[name],
                entry.fingerprint,
                DispatchRules(entry.policy.max_per_hour),
                entry.policy.transitions,
            )
            for name, entry in loaded.notifiers.items()
        ),
        people=people_setup(people(loaded, recipients), loaded.alarms, names(loaded), loaded.escalation),
        keep_days=loaded.store.keep_days,
        links=_links(loaded),
    )


def _links(loaded: Loaded) -> LinkSetup | None:
    web = loaded.web
    if web is None or web.public_url is None:
        return None
    return LinkSetup(web.public_url, web.link_days * 86_400 * US_PER_S)


def diagnosis_of(loaded: Loaded) -> Diagnosis:
    """The diagnosis of the configured tensiometers."""
    patience = {rule.tensiometer: rule.silent_intervals for rule in loaded.alarms.faults}
    return Diagnosis(diagnosis_setup(loaded.pipeline, loaded.settings.site.barometer_channel, patience))


def names(loaded: Loaded) -> Names:
    """What people of the site call things."""
    return Names(
        site=loaded.pipeline.site.name,
        time_zone=loaded.pipeline.site.time_zone,
        zones={key: zone.title or key for key, zone in loaded.settings.zones.items()},
        places={t.place.tensiometer: t.place for t in loaded.pipeline.tensiometers},
    )


def places(loaded: Loaded) -> dict[str, Place]:
    """The place of the tensiometer on each channel."""
    return {t.channel: t.place for t in loaded.pipeline.tensiometers}


def people(loaded: Loaded, recipients: Mapping[str, tuple[str, ...]]) -> list[Person]:
    """Everybody who is told: people with a table, then recipients of notifiers whom no such table reaches."""
    zone, digest_at = loaded.pipeline.site.time_zone, loaded.schedule.digest_at
    named = [with_addresses(person, recipients) for person in loaded.people]
    reached = {(way.notifier, way.to) for person in named for way in person.reach}
    return named + [
        person
        for name, entry in loaded.notifiers.items()
        for person in recipients_as_people(name, recipients[name], entry.policy, digest_at, zone)
        if (name, person.name) not in reached
    ]
