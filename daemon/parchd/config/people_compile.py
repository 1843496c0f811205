"""From tables of people to the people that the core works with."""

from collections.abc import Mapping
from zoneinfo import ZoneInfo

from parchd.clock import US_PER_S
from parchd.config.loaded import NotifierEntry
from parchd.config.model import Settings
from parchd.config.people import Day, EscalationTable, PersonTable
from parchd.contract import Priority
from parchd.people.person import Away, DigestTime, Escalation, Person, Reach
from parchd.people.quiet import QuietHours
from parchd.words import Voice

HOUR_US = 3600 * US_PER_S
_WEEKDAYS: tuple[Day, ...] = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def compile_people(settings: Settings) -> tuple[Person, ...]:
    """Compile all people that have a table; a way without an address leads to all own recipients of its notifier."""
    return tuple(_person(settings, key, table) for key, table in settings.people.items())


def compile_escalation(table: EscalationTable | None) -> Escalation | None:
    """Compile who is told next."""
    if table is None:
        return None
    after_us = table.after_min * 60 * US_PER_S
    return Escalation(table.people, after_us, table.lowest_priority, frozenset(table.also))


def lowest_of(table: PersonTable) -> Priority:
    """The lowest priority of the messages that a person gets: what none of their ways is meant for is no message."""
    return max(table.lowest_priority, min((way.lowest_priority for way in table.reach), default=Priority.LOW))


def has_own_recipients(entry: NotifierEntry, people: Mapping[str, PersonTable]) -> bool:
    """Whether a notifier has recipients that are no persons."""
    ways = [way for person in people.values() for way in person.reach if way.notifier == entry.name]
    if any(way.to is None for way in ways):
        return False
    if "to" not in type(entry.options).model_fields:
        return True
    return bool(set(getattr(entry.options, "to", ())) - {way.to for way in ways})


def _person(settings: Settings, key: str, table: PersonTable) -> Person:
    time_zone = table.time_zone or settings.site.time_zone
    return Person(
        key=key,
        name=table.name or key,
        reach=tuple(Reach(way.notifier, way.to or "", way.lowest_priority) for way in table.reach),
        voice=Voice(table.language, table.units, table.date_style, time_zone),
        roles=frozenset(table.roles),
        zones=frozenset(table.zones),
        lowest_priority=lowest_of(table),
        quiet=None if table.quiet_hours is None else QuietHours(*table.quiet_hours, ZoneInfo(time_zone)),
        lets_pass=table.quiet_lets_pass,
        away=tuple(Away(span.first, span.last) for span in table.away),
        deputy=table.deputy,
        digest=_digest(settings, table),
        calm_us=round(table.calm_h * HOUR_US),
        most_a_day=table.most_a_day,
        soon_us=round(table.digest_takes_h * HOUR_US),
    )


def _digest(settings: Settings, table: PersonTable) -> DigestTime | None:
    """When a person's digest comes; it has a low priority, and needs a way that takes such."""
    at = table.digest_at or settings.schedule.digest_at
    if table.digest == "never" or at is None or all(way.lowest_priority > Priority.LOW for way in table.reach):
        return None
    return DigestTime(at, _WEEKDAYS.index(table.digest_day) if table.digest == "weekly" else None)
