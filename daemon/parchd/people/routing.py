"""Whom an alarm is told, and how it waits for each of them."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from parchd.alarms.events import AlarmKey
from parchd.contract import Priority
from parchd.people.person import PeopleSetup, Person
from parchd.people.presence import is_away, is_quiet, last_resort, stand_in
from parchd.people.roles import ROLES
from parchd.people.state import Lane

_MESSAGES = (Lane.NOW, Lane.EACH, Lane.CALM)
_RANK = (*_MESSAGES, Lane.DIGEST)


@dataclass(frozen=True, slots=True)
class Meant:
    """Somebody who is told.

    Args:
        lane: how it waits for them.
        instead_of: key of the person for whom they stand in; empty: it concerns them themselves.
        despite: nobody else can be reached: their days and hours do not hold it back.
    """

    person: Person
    lane: Lane
    instead_of: str = ""
    despite: bool = False


def concerns(setup: PeopleSetup, person: Person, key: AlarmKey) -> bool:
    """Whether an alarm is something that a person looks after; one that touches no zone concerns all zones."""
    if ROLES[key.kind] not in person.roles or not person.can_hear(key):
        return False
    zones = setup.zones(key) if person.zones else frozenset[str]()
    return not zones or not person.zones.isdisjoint(zones)


def lane_for(person: Person, lowest: Priority, priority: Priority) -> Lane | None:
    """How an alarm waits for a person; ``None``: they are not told.

    Args:
        lowest: what is less urgent stands in the digest only.
    """
    if not person.gathers:
        return Lane.EACH if priority >= lowest else None
    if priority is Priority.HIGH:
        return Lane.NOW
    if priority >= lowest:
        return Lane.CALM
    return None if person.digest is None else Lane.DIGEST


def meant_for(setup: PeopleSetup, key: AlarmKey, priority: Priority, now_us: int) -> list[Meant]:
    """Everybody who is told of an alarm, each once.

    Whoever is away is replaced by their deputy. What asks for a message and would reach nobody goes to the last resort:
    because all are away; or, of an alarm that is escalated, because all have quiet hours.
    """
    whole = [person for person in setup.persons.values() if concerns(setup, person, key)]
    found: dict[str, Meant] = {}
    for one in _here(setup, whole, priority, now_us):
        known = found.get(one.person.key)
        if known is None or _rank(one) < _rank(known):
            found[one.person.key] = one
    told = [one for one in found.values() if one.lane in _MESSAGES]
    asks = any(person.lowest_priority <= priority for person in whole) or priority > Priority.LOW
    if (asks and not told) or (_escalates(setup, key, priority) and _all_sleep(told, priority, now_us)):
        person = last_resort(setup, priority, now_us)
        if person is not None:
            found[person.key] = _at_last(person, found.get(person.key), priority, now_us)
    return list(found.values())


def _here(setup: PeopleSetup, people: list[Person], priority: Priority, now_us: int) -> Iterator[Meant]:
    for person in people:
        here = stand_in(setup, person, now_us)
        lane = None if here is None else lane_for(here, person.lowest_priority, priority)
        if here is not None and lane is not None:
            yield Meant(here, lane, "" if here is person else person.key)


def _rank(one: Meant) -> tuple[int, bool]:
    """The most urgent first; what concerns somebody themselves before what they get for another."""
    return _RANK.index(one.lane), one.instead_of != ""


def _escalates(setup: PeopleSetup, key: AlarmKey, priority: Priority) -> bool:
    return setup.escalation is not None and setup.escalation.holds_for(key, priority)


def _all_sleep(told: list[Meant], priority: Priority, now_us: int) -> bool:
    return all(is_quiet(one.person, priority, now_us) for one in told)


def _at_last(person: Person, known: Meant | None, priority: Priority, now_us: int) -> Meant:
    despite = is_away(person, now_us) or is_quiet(person, priority, now_us)
    lane = lane_for(person, Priority.LOW, priority)
    assert lane is not None, "nothing is below the lowest priority"
    return Meant(person, lane, despite=despite) if known is None else replace(known, lane=lane, despite=despite)
