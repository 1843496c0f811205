"""A simulated year lived through by an engine and the people of the farm, who read, answer and mend."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, time
from zoneinfo import ZoneInfo

from parchd.alarms.rules import DecisionWindow, Delays, IrrigationRule
from parchd.app.messages import Ask, Delivery, Outcome
from parchd.app.requests import Acknowledge, RecordService
from parchd.app.setup import Route
from parchd.clock import US_PER_S, to_datetime
from parchd.contract import Notice, Priority
from parchd.diagnosis.kinds import CONSEQUENCES, Trust
from parchd.people.person import DigestTime, Escalation, Person, Reach
from parchd.people.quiet import QuietHours
from parchd.simulator.season import Season
from parchd.store.dispatch import DispatchRules
from parchd.store.outbox import next_letter
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.season import arrivals, season_setup
from parchd.words import Voice

MINUTE_US = 60 * US_PER_S
ANSWER_US = 25 * MINUTE_US
"""Somebody who is awake acknowledges a message after so long."""
PLAN_KPA, NOW_KPA = 20.0, 25.0


@dataclass(frozen=True, slots=True)
class Letter:
    """A message that reached somebody."""

    time_us: int
    recipient: str
    notice: Notice

    def day(self, zone: ZoneInfo) -> date:
        return to_datetime(self.time_us).astimezone(zone).date()


@dataclass(slots=True)
class Lived:
    """What a year left.

    Args:
        letters: in order.
        steps: of alarms: kind, subject, time, happening, state after, raised_us.
        tellings: number of messages by person and kind.
    """

    season: Season
    letters: list[Letter] = field(default_factory=list)
    steps: list[tuple[str, str, int, str, str, int]] = field(default_factory=list)
    tellings: Counter[tuple[str, str]] = field(default_factory=Counter)

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.season.setup.site.time_zone)

    def per_day(self, recipient: str, *, emergencies: bool) -> Counter[date]:
        """Messages on each local day; without those that say: act now."""
        return Counter(
            letter.day(self.zone)
            for letter in self.letters
            if letter.recipient == recipient and (emergencies or letter.notice.priority is not Priority.HIGH)
        )


def grower(time_zone: str) -> Person:
    """Somebody who looks after everything, sleeps at night and reads a digest in the morning."""
    night = QuietHours(time(21), time(6), ZoneInfo(time_zone))
    return Person(
        "mara", "Mara", (Reach("mail", "mara@quillmere.example"),), Voice(time_zone=time_zone),
        digest=DigestTime(time(7, 30)), quiet=night,
    )  # fmt: skip


def deputy(time_zone: str) -> Person:
    """Somebody who is told only what nobody answers."""
    return Person(
        "jon", "Jon", (Reach("mail", "jon@quillmere.example"),), Voice(time_zone=time_zone),
        roles=frozenset(), quiet=QuietHours(time(21), time(6), ZoneInfo(time_zone)),
    )  # fmt: skip


def live(season: Season) -> Lived:
    """Let the year pass minute by minute. Tubes are mended when their faults end, and the work is written down."""
    lived = Lived(season)
    zone = season.setup.site.time_zone
    setup = season_setup(
        season, *_rules(season), routes=(Route("mail", (), "mark 1", DispatchRules(30)),),
        people=[grower(zone), deputy(zone)], escalation=Escalation(("mara", "jon")),
    )  # fmt: skip
    with engine_on(MEMORY, setup, season.start_us) as bench:
        post = _Post(bench, lived)
        works = list(_works(season))
        coming = arrivals(season)
        arrival = next(coming, None)
        for now_us in range(season.start_us + MINUTE_US, season.end_us, MINUTE_US):
            while arrival is not None and arrival.received_us <= now_us:
                bench.turn(arrival.received_us, arrival.batch)
                arrival = next(coming, None)
            while works and works[0].end_us <= now_us:
                bench.turn(now_us, Ask(works.pop(0), _heard))
            bench.tick(now_us)
            post.deliver(now_us)
        lived.steps = bench.rows(
            "SELECT kind, subject, time_us, happening, after, raised_us FROM alarm_transition ORDER BY id"
        )
        lived.tellings.update(bench.rows("SELECT person, kind FROM telling"))
    return lived


def _heard(_answer: object) -> None:
    """Nobody waits for the answer."""


class _Post:
    """Carries messages at once, and lets people who are awake acknowledge them."""

    def __init__(self, bench: Bench, lived: Lived) -> None:
        self._bench, self._lived = bench, lived
        self._answer_us: int | None = None

    def deliver(self, now_us: int) -> None:
        while (letter := next_letter(self._bench.connection, "mail", now_us)) is not None:
            self._lived.letters.append(Letter(now_us, letter.recipient, letter.notice))
            self._bench.turn(now_us, Delivery("mail", letter.row_id, letter.attempts, Outcome.SENT))
            self._answer_us = self._answer_us or now_us + ANSWER_US
        if self._answer_us is not None and now_us >= self._answer_us and self._is_awake(now_us):
            self._bench.turn(now_us, Ask(Acknowledge(by="Mara"), _heard))
            self._answer_us = None

    def _is_awake(self, now_us: int) -> bool:
        return 6 <= to_datetime(now_us).astimezone(self._lived.zone).hour < 21


def _rules(season: Season) -> Iterator[IrrigationRule]:
    """Each zone is judged in the morning by the shallow tensiometers of its stations."""
    site = season.setup.site
    names: dict[str, list[str]] = {}
    for one in season.setup.tensiometers:
        if one.place.depth_m < 0.45:
            names.setdefault(one.place.zone, []).append(one.place.tensiometer)
    window = DecisionWindow(time(5), time(8), site.time_zone)
    for zone, members in names.items():
        yield IrrigationRule(
            f"zone/{zone}", tuple(members), PLAN_KPA, NOW_KPA, 3.0, Delays(), window, min_trusted=2
        )  # fmt: skip


def _works(season: Season) -> Iterator[RecordService]:
    """What people write down: each mended tube, and each round through the field; by time."""
    mended = [
        RecordService(
            tensiometer=fault.subject.removeprefix("tensiometer/"), work="refill", begin_us=fault.end_us,
            end_us=fault.end_us + 3600 * US_PER_S, by="Mara",
        )
        for fault in season.faults
        if fault.end_us is not None and CONSEQUENCES[fault.kind].trust is Trust.SERVICE
    ]  # fmt: skip
    rounds = [
        RecordService(tensiometer=name, work="refill", begin_us=one.begin_us, end_us=one.end_us, by="Mara")
        for one in season.services
        for name in one.tensiometers
    ]
    yield from sorted((*mended, *rounds), key=lambda work: work.end_us)
