"""Hours in which a message waits unless it is urgent."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from parchd.clock import from_datetime, to_datetime


@dataclass(frozen=True, slots=True)
class QuietHours:
    """Every night from ``start`` to ``end``, local clock time with daylight saving.

    The start belongs to it, the end does not. An ``end`` before ``start`` is on the next day. A time that the change
    to summer time leaves out is taken with the offset before the change, one that comes twice is its first (as in
    RFC 5545, section 3.3.5).

    Raises:
        ValueError: both times are the same, or they carry a time zone of their own.

    >>> night = QuietHours(time(22), time(6), ZoneInfo("Europe/Berlin"))
    >>> from datetime import UTC
    >>> end_us = night.end_us(from_datetime(datetime(2026, 7, 1, 21, tzinfo=UTC)))
    >>> to_datetime(end_us).isoformat()
    '2026-07-02T04:00:00+00:00'
    >>> night.end_us(end_us) is None
    True
    """

    start: time
    end: time
    zone: ZoneInfo

    def __post_init__(self) -> None:
        if self.start == self.end:
            raise ValueError(f"quiet hours from {self.start} to {self.end} have no length")
        if self.start.tzinfo is not None or self.end.tzinfo is not None:
            raise ValueError("quiet hours are local times; their time zone stands beside them")

    def end_us(self, now_us: int) -> int | None:
        """When the quiet hours that hold ``now_us`` end, microseconds UTC; ``None``: it is not quiet."""
        ends = [end for start, end in self._spans_near(now_us) if start <= now_us < end]
        return max(ends, default=None)

    def _spans_near(self, now_us: int) -> Iterator[tuple[int, int]]:
        today = to_datetime(now_us).astimezone(self.zone).date()
        for day in (today - timedelta(days=1), today, today + timedelta(days=1)):
            next_day = day if self.end > self.start else day + timedelta(days=1)
            yield self._moment_us(day, self.start), self._moment_us(next_day, self.end)

    def _moment_us(self, day: date, wall: time) -> int:
        return from_datetime(datetime.combine(day, wall.replace(fold=0), tzinfo=self.zone))
