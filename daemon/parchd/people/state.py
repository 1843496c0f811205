"""What must be remembered to tell people: who was told of what, and what waits for whom. All of it is durable.

Nothing here lies in the future: what waits knows since when, so a clock that is set back holds nothing up.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.standing import Transition
from parchd.contract import NoticeKind, Priority

TOLD_AGAIN = (NoticeKind.RAISED, NoticeKind.REPEATED, NoticeKind.REMINDER, NoticeKind.ESCALATED)
"""Kinds of messages that ask for a response."""


class Lane(StrEnum):
    """How something waits to be told. The words are stored: never change one."""

    EACH = "each"
    """In a message of its own, as soon as it is not quiet: to people that nothing is gathered for."""
    NOW = "now"
    """At once."""
    OWN = "own"
    """The end of what was told at once, in a message of its own."""
    CALM = "calm"
    """The first at once, further ones together."""
    ALONG = "along"
    """With the next message that gathers, or the digest; it sends none by itself."""
    DIGEST = "digest"
    """With the digest."""


@dataclass(frozen=True, slots=True)
class Item:
    """Something that one person is to be told.

    Args:
        kind: raised, cleared, repeated, reminder or escalated.
        step: the newest transition about it.
        event: what the judge said; ``None``: nothing is known of it any more.
        thread: of the messages about it.
        since_us: when it began to wait.
        is_over: nothing of it needs a response any more.
        times: so often it was raised meanwhile.
        comes_and_goes: it was raised so often that it is told no more until it has been calm for a day.
        instead_of: key of the person for whom the reader stands in.
        unanswered: keys of those who were told before and did not answer.
        despite: nobody else can be reached, so it is told though the reader is away or has quiet hours.
    """

    kind: NoticeKind
    step: Transition
    event: AlarmEvent | None
    priority: Priority
    lane: Lane
    thread: str
    since_us: int
    is_over: bool = False
    times: int = 1
    comes_and_goes: bool = False
    instead_of: str = ""
    unanswered: tuple[str, ...] = ()
    despite: bool = False

    @property
    def key(self) -> AlarmKey:
        return self.step.key

    @property
    def asks(self) -> bool:
        """Whether it asks for a response."""
        return self.kind in TOLD_AGAIN and not self.is_over

    @property
    def urgency(self) -> tuple[int, int, int, str]:
        """Rank in a list, the most urgent first: what asks for a response, by priority, the oldest first."""
        return -self.asks, -self.priority, self.since_us, self.thread


@dataclass(frozen=True, slots=True)
class Flood:
    """More alarms than anybody can read.

    Args:
        start_us: when it began.
        told_us: when its last summary went out; ``None``: none did.
        alarms: how many there were, those before the first summary among them.
    """

    start_us: int
    told_us: int | None = None
    alarms: int = 0


@dataclass(frozen=True, slots=True)
class PersonState:
    """What is remembered of one person.

    Args:
        items: what waits, in the order of `Item.since_us`.
        calm_since_us: when the last message that was not urgent went out; ``None``: none did.
        day, count: how many such messages went out on that local day.
        digest_day: local date of the last digest; ``None``: there was none.
        gathers: what waits in the calm lane has found it closed, so that it is told together.
        is_spent: it found that the day has no message left.
        recent_us: alarms within the last ten minutes.
        flood: ``None``: there is none.
    """

    items: tuple[Item, ...] = ()
    calm_since_us: int | None = None
    day: str = ""
    count: int = 0
    digest_day: str | None = None
    gathers: bool = False
    is_spent: bool = False
    recent_us: tuple[int, ...] = ()
    flood: Flood | None = None


@dataclass(frozen=True, slots=True)
class Episode:
    """What was told of an alarm that is not over.

    Args:
        thread: of the messages about it.
        event: what the judge said when it was raised; ``None``: nobody knows any more.
        told: keys of persons who were told.
        asked: those among them who were told since it was raised, or repeated: whoever may answer now.
        alone: those among them who were told in a message about nothing else.
        since_us: when somebody was last told, or it was raised; the next person is told so much later.
        is_open: it waits to be acknowledged.
        is_refined: another finding explains it better and takes its place.
        turn: how many of the list for escalation had theirs since then.
        comes_and_goes: it was told as one that does.
    """

    key: AlarmKey
    raised_us: int
    priority: Priority
    thread: str
    event: AlarmEvent | None
    told: tuple[str, ...] = ()
    asked: tuple[str, ...] = ()
    alone: tuple[str, ...] = ()
    since_us: int = 0
    is_open: bool = False
    is_refined: bool = False
    turn: int = 0
    comes_and_goes: bool = False


@dataclass(frozen=True, slots=True)
class TellingState:
    """All that is remembered.

    Args:
        persons: by key; somebody new has none.
        episodes: by alarm.
        raised_us: when each alarm was raised within the last day.
    """

    persons: Mapping[str, PersonState] = field(default_factory=dict)
    episodes: Mapping[AlarmKey, Episode] = field(default_factory=dict)
    raised_us: Mapping[AlarmKey, tuple[int, ...]] = field(default_factory=dict)
