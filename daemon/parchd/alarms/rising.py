"""How fast the ground dries, from morning to morning.

The same hours of each day are compared, so that the daily swing of soil and instrument drops out, and the slope is the
median of the slopes between all pairs of days (Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63): one morning that is wrong
changes little.
"""

from collections.abc import Callable, Sequence
from itertools import combinations
from statistics import median
from typing import NamedTuple
from zoneinfo import ZoneInfo

from parchd.alarms.rules import DecisionWindow
from parchd.alarms.window import standard_offset_s
from parchd.clock import US_PER_S

DAYS = 5
"""So many mornings count: of the ten slopes between them one wild morning spoils four, and not the middle one."""
LEAST_DAYS = 3
WETTED_KPA = 2.0
"""A fall from one morning to the next that is no noise: it was watered, and what was before counts no more."""
_HOUR_US = 3600 * US_PER_S
_DAY_S = 86_400


class Mark(NamedTuple):
    """The first deciding reading of an hour: hour since 1970 UTC, and tension."""

    hour: int
    kpa: float


Marks = tuple[Mark, ...]
Day = Callable[[int], int]
"""The day that an hour belongs to, counted."""


def compile_day(window: DecisionWindow) -> Day:
    """Make "which morning is this hour of?"; local standard time, a window over midnight belongs to where it begins.

    >>> from datetime import time
    >>> day = compile_day(DecisionWindow(time(22), time(4), "UTC"))
    >>> day(21), day(22), day(27), day(46)
    (-1, 0, 0, 1)
    """
    zone = ZoneInfo(window.time_zone)
    start_s = window.start.hour * 3600 + window.start.minute * 60

    def day(hour: int) -> int:
        return (hour * 3600 + standard_offset_s(zone, hour) - start_s) // _DAY_S

    return day


def marked(marks: Marks, time_us: int, kpa: float) -> Marks:
    """Add a reading if it is the first of its hour; the same marks if it is not. What is too old is dropped.

    >>> marked((), 7200_000_000, 5.0)
    (Mark(hour=2, kpa=5.0),)
    >>> marked(marked((), 7200_000_000, 5.0), 7201_000_000, 9.0)
    (Mark(hour=2, kpa=5.0),)
    """
    hour = time_us // _HOUR_US
    if marks and hour <= marks[-1].hour:
        return marks
    oldest = hour - 24 * (DAYS + 1)
    return (*(mark for mark in marks if mark.hour >= oldest), Mark(hour, kpa))


def rise_kpa_per_day(marks: Marks, day: Day) -> float | None:
    """How fast tension rises, kPa a day; ``None``: that cannot be said yet.

    On the first morning after a fall it is the fall; on the second nothing can be said.

    >>> marks = tuple(Mark(24 * n + 6, kpa) for n, kpa in enumerate((40.0, 10.0, 13.0, 16.0, 19.0)))
    >>> [rise_kpa_per_day(marks[:n], lambda hour: hour // 24) for n in range(1, 6)]
    [None, -30.0, None, 3.0, 3.0]
    """
    mornings = _mornings(marks, day)
    if len(mornings) < 2:
        return None
    dry = _since_water(mornings)
    if len(dry) == 1:
        (before, earlier_kpa), (newest, kpa) = mornings[-2:]
        return (kpa - earlier_kpa) / (newest - before)
    if len(dry) < LEAST_DAYS:
        return None
    return median((b_kpa - a_kpa) / (b - a) for (a, a_kpa), (b, b_kpa) in combinations(dry, 2))


def _mornings(marks: Marks, day: Day) -> list[tuple[int, float]]:
    """The last days, each with the middle of its marks."""
    by_day: dict[int, list[float]] = {}
    for mark in marks:
        by_day.setdefault(day(mark.hour), []).append(mark.kpa)
    newest = max(by_day, default=0)
    return [(number, median(kpas)) for number, kpas in sorted(by_day.items()) if number > newest - DAYS]


def _since_water(mornings: Sequence[tuple[int, float]]) -> Sequence[tuple[int, float]]:
    """Those after the last fall."""
    for position in range(len(mornings) - 1, 0, -1):
        if mornings[position][1] <= mornings[position - 1][1] - WETTED_KPA:
            return mornings[position:]
    return mornings
