"""Counting in windows of time, and shares of sorted numbers."""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from parchd.clock import US_PER_S


@dataclass(frozen=True, slots=True)
class Flood:
    """More alarms than anybody can read.

    Args:
        start_us: its first alarm.
        end_us: when few enough were left.
        alarms: how many came in it.
    """

    start_us: int
    end_us: int
    alarms: int


def most_within(times_us: Sequence[int], seconds: float) -> int:
    """The most that came within a span of this length; ``times_us`` rises.

    >>> most_within([0, 10 * US_PER_S, 60 * US_PER_S], 60), most_within([], 60)
    (2, 0)
    """
    window: deque[int] = deque()
    most = 0
    for time_us in times_us:
        window.append(time_us)
        _forget(window, time_us, seconds)
        most = max(most, len(window))
    return most


def floods(times_us: Sequence[int], begins: int, ends: int, seconds: float) -> list[Flood]:
    """Find floods: more than ``begins`` within so many seconds, until there are fewer than ``ends``.

    >>> minute = 60 * US_PER_S
    >>> floods([n * minute for n in range(12)], begins=10, ends=5, seconds=600)
    []
    >>> [flood.alarms for flood in floods([n * 30 * US_PER_S for n in range(12)], begins=10, ends=5, seconds=600)]
    [12]
    """
    found: list[Flood] = []
    window: deque[int] = deque()
    members: list[int] = []
    for time_us in times_us:
        if members and time_us >= (end_us := _end_us(members, ends, seconds)):
            found.append(Flood(members[0], end_us, len(members)))
            members = []
        window.append(time_us)
        _forget(window, time_us, seconds)
        if members:
            members.append(time_us)
        elif len(window) > begins:
            members = list(window)
    if members:
        found.append(Flood(members[0], _end_us(members, ends, seconds), len(members)))
    return found


def quantile(rising: Sequence[float], share: float) -> float | None:
    """The smallest of the numbers that this share of them does not exceed; ``None``: there are none.

    >>> quantile([1.0, 2.0, 3.0, 4.0], 0.5), quantile([1.0, 2.0, 3.0, 4.0], 0.9), quantile([], 0.5)
    (2.0, 4.0, None)
    """
    return rising[max(0, math.ceil(share * len(rising) - 1e-9) - 1)] if rising else None


def _forget(window: deque[int], now_us: int, seconds: float) -> None:
    """Take out what is as old as the window is long, or older."""
    while now_us - window[0] >= seconds * US_PER_S:
        window.popleft()


def _end_us(members: Sequence[int], ends: int, seconds: float) -> int:
    """When fewer than ``ends`` of them are young enough."""
    return members[-ends] + round(seconds * US_PER_S)
