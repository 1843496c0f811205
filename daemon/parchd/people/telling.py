"""One message to one person, before it has words."""

from dataclasses import dataclass

from parchd.alarms.health import can_tell
from parchd.alarms.standing import Transition
from parchd.contract import NoticeKind, Priority
from parchd.people.person import Person, Reach
from parchd.people.state import Item


@dataclass(frozen=True, slots=True)
class Telling:
    """What one message is to say, and to whom.

    Args:
        person: who gets it, and how they are spoken to.
        kind: raised, cleared, repeated, reminder, escalated (about one alarm, its only item), group, flood, digest.
        items: what it is about, the most urgent first.
        time_us: when it was decided.
        day: local date of a digest; else empty.
        alarms: of a flood: how many alarms there were in ten minutes.
    """

    person: Person
    kind: NoticeKind
    items: tuple[Item, ...]
    time_us: int
    day: str = ""
    alarms: int = 0

    @property
    def transitions(self) -> tuple[Transition, ...]:
        return tuple(item.step for item in self.items)

    @property
    def priority(self) -> Priority:
        """The highest of what asks for a response; a digest is ``LOW``."""
        if self.kind is NoticeKind.DIGEST:
            return Priority.LOW
        asking = [item.priority for item in self.items if item.asks] or [item.priority for item in self.items]
        return max(asking, default=Priority.LOW)

    @property
    def reach(self) -> tuple[Reach, ...]:
        """The ways it takes; one that is down cannot tell of itself."""
        ways = self.person.reached_for(self.priority)
        return tuple(way for way in ways if len(self.items) != 1 or can_tell(way.notifier, self.items[0].key))

    @property
    def name(self) -> str:
        """Names the message; the same in each copy of it, and never used for another to the same person."""
        if self.kind is NoticeKind.DIGEST:
            return f"digest.{self.day}" + (f".{self.person.key}" if self.person.is_named else "")
        first = self.items[0]
        if self.kind in (NoticeKind.RAISED, NoticeKind.CLEARED):
            return f"{first.step.episode}.{self.kind}"
        if self.kind in (NoticeKind.GROUP, NoticeKind.FLOOD):
            return f"{self.kind}.{self.person.key}.{first.step.episode}.{self.time_us}"
        return f"{first.step.episode}.{self.kind}.{self.time_us}"
