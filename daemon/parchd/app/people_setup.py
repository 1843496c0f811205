"""The people of a configuration, and what must be known of alarms to choose among them."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import time
from zoneinfo import ZoneInfo

from parchd.alarms.events import AlarmKey
from parchd.alarms.names import Names
from parchd.alarms.responses import RESPONSES, TODAY_H
from parchd.alarms.rules import AlarmSetup
from parchd.alarms.terms import Presence, Quantity, Term
from parchd.config.loaded import NotifierPolicy
from parchd.people.person import DigestTime, Escalation, PeopleSetup, Person, Reach
from parchd.people.quiet import QuietHours
from parchd.words import Voice


def people_setup(
    persons: Iterable[Person], alarms: AlarmSetup, names: Names, escalation: Escalation | None = None
) -> PeopleSetup:
    """Join people with what alarms are about."""
    return PeopleSetup(
        {person.key: person for person in persons},
        priority=lambda key: alarms.priority(*key),
        zones=zones_of(alarms, names),
        is_pressing=lambda key: RESPONSES[key.kind].within_h <= TODAY_H,
        escalation=escalation,
    )


def with_addresses(person: Person, recipients: Mapping[str, Iterable[str]]) -> Person:
    """Give a person with an address for each way: one without leads to all own recipients of its notifier."""
    ways = (
        way._replace(to=to)
        for way in person.reach
        for to in ((way.to,) if way.to else recipients.get(way.notifier, ()))
    )
    return replace(person, reach=tuple(dict.fromkeys(ways)))


def recipients_as_people(
    notifier: str, recipients: Iterable[str], policy: NotifierPolicy, digest_at: time | None, time_zone: str
) -> Iterator[Person]:
    """The recipients of a notifier that nobody has a table for: they get every change as it comes.

    A notifier that is sent every step in the life of alarms leads to programs: nobody is behind it.

    Args:
        policy: the keys of the notifier; what it says of hours is in the time of the site.
        digest_at: when the daily digest comes; ``None``: never.
    """
    quiet = None if policy.quiet is None else QuietHours(*policy.quiet, ZoneInfo(time_zone))
    for recipient in () if policy.transitions else recipients:
        yield Person(
            key=f"{notifier}/{recipient}",
            name=recipient,
            reach=(Reach(notifier, recipient),),
            voice=Voice(time_zone=time_zone),
            lowest_priority=policy.lowest_priority,
            quiet=quiet,
            lets_pass=policy.quiet_lets_pass,
            digest=DigestTime(digest_at) if policy.digest and digest_at is not None else None,
            calm_us=0,
            is_named=False,
        )


def zones_of(alarms: AlarmSetup, names: Names) -> Callable[[AlarmKey], frozenset[str]]:
    """Find the zones that an alarm touches: of its tensiometer, all tensiometers of its source, what its rule names."""
    zones: dict[str, set[str]] = {f"zone/{zone}": {zone} for zone in names.zones}
    for rule in alarms.faults:
        place = names.places.get(rule.tensiometer)
        if place is not None:
            for subject in (f"tensiometer/{rule.tensiometer}", f"source/{rule.channel.partition('/')[0]}"):
                zones.setdefault(subject, set()).add(place.zone)
    for own in alarms.rules:
        if own.is_own:
            touched = (zones.get(subject, set()) for term in own.terms for subject in _subjects(term))
            zones[own.key.subject] = set().union(*touched)
    known: Mapping[str, frozenset[str]] = {subject: frozenset(touched) for subject, touched in zones.items()}
    return lambda key: known.get(key.subject, frozenset())


def _subjects(term: Term) -> list[str]:
    """What a condition looks at; of a channel nobody knows where it is."""
    if isinstance(term, Presence):
        return [key.subject for key in term.keys]
    if term.quantity is Quantity.CHANNEL:
        return []
    of_zone = term.quantity in (Quantity.ZONE_TENSION, Quantity.ZONE_RISE)
    return [f"{'zone' if of_zone else 'tensiometer'}/{term.name}"]
