"""The only module that reads the time."""

import time
from datetime import UTC, datetime
from typing import Protocol

US_PER_S = 1_000_000


class Clock(Protocol):
    """Where time comes from. ``parchd.testing.FakeClock`` is the one for tests."""

    def now_us(self) -> int:
        """The time of day, integer microseconds since 1970-01-01 UTC. May step."""
        ...

    def monotonic_s(self) -> float:
        """Seconds that never step; only differences mean anything. For time-outs and pauses."""
        ...


class SystemClock:
    """The machine's clock."""

    def now_us(self) -> int:
        return time.time_ns() // 1000

    def monotonic_s(self) -> float:
        return time.monotonic()


class ScaledClock:
    """A clock that starts at a chosen time and runs faster than the machine's; time-outs stay in real seconds."""

    def __init__(self, start_us: int, speed: float) -> None:
        self._start_us = start_us
        self._speed = speed
        self._origin_s = time.monotonic()

    def now_us(self) -> int:
        return self._start_us + round((time.monotonic() - self._origin_s) * self._speed * US_PER_S)

    def monotonic_s(self) -> float:
        return time.monotonic()


def to_datetime(time_us: int) -> datetime:
    """Turn microseconds since 1970 into an aware UTC datetime.

    >>> to_datetime(1_500_000).isoformat()
    '1970-01-01T00:00:01.500000+00:00'
    """
    seconds, rest = divmod(time_us, US_PER_S)
    return datetime.fromtimestamp(seconds, UTC).replace(microsecond=rest)


def from_datetime(moment: datetime) -> int:
    """Turn an aware datetime into microseconds since 1970.

    >>> from_datetime(datetime(1970, 1, 1, 0, 0, 2, tzinfo=UTC))
    2000000

    Raises:
        ValueError: the datetime has no time zone.
    """
    if moment.tzinfo is None:
        raise ValueError("a datetime without a time zone names no moment")
    delta = moment - datetime(1970, 1, 1, tzinfo=UTC)
    return (delta.days * 86_400 + delta.seconds) * US_PER_S + delta.microseconds
