"""Whom there is to tell, and how each of them wants it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, time
from typing import NamedTuple

from parchd.alarms.events import AlarmKey
from parchd.alarms.health import can_tell
from parchd.alarms.kinds import AlarmKind
from parchd.clock import US_PER_S
from parchd.contract import Priority
from parchd.people.quiet import QuietHours
from parchd.people.roles import Role
from parchd.words import Voice

HOUR_US = 3600 * US_PER_S
ENGLISH = Voice()


class Reach(NamedTuple):
    """One way to a person.

    Args:
        notifier: its name in the configuration.
        to: an address of it; empty, as long as its own recipients are not known: all of these.
        lowest_priority: what is less urgent takes the person's other ways.
    """

    notifier: str
    to: str
    lowest_priority: Priority = Priority.LOW


class Away(NamedTuple):
    """Days on which somebody gets nothing, the first and the last among them; local dates."""

    first: date
    last: date


class DigestTime(NamedTuple):
    """When a digest comes: each day at a local time, or on one day of the week (0: Monday)."""

    at: time
    weekday: int | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who is told; times are local to ``voice.time_zone``.

    Args:
        key: name in the configuration.
        name: what people call them.
        reach: ways to them; at least one, unless a notifier has no recipients now.
        voice: how they are spoken to.
        roles: what they look after.
        zones: whose alarms concern them; empty: all.
        lowest_priority: less urgent alarms stand in the digest only.
        quiet: hours in which they want no message; ``None``: there are none.
        lets_pass: the lowest priority that comes in quiet hours too; ``None``: nothing does.
        away: when they get nothing.
        deputy: who gets their messages meanwhile; ``None``: nobody does.
        digest: when the digest comes; ``None``: never.
        calm_us: after a message that is not urgent, further ones are gathered for so long. 0: nothing is ever
            gathered: every change is a message of its own, at once, as programs want it.
        most_a_day: messages that are not urgent on one day, the digest among them.
        soon_us: what was gathered waits for a digest that comes so soon.
        is_named: has a table in the configuration; others are the recipients of a notifier.
    """

    key: str
    name: str
    reach: tuple[Reach, ...]
    voice: Voice = ENGLISH
    roles: frozenset[Role] = frozenset(Role)
    zones: frozenset[str] = frozenset()
    lowest_priority: Priority = Priority.MEDIUM
    quiet: QuietHours | None = None
    lets_pass: Priority | None = Priority.HIGH
    away: tuple[Away, ...] = ()
    deputy: str | None = None
    digest: DigestTime | None = None
    calm_us: int = 4 * HOUR_US
    most_a_day: int = 2
    soon_us: int = 3 * HOUR_US
    is_named: bool = True

    @property
    def gathers(self) -> bool:
        """Whether messages to them are gathered at all."""
        return self.calm_us > 0

    def can_hear(self, key: AlarmKey) -> bool:
        """Whether any way leads to them that is fit to tell of an alarm."""
        return any(can_tell(way.notifier, key) for way in self.reach)

    def reached_for(self, priority: Priority) -> tuple[Reach, ...]:
        """The ways that a message of this priority takes; the least choosy ones where none is meant for it.

        >>> pager = Reach("pager", "mara", Priority.HIGH)
        >>> Person("mara", "Mara", (Reach("mail", "m@quillmere.example"), pager)).reached_for(Priority.LOW)[0].notifier
        'mail'
        """
        least = min((way.lowest_priority for way in self.reach), default=priority)
        return tuple(way for way in self.reach if way.lowest_priority <= max(priority, least))


@dataclass(frozen=True, slots=True)
class Escalation:
    """Who is told next when nobody acknowledges an alarm.

    Args:
        people: keys of persons, in order.
        after_us: the next one is told when so long nobody acknowledged.
        lowest_priority: of the alarms that this is done for.
        also: kinds that it is done for whatever their priority.
    """

    people: tuple[str, ...]
    after_us: int = HOUR_US
    lowest_priority: Priority = Priority.HIGH
    also: frozenset[AlarmKind] = frozenset()

    def holds_for(self, key: AlarmKey, priority: Priority) -> bool:
        return priority >= self.lowest_priority or key.kind in self.also


def _usual(_key: AlarmKey) -> frozenset[str]:
    return frozenset()


@dataclass(frozen=True, slots=True)
class PeopleSetup:
    """All people of a site, and what must be known of alarms to choose among them.

    Args:
        persons: by key, in the order of the configuration.
        priority: of an alarm.
        zones: that an alarm touches; none: it concerns people of every zone.
        is_pressing: whether an alarm asks for a response on the same day.
        escalation: ``None``: there is none.
    """

    persons: Mapping[str, Person]
    priority: Callable[[AlarmKey], Priority]
    zones: Callable[[AlarmKey], frozenset[str]] = field(default=_usual)
    is_pressing: Callable[[AlarmKey], bool] = field(default=lambda _key: False)
    escalation: Escalation | None = None
