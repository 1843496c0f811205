"""A month of alarms made by hand, for reports: every kind of nuisance is in it, and every way to answer."""

from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.kinds import PRIORITIES, AlarmKind
from parchd.alarms.lifecycle import Happening
from parchd.alarms.register import Register
from parchd.alarms.standing import Act, Transition
from parchd.clock import US_PER_S, from_datetime
from parchd.contract import Priority
from parchd.report.figures import Figures, Message, Span, figures

ZONE = ZoneInfo("Europe/Lisbon")
NORTH = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")
SILENT = AlarmKey(AlarmKind.SILENT, "tensiometer/north-1-30")
LOOSE = AlarmKey(AlarmKind.ELECTRICAL, "tensiometer/creek-2-60")
DRIFT = AlarmKey(AlarmKind.ZERO_DRIFT, "tensiometer/creek-1-30")
SHELVED = AlarmKey(AlarmKind.NOISY_SUPPLY, "source/gateway")


def at(day: int, hour: float = 0.0) -> int:
    """A moment of August 2026, local time."""
    minutes = round(hour * 60)
    return from_datetime(datetime(2026, 8, day, minutes // 60, minutes % 60, tzinfo=ZONE))


SPAN = Span(at(1), from_datetime(datetime(2026, 9, 1, tzinfo=ZONE)), ZONE)


class Month:
    """Alarms that come, are answered and go."""

    def __init__(self) -> None:
        self.register = Register()
        self.steps: list[Transition] = []

    def comes(self, key: AlarmKey, time_us: int) -> None:
        self.steps += self.register.take([AlarmEvent(key, Change.RAISED, time_us, time_us)], time_us)

    def goes(self, key: AlarmKey, time_us: int) -> None:
        raised_us = self.register.standing(key).raised_us or time_us
        self.steps += self.register.take([AlarmEvent(key, Change.CLEARED, time_us, raised_us)], time_us)

    def is_answered(self, key: AlarmKey, time_us: int) -> None:
        self.steps += self.register.act(Act(Happening.ACKNOWLEDGED, key, by="Ines"), time_us)

    def is_shelved(self, key: AlarmKey, time_us: int, hours: float) -> None:
        until_us = time_us + round(hours * 3600 * US_PER_S)
        self.steps += self.register.act(
            Act(Happening.SHELVED, key, by="Ines", why="we know", until_us=until_us), time_us
        )


def a_month() -> list[Transition]:
    """The history of August 2026."""
    month = Month()
    for day in (
        2,
        6,
        10,
        14,
        18,
        22,
        26,
        30,
    ):  # thirsty for a day and a half each time, answered after one to eight hours
        month.comes(NORTH, at(day, 6))
        month.is_answered(NORTH, at(day, 6 + day / 4))
        month.goes(NORTH, at(day + 1, 18))
    month.comes(SILENT, at(3, 12))
    month.goes(SILENT, at(7, 12))  # four days, and nobody answered
    month.is_answered(SILENT, at(7, 13))
    for n in range(5):  # a loose wire: five times within ten minutes
        month.comes(LOOSE, at(20, 9) + n * 120 * US_PER_S)
        month.goes(LOOSE, at(20, 9) + (n * 120 + 60) * US_PER_S)
    for n in range(3):  # and three times within a minute
        month.comes(LOOSE, at(21, 9) + n * 20 * US_PER_S)
        month.goes(LOOSE, at(21, 9) + (n * 20 + 10) * US_PER_S)
    month.comes(SHELVED, at(24, 8))
    month.is_shelved(SHELVED, at(24, 8.5), hours=24 * 6)
    month.goes(SHELVED, at(24, 9))
    month.comes(SHELVED, at(25, 9))  # nobody is told
    month.goes(SHELVED, at(25, 10))
    for n in range(12):  # a broker comes back: twelve at once
        month.comes(AlarmKey(AlarmKind.SILENT, f"tensiometer/creek-{n}"), at(27, 14) + n * 20 * US_PER_S)
    for n in range(12):
        month.goes(AlarmKey(AlarmKind.SILENT, f"tensiometer/creek-{n}"), at(27, 16))
    month.comes(DRIFT, at(29, 10))  # still on
    return sorted(month.steps, key=lambda step: step.time_us)


def some_messages() -> Iterator[Message]:
    """What two people were sent."""
    for day in range(1, 32):
        for n in range(1 + (day % 9 == 0) * 3):
            yield Message("anne", at(day, 7 + n))
    for day in (2, 10, 18, 27):
        yield Message("controller/valve controller", at(day, 8))


def priority(key: AlarmKey) -> Priority:
    return PRIORITIES[key.kind]


def a_report() -> Figures:
    """The figures of that month."""
    return figures(a_month(), list(some_messages()), SPAN, priority, known_since_us=at(1))
