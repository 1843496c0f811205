"""Marks along an axis of local time: full hours, midnights, Mondays, firsts of a month."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from parchd.clock import from_datetime, to_datetime

HOUR_US = 3_600_000_000
_HOURS = (1, 2, 3, 6, 12)
_DAYS = (1, 2, 4, 7, 14)
_MONTHS = (1, 2, 3, 6, 12)
_MONDAY = date(1970, 1, 5).toordinal()


@dataclass(frozen=True, slots=True)
class Tick:
    """A moment with its label."""

    time_us: int
    label: str


def time_ticks(start_us: int, end_us: int, zone: ZoneInfo, most: int) -> list[Tick]:
    """Choose round local times within a span, at most so many.

    >>> [tick.label for tick in time_ticks(0, 24 * HOUR_US, ZoneInfo("UTC"), 6)]
    ['1 Jan', '06:00', '12:00', '18:00', '2 Jan']
    """
    hours = (end_us - start_us) / HOUR_US
    first, last = (to_datetime(us).astimezone(zone) for us in (start_us, end_us))
    if (step := next((n for n in _HOURS if hours / n < most), None)) is not None:
        found = [Tick(us, _hour(us, zone)) for us in _hourly(first, last, step)]
    elif (step := next((n for n in _DAYS if hours / 24 / n < most), None)) is not None:
        found = [_day(day, zone) for day in _daily(first.date(), last.date(), step)]
    else:
        step = next((n for n in _MONTHS if hours / 730 / n < most), _MONTHS[-1])
        found = [_month(day, zone) for day in _monthly(first.date(), last.date(), step)]
    return [tick for tick in found if start_us <= tick.time_us <= end_us]


def midnights(start_us: int, end_us: int, zone: ZoneInfo) -> list[int]:
    """Begin of each local day within a span."""
    first, last = (to_datetime(us).astimezone(zone).date() for us in (start_us, end_us))
    found = (_midnight(day, zone) for day in _daily(first, last, 1))
    return [us for us in found if start_us <= us <= end_us]


def _hourly(first: datetime, last: datetime, step: int) -> Iterator[int]:
    """Hours of the wall clock; one that the change to summer time skips is left out."""
    hour = first.replace(tzinfo=None, minute=0, second=0, microsecond=0)
    end = last.replace(tzinfo=None)
    while hour <= end:
        local = hour.replace(tzinfo=first.tzinfo)
        us = from_datetime(local)
        if hour.hour % step == 0 and to_datetime(us).astimezone(first.tzinfo).hour == hour.hour:
            yield us
        hour += timedelta(hours=1)


def _hour(us: int, zone: ZoneInfo) -> str:
    local = to_datetime(us).astimezone(zone)
    return f"{local:%H:%M}" if local.hour else f"{local.day} {local:%b}"


def _daily(first: date, last: date, step: int) -> Iterator[date]:
    for ordinal in range(first.toordinal(), last.toordinal() + 1):
        if (ordinal - _MONDAY) % step == 0:
            yield date.fromordinal(ordinal)


def _day(day: date, zone: ZoneInfo) -> Tick:
    return Tick(_midnight(day, zone), f"{day.day} {day:%b}")


def _monthly(first: date, last: date, step: int) -> Iterator[date]:
    for number in range(first.year * 12 + first.month - 1, last.year * 12 + last.month):
        if number % step == 0:
            yield date(number // 12, number % 12 + 1, 1)


def _month(day: date, zone: ZoneInfo) -> Tick:
    return Tick(_midnight(day, zone), f"{day:%b}" if day.month > 1 else f"{day.year}")


def _midnight(day: date, zone: ZoneInfo) -> int:
    return from_datetime(datetime(day.year, day.month, day.day, tzinfo=zone))
