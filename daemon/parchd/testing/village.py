"""A few invented people, alarms that come and go around them, and what they are told: without engine and database."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.kinds import PRIORITIES, AlarmKind
from parchd.alarms.lifecycle import Happening
from parchd.alarms.register import Register
from parchd.alarms.standing import Act, Transition
from parchd.clock import US_PER_S, from_datetime, to_datetime
from parchd.people.person import DigestTime, Escalation, PeopleSetup, Person, Reach
from parchd.people.quiet import QuietHours
from parchd.people.state import TellingState
from parchd.people.tell import tell
from parchd.people.telling import Telling
from parchd.words import Voice

MINUTE_US = 60 * US_PER_S
HOUR_US = 60 * MINUTE_US
NOON_US = from_datetime(datetime(2026, 6, 3, 12, tzinfo=UTC))
"""A Wednesday; the people of the village live by UTC."""
NIGHT = QuietHours(time(21), time(6), ZoneInfo("UTC"))
MORNING = DigestTime(time(6, 30))


def person(key: str, **changes: Any) -> Person:
    """Somebody with a digest each morning and no quiet hours, unless told otherwise."""
    made = Person(key, key.capitalize(), (Reach("mail", f"{key}@quillmere.example"),), Voice(), digest=MORNING)
    return replace(made, **changes)


def program(key: str = "hook/controller", **changes: Any) -> Person:
    """A recipient without a table of its own, who gets everything as it comes."""
    notifier, _, to = key.partition("/")
    return person(
        key, reach=(Reach(notifier, to),), calm_us=0, digest=None, is_named=False, **changes
    )  # fmt: skip


def people(
    *persons: Person, escalation: Escalation | None = None, zones: Mapping[str, frozenset[str]] | None = None
) -> PeopleSetup:
    """A setup with the usual priorities; ``zones`` by subject."""
    known = zones or {}
    return PeopleSetup(
        {one.key: one for one in persons},
        lambda key: PRIORITIES[key.kind],
        lambda key: known.get(key.subject, frozenset()),
        lambda key: key.kind in (AlarmKind.FROST_RISK, AlarmKind.SILENT_SOURCE),
        escalation,
    )


@dataclass
class Village:
    """Raises and clears alarms by a real register, lets time pass tick by tick, and keeps what is told.

    ``told`` has a line for each message: day and time, person, kind, and what it is about.
    """

    setup: PeopleSetup
    now_us: int = NOON_US
    state: TellingState = field(default_factory=TellingState)
    register: Register = field(default_factory=Register)
    tellings: list[Telling] = field(default_factory=list)
    tick_us: int = MINUTE_US
    is_cut: bool = False
    """Whether each transition is told in a call of its own; else those of one moment are told together."""
    _moment: list[Transition] = field(default_factory=list)

    def raised(self, kind: AlarmKind, subject: str = "zone/north", **evidence: Any) -> AlarmKey:
        key = AlarmKey(kind, subject)
        self.events(AlarmEvent(key, Change.RAISED, self.now_us, self.now_us, 70.0, 60.0, evidence))
        return key

    def cleared(self, key: AlarmKey, **evidence: Any) -> None:
        raised_us = self.register.standing(key).raised_us
        assert raised_us is not None
        self.events(AlarmEvent(key, Change.CLEARED, self.now_us, raised_us, 20.0, 60.0, evidence))

    def events(self, *events: AlarmEvent) -> None:
        self.take(self.register.take(events, self.now_us))

    def act(self, happening: Happening, key: AlarmKey, hours: float | None = None) -> None:
        until_us = None if hours is None else self.now_us + round(hours * HOUR_US)
        self.take(self.register.act(Act(happening, key, by="Mara", why="why not", until_us=until_us), self.now_us))

    def suppress(self, *keys: AlarmKey) -> None:
        self.take(self.register.suppress(dict.fromkeys(keys, "something else explains it"), self.now_us))

    steps: list[Transition] = field(default_factory=list)

    def take(self, steps: Sequence[Transition]) -> None:
        """Keep transitions until the moment is over."""
        self._moment += steps
        self.steps += steps

    def end_moment(self) -> None:
        """Tell what happened in this moment."""
        calls = [[step] for step in self._moment] if self.is_cut else [self._moment]
        self._moment = []
        for steps in calls or [[]]:
            self.state, told = tell(self.setup, self.state, steps, self.now_us)
            self.tellings += told

    def wait(self, minutes: float = 0, *, hours: float = 0) -> None:
        """Let time pass, and the register do what time does."""
        end_us = self.now_us + round(minutes * MINUTE_US + hours * HOUR_US)
        self.end_moment()
        while self.now_us < end_us:
            self.now_us = min(end_us, self.now_us + self.tick_us)
            self.take(self.register.tick(self.now_us))
            self.end_moment()

    def wait_until(self, hour: int, minute: int = 0) -> None:
        """Let time pass until the clock shows that time next."""
        now = to_datetime(self.now_us)
        then = now.replace(hour=hour, minute=minute, second=0, microsecond=0)
        then += timedelta(days=then <= now)
        self.wait((then - now) / timedelta(minutes=1))

    @property
    def told(self) -> list[str]:
        return [line(telling) for telling in self.tellings]

    def heard(self, key: str) -> list[str]:
        """What one person was told."""
        return [line(telling) for telling in self.tellings if telling.person.key == key]


def line(telling: Telling) -> str:
    """One message in short."""
    when = to_datetime(telling.time_us).strftime("%d %H:%M")
    about = ", ".join(
        f"{item.key.kind}{' over' if item.is_over else ''}" + (f" {item.kind}" if item.kind != telling.kind else "")
        for item in telling.items
    )
    return f"{when} {telling.person.key} {telling.kind}: {about}".rstrip(": ")
