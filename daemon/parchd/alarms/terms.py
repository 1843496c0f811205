"""Conditions over readings, channels and findings: what rules are made of, one's own and some of ours."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Union

from parchd.alarms.delays import AT_ONCE, Delays
from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.contract import Priority


class Quantity(StrEnum):
    """What a level is of. The words are the keys of the configuration, and stand in evidence."""

    TENSION = "tension"
    ZONE_TENSION = "zone_tension"
    RISE = "rise"
    ZONE_RISE = "zone_rise"
    CHANNEL = "channel"


UNITS = {
    Quantity.TENSION: "kPa",
    Quantity.ZONE_TENSION: "kPa",
    Quantity.RISE: "kPa a day",
    Quantity.ZONE_RISE: "kPa a day",
    Quantity.CHANNEL: "",
}


@dataclass(frozen=True, slots=True)
class Level:
    """A number that has reached a limit.

    Args:
        quantity: of what: a tension (kPa), a rise from morning to morning (kPa a day), or a channel in its own unit.
        name: of the tensiometer, the zone or the channel (``source/channel``).
        limit: reached at its value.
        above: it is reached from below; else from above.
        deadband: it is left at the limit less (more) this.
        fresh_s: what was said longer ago raises nothing.
        members: of a rise, the tensiometers whose rises count; the middle one of them.
    """

    quantity: Quantity
    name: str
    limit: float
    above: bool
    deadband: float = 0.0
    fresh_s: float = 3600.0
    members: tuple[str, ...] = ()

    @property
    def word(self) -> str:
        """Names the level in what is stored: with another limit it is another level.

        >>> Level(Quantity.TENSION, "ne-60", 2.0, above=False).word
        'tension ne-60 below 2'
        """
        return f"{self.quantity} {self.name} {'above' if self.above else 'below'} {self.limit:g}"

    def holds(self, value: float, held: float, before: bool) -> bool:
        """Whether it holds, given what it was before; it stays as it was within the deadband.

        Args:
            held: the value, or more: what a tensiometer must be taken to read until its fall is explained.

        >>> [Level(Quantity.TENSION, "a", 60.0, True, 5.0).holds(x, x, True) for x in (60.0, 55.1, 55.0)]
        [True, True, False]
        >>> [Level(Quantity.TENSION, "a", 2.0, False, 1.0).holds(x, x, False) for x in (2.1, 2.0)]
        [False, True]
        """
        if self.above:
            return value >= self.limit or (before and not (held < self.limit and held <= self.limit - self.deadband))
        return held <= self.limit or (before and not (value > self.limit and value >= self.limit + self.deadband))


@dataclass(frozen=True, slots=True)
class Presence:
    """That one of these alarms is on, or that none is.

    Args:
        what: in words for evidence: ``air-leak``, ``silent``.
        name: of the tensiometer or source.
        keys: the alarms.
        absent: none of them is on.
    """

    what: str
    name: str
    keys: tuple[AlarmKey, ...]
    absent: bool = False


Term = Union[Level, Presence]  # noqa: UP007  # one name for both


@dataclass(frozen=True, slots=True)
class Rule:
    """An alarm over conditions.

    Args:
        key: the alarm it raises.
        terms: its conditions.
        all_of: all must hold; else one is enough.
        delays: how long.
        priority: of a rule of one's own; ``None``: that of its kind.
        say, respond: what is the matter and what to do, in people's own words.
    """

    key: AlarmKey
    terms: tuple[Term, ...]
    all_of: bool = True
    delays: Delays = AT_ONCE
    priority: Priority | None = None
    say: str = ""
    respond: str = ""
    words: tuple[str, ...] = field(init=False, repr=False, compare=False)
    """Of each term the name of its level among those of all rules; empty where it is none."""

    def __post_init__(self) -> None:
        whose = f"{self.key.kind} {self.key.subject}"
        words = tuple(f"{whose}: {term.word}" if isinstance(term, Level) else "" for term in self.terms)
        object.__setattr__(self, "words", words)

    @property
    def is_own(self) -> bool:
        return self.key.kind is AlarmKind.OWN_RULE
