"""Who can be told now: away, standing in for somebody, within quiet hours."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from parchd.contract import Priority
from parchd.people.days import local_day
from parchd.people.person import PeopleSetup, Person


def is_away(person: Person, now_us: int) -> bool:
    """Whether somebody gets nothing today."""
    if not person.away:
        return False
    today = local_day(ZoneInfo(person.voice.time_zone), now_us)
    return any(span.first <= today <= span.last for span in person.away)


def stand_in(setup: PeopleSetup, person: Person, now_us: int) -> Person | None:
    """Who gets the messages of a person: they themselves, or the first deputy who is here; ``None``: nobody does."""
    asked: set[str] = set()
    meant: Person | None = person
    while meant is not None and meant.key not in asked:
        if not is_away(meant, now_us):
            return meant
        asked.add(meant.key)
        meant = None if meant.deputy is None else setup.persons.get(meant.deputy)
    return None


def is_quiet(person: Person, priority: Priority, now_us: int) -> bool:
    """Whether a message of this priority has to wait for the end of quiet hours."""
    if person.quiet is None or (person.lets_pass is not None and priority >= person.lets_pass):
        return False
    return person.quiet.end_us(now_us) is not None


def last_resort(setup: PeopleSetup, priority: Priority, now_us: int) -> Person | None:
    """Who is told when nobody that an alarm concerns can be: the first of the escalation who is here and awake.

    If there is none of these either, the last of the list, whatever their days and hours. Where there is no list, all
    people are on it, the last of the configuration first. ``None``: nobody has a table of their own.
    """
    people = _listed(setup)
    for person in people:
        here = stand_in(setup, person, now_us)
        if here is not None and not is_quiet(here, priority, now_us):
            return here
    return people[-1] if people else None


def _listed(setup: PeopleSetup) -> Sequence[Person]:
    if setup.escalation is None:
        return [person for person in setup.persons.values() if person.is_named][::-1]
    return [setup.persons[key] for key in setup.escalation.people if key in setup.persons]
